package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/bikefile"
	"carryover/internal/diag"
	"carryover/internal/questions"
	"carryover/internal/words"
)

func (a *app) newCommand() *cobra.Command {
	var kinds []*cobra.Command
	for _, kind := range questions.Kinds {
		kinds = append(kinds, &cobra.Command{
			Use:   kind + " FILE",
			Short: "Ask for a " + kind + " and write its file",
			Long: "Asks for what you know about a " + kind + ", checks each answer as it comes, and writes FILE, which must not be\n" +
				"there yet. Answers may come from a pipe, one a line. Ctrl-C, or the end of the answers, keeps what\n" +
				"was answered; comments in the file say what is missing or what the readings leave open, and the exit\n" +
				"code is 1 until nothing is.",
			Example: "  carryover new " + kind + " my-" + kind + ".toml",
			Args:    exactly(1),
			RunE: func(cmd *cobra.Command, args []string) error {
				return a.askFile(cmd.Context(), kind, args[0])
			},
		})
	}
	return group("new", "Ask for a bike, a rider or a part and write its file", "  carryover new bike my-bike.toml", kinds...)
}

func (a *app) askFile(ctx context.Context, kind, path string) error {
	if err := taken(path, "nothing was asked"); err != nil {
		return err
	}
	if dir := filepath.Dir(path); dir != "." {
		if info, err := os.Stat(dir); err != nil || !info.IsDir() {
			return fmt.Errorf("%s is no directory; nothing was asked", diag.Visible(dir))
		}
	}
	lib, err := a.library()
	if err != nil {
		return err
	}
	lines := readLines(ctx, a.In)
	result := questions.Run(kind, path, bikefile.Folder{Dir: filepath.Dir(path)}, lib, questions.Conversation{
		Ask: func(question string) (string, bool) {
			fmt.Fprint(a.Err, question)
			select {
			case line, ok := <-lines:
				if !a.InTerminal { // a terminal echoes the answer itself
					fmt.Fprintln(a.Err, diag.Visible(line))
				}
				return line, ok
			case <-ctx.Done():
				fmt.Fprintln(a.Err)
				return "", false
			}
		},
		Say: func(text string) { fmt.Fprintln(a.Err, words.Wrap(text, a.width())) },
	})
	if result.Answered == 0 {
		return errors.New("nothing was answered; no file was written")
	}
	if err := newFile(path, result.Source); err != nil {
		return fmt.Errorf("cannot write %s: %w", path, plainPathError(err))
	}
	fmt.Fprintf(a.Out, "wrote %s\n", diag.Visible(path))
	var lacks []string
	if len(result.Missing) > 0 {
		lacks = append(lacks, "still missing: "+strings.Join(result.Missing, ", "))
	}
	if len(result.Open) > 0 {
		lacks = append(lacks, "the readings leave open: "+strings.Join(result.Open, ", "))
	}
	if len(lacks) > 0 {
		return errors.New(strings.Join(lacks, "\n"))
	}
	if ctx.Err() != nil {
		return errors.New("stopped; what was answered is kept")
	}
	return nil
}

// readLines passes on the lines of r until it ends or ctx is done. A read that waits cannot be stopped, so it is
// left behind.
func readLines(ctx context.Context, r io.Reader) <-chan string {
	lines := make(chan string)
	go func() {
		defer close(lines)
		s := bufio.NewScanner(r)
		for s.Scan() {
			select {
			case lines <- s.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return lines
}
