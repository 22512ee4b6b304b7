// Command carryover takes a rider's position from one bike to another.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime/debug"

	"carryover/internal/cli"
)

func main() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400) // most commands are over before a collection is worth its while
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends it at once
	code := cli.Main(ctx, os.Args[1:], cli.System())
	stop()
	os.Exit(code)
}
