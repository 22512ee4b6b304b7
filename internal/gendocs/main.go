// Command gendocs writes carryover's manual pages, one per command, into a directory:
//
//	go run ./internal/gendocs man/man1
//
// They are made at release and not kept. SOURCE_DATE_EPOCH sets their date.
package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra/doc"

	"carryover/internal/cli"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: gendocs DIR")
		os.Exit(2)
	}
	if err := write(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "gendocs:", err)
		os.Exit(1)
	}
}

// write writes the pages into dir, which it makes.
func write(dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	root := cli.Command()
	root.DisableAutoGenTag = true
	return doc.GenManTree(root, &doc.GenManHeader{Title: "CARRYOVER", Section: "1", Source: "carryover", Manual: "carryover manual"}, dir)
}
