package cli

import (
	"fmt"
	"strings"
	"sync/atomic"
	"time"
)

// patience is how long a person waits without being told that work goes on.
const patience = 500 * time.Millisecond

// working tells a person at a terminal what is being done once it takes longer than patience; state, which
// may be nil, adds how far it is. The returned function takes the line away again.
func (a *app) working(what string, state func() string) (done func()) {
	if !a.ErrTerminal || a.quiet {
		return func() {}
	}
	stop, stopped := make(chan struct{}), make(chan struct{})
	start := time.Now()
	go func() {
		defer close(stopped)
		shown := 0
		wait := time.NewTimer(patience)
		defer wait.Stop()
		for {
			select {
			case <-stop:
				if shown > 0 {
					fmt.Fprintf(a.Err, "\r%s\r", strings.Repeat(" ", shown))
				}
				return
			case <-wait.C:
				line := fmt.Sprintf("%s, %.1f s", what, time.Since(start).Seconds())
				if state != nil {
					line += ", " + state()
				}
				fmt.Fprintf(a.Err, "\r%-*s", shown, line)
				shown = max(shown, len(line))
				wait.Reset(patience / 2)
			}
		}
	}()
	return func() {
		close(stop)
		<-stopped
	}
}

// counting is working that says in the format how many of all are done, as step is told.
func (a *app) counting(what, format string) (step func(done, all int), done func()) {
	var n, all atomic.Int64
	return func(k, of int) { n.Store(int64(k)); all.Store(int64(of)) },
		a.working(what, func() string { return fmt.Sprintf(format, n.Load(), all.Load()) })
}
