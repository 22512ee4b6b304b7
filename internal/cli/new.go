package cli

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/bikefile"
	"carryover/internal/diag"
	"carryover/internal/interview"
	"carryover/internal/words"
)

func (a *app) newCommand() *cobra.Command {
	var kinds []*cobra.Command
	for _, kind := range interview.Kinds {
		kinds = append(kinds, &cobra.Command{
			Use:   kind + " FILE",
			Short: "Ask for a " + kind + " and write its file",
			Long: "Asks for what you know about a " + kind + ", checks each answer as it comes, shows them all to be corrected, and\n" +
				"writes FILE, which must not be there yet. ? says more about a question, an empty answer leaves it out,\n" +
				"< goes back. Answers may come from a pipe, one a line. When they end too early, or with Ctrl-C, they are\n" +
				"kept in FILE.answers, and the same command goes on from there. Comments in FILE say what is missing or\n" +
				"what the readings leave open, and the exit code is 1 until nothing is.",
			Example: "  carryover new " + kind + " my-" + kind + ".toml",
			Args:    exactly(1),
			RunE: func(cmd *cobra.Command, args []string) error {
				if err := taken(args[0], "nothing was asked"); err != nil {
					return err
				}
				return a.askFile(cmd.Context(), args[0], interview.Subject{Kind: kind}, false)
			},
		})
	}
	return group("new", "Ask for a bike, a rider or a part and write its file", "  carryover new bike my-bike.toml", kinds...)
}

// askFile asks for a file and puts it at the path. The answers are kept beside it until it is complete.
func (a *app) askFile(ctx context.Context, path string, s interview.Subject, replace bool) error {
	if dir := filepath.Dir(path); dir != "." {
		if info, err := os.Stat(dir); err != nil || !info.IsDir() {
			return fmt.Errorf("%s is no directory; nothing was asked", diag.Visible(dir))
		}
	}
	lib, err := a.files.Library()
	if err != nil {
		return err
	}
	s.File, s.Folder, s.Lib = path, bikefile.Folder{Dir: filepath.Dir(path)}, lib
	kept := path + ".answers"
	former, err := keptAnswers(kept)
	if err != nil {
		return err
	}
	unkept := error(nil)
	c := a.conversation(ctx)
	c.Keep = func(all []interview.Answer) {
		text, err := json.MarshalIndent(all, "", " ")
		if err == nil {
			err = putFile(kept, append(text, '\n'), true)
		}
		unkept = err
	}
	result := interview.Run(s, former, c)
	switch {
	case result.Answered == 0:
		return errors.New("nothing was answered; no file was written")
	case unkept != nil && (result.Stopped || ctx.Err() != nil):
		return fmt.Errorf("the answers could not be kept in %s: %w", diag.Visible(kept), plainPathError(unkept))
	case result.Stopped || ctx.Err() != nil:
		return fmt.Errorf("stopped before the end; %s kept in %s, and the same command goes on from there",
			words.Counted(result.Answered, "answer"), diag.Visible(kept))
	}
	if err := putFile(path, result.Source, replace); err != nil {
		return fmt.Errorf("cannot write %s: %w", path, plainPathError(err))
	}
	_ = os.Remove(kept) // all of it is in the file
	var lacks []string
	so := ""
	if len(result.Missing) > 0 {
		so = ", which is not complete yet"
		lacks = append(lacks, "still missing: "+strings.Join(result.Missing, ", "))
	}
	if len(result.Open) > 0 {
		lacks = append(lacks, "the readings leave open: "+strings.Join(result.Open, ", "))
	}
	fmt.Fprintf(a.Out, "wrote %s%s\n", diag.Visible(path), so)
	if len(lacks) > 0 {
		return errors.New(strings.Join(lacks, "\n"))
	}
	return nil
}

// keptAnswers are the answers of an interview that was stopped; none when there is no such file.
func keptAnswers(path string) ([]interview.Answer, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	var all []interview.Answer
	if err == nil {
		err = json.Unmarshal(text, &all)
	}
	if err != nil {
		return nil, fmt.Errorf("%s holds no answers of an interview: %w; move it away to begin anew", diag.Visible(path), plainPathError(err))
	}
	return all, nil
}

// conversation asks on standard error and takes the lines of standard input.
func (a *app) conversation(ctx context.Context) interview.Conversation {
	lines := readLines(ctx, a.In)
	return interview.Conversation{
		Ask: func(question string) (string, bool) {
			fmt.Fprint(a.Err, strings.Join(words.Fold("", question, words.Usual-6), "\n")+" ") // room for a number
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
		Say: func(text string) {
			for _, line := range strings.Split(text, "\n") {
				if words.Columns(line) > words.Usual { // a picture has no such lines
					line = words.Wrap(line, words.Usual)
				}
				fmt.Fprintln(a.Err, line)
			}
		},
	}
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
