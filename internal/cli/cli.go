// Package cli is the command line of carryover: it reads files, calls the packages that do the work, and
// is the only one that prints. Standard output carries the result, standard error everything else.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/words"
)

// Exit codes.
const (
	ExitOK      = 0 // done; for carry: carried
	ExitFailure = 1 // bad input or failure
	ExitUsage   = 2 // wrong usage
	ExitMissed  = 3 // solved, but a contact is not carried
)

// Streams are where the command reads and writes.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer
	// InTerminal, OutTerminal and ErrTerminal say whether a person is there; Columns is how wide their terminal is, 0
	// when unknown.
	InTerminal, OutTerminal, ErrTerminal bool
	Columns                              int
	NoColor                              bool
}

// System is the process's own streams.
func System() Streams {
	is := func(f *os.File) bool { return term.IsTerminal(int(f.Fd())) }
	columns, _, err := term.GetSize(int(os.Stdout.Fd()))
	if err != nil {
		columns = 0
	}
	return Streams{Columns: columns, In: os.Stdin, Out: os.Stdout, Err: os.Stderr,
		InTerminal: is(os.Stdin), OutTerminal: is(os.Stdout), ErrTerminal: is(os.Stderr),
		NoColor: os.Getenv("NO_COLOR") != ""}
}

// app is what every command shares.
type app struct {
	Streams
	files job.Files
	quiet bool
	color string
}

// usageError is wrong usage of the command line.
type usageError struct{ error }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// wrong is usagef where there is an error.
func wrong(format string, err error) error {
	if err == nil {
		return nil
	}
	return usagef(format, err)
}

// errMissed ends a command whose result is printed but not carried.
var errMissed = errors.New("a contact is not carried")

// reported is an error whose message is already printed.
var errReported = errors.New("reported")

// Main runs the command line and returns the exit code.
func Main(ctx context.Context, args []string, s Streams) int {
	out := &sink{w: s.Out}
	s.Out = out
	a := &app{Streams: s}
	a.files.Warn = a.warn
	root := a.root()
	if len(args) > 0 && strings.HasPrefix(args[0], cobra.ShellCompRequestCmd) {
		a.completions(root) // a shell asks what may come next
	}
	root.SetArgs(args)
	root.SetIn(s.In)
	root.SetOut(s.Out)
	root.SetErr(s.Err)
	cmd, err := root.ExecuteContextC(ctx)
	if out.err != nil {
		err = out.err
	}
	return a.exit(cmd, err)
}

// exit reports an error and turns it into an exit code.
func (a *app) exit(cmd *cobra.Command, err error) int {
	var list diag.List
	var usage usageError
	var posture *job.NoPostureError
	switch {
	case err == nil:
		return ExitOK
	case errors.Is(err, errMissed):
		return ExitMissed
	case errors.Is(err, errReported):
		return ExitFailure
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(a.Err, "carryover: stopped")
		return ExitFailure
	case errors.As(err, &usage), errors.As(err, &posture):
		fmt.Fprintf(a.Err, "carryover: %s\n", diag.Visible(err.Error()))
		fmt.Fprintf(a.Err, "see: %s --help\n", cmd.CommandPath())
		return ExitUsage
	case errors.As(err, &list):
		_ = diag.Render(a.Err, list, diag.Options{Color: a.colored(a.ErrTerminal)})
		return ExitFailure
	}
	text := "carryover: " + visibleLines(words.Failure(err))
	if a.ErrTerminal {
		text = words.Wrap(text, a.width())
	}
	fmt.Fprintln(a.Err, text)
	return ExitFailure
}

// colored reports whether a stream gets colours.
func (a *app) colored(terminal bool) bool {
	switch a.color {
	case "always":
		return true
	case "never":
		return false
	}
	return terminal && !a.NoColor
}

// warn prints findings that stop nothing.
func (a *app) warn(l diag.List) {
	if !a.quiet {
		_ = diag.Render(a.Err, l, diag.Options{Color: a.colored(a.ErrTerminal)})
	}
}

// Command is the command tree, for what documents it.
func Command() *cobra.Command { return (&app{}).root() }

// root is the command tree.
func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:           "carryover",
		Short:         "Sit on another bike exactly as on this one",
		Long:          rootLong,
		Example:       "  carryover carry example:road example:studio",
		Args:          noSuchCommand,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	showVersion := root.Flags().Bool("version", false, "print the version, the build and the catalogue")
	root.RunE = func(cmd *cobra.Command, _ []string) error {
		if *showVersion {
			_, err := fmt.Fprint(a.Out, "carryover ", version())
			return err
		}
		return cmd.Help()
	}
	flags := root.PersistentFlags()
	flags.StringVar(&a.files.CatalogDir, "catalog", "", "also look for parts in the TOML files of `DIR`")
	flags.BoolVarP(&a.quiet, "quiet", "q", false, "print no warnings and no progress")
	oneOfWords(flags, &a.color, "color", "auto", "colour: auto, always or never", "auto", "always", "never")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error {
		var said usageError // a flag's own words
		if errors.As(err, &said) {
			return said
		}
		return usageError{err}
	})
	root.AddCommand(a.carryCommand(), a.locateCommand(), a.drawCommand(), a.sheetCommand(), a.templateCommand(), a.alternateCommand(),
		a.envelopeCommand())
	root.AddCommand(a.catalogCommand(), a.exampleCommand(), a.schemaCommand(), a.completionCommand(), a.newCommand(), a.confirmCommand(),
		a.feltCommand(), a.compareCommand(), a.calibrateCommand(), a.convertCommand(), a.rulesCommand(), a.bodyCommand(), a.serveCommand())
	root.AddCommand(topics()...)
	root.SetHelpCommand(helpCommand())
	help := root.HelpFunc()
	root.SetHelpFunc(func(cmd *cobra.Command, args []string) {
		narrowHelp(root, a.width()) // only now: a command that does its work has no use for it
		var text strings.Builder
		root.SetOut(&text)
		help(cmd, args)
		_, _ = io.WriteString(a.Out, narrowed(text.String(), a.width()))
	})
	return root
}

// visibleLines makes every line of a message safe to print.
func visibleLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = diag.Visible(l)
	}
	return strings.Join(lines, "\n")
}

const rootLong = `carryover takes a rider's position from one bike to another: from tape readings
it works out where the body really touches the bike, solves the other bike's
settings so that the contacts stay where they were, and says how sure it is and
how to set it up.

Bikes are TOML files, or example:NAME for those compiled in.

Exit codes: 0 done, carried; 3 solved, but a contact is not carried; 1 bad input
or failure; 2 wrong usage.`
