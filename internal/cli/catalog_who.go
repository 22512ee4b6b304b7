package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

func (a *app) catalogWhoCommand() *cobra.Command {
	var o shared
	var instead string
	cmd := &cobra.Command{
		Use:   "who PART FILE...",
		Short: "Which bikes use a part, and what another shape of it does to each",
		Long: `Lists the bikes among the files, and in the folders among them and below, that use PART: a catalogue id or the path of a part file.

Where there are two shapes of it, each bike is located with both from the same readings and marks: where seat and hands are
found to be with the second, less with the first, those that move most first. The two are PART and --instead FILE; or, where
PART is a file or comes from --catalog and has the id of a built-in part, the built-in one and that one. With --to each bike
is carried there with both, and the setting that changes most is told.`,
		Example: `  carryover catalog who short-250 .
  carryover catalog who short-250 --instead my-saddle.toml . --to example:studio`,
		Args: atLeast(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.who(cmd.Context(), args[0], instead, args[1:], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&instead, "instead", "", "the other shape: `PART`, an id or the path of a file")
	f.StringVar(&o.to, "to", "", "also carry each bike to `TARGET` with both shapes")
	o.flags(f, has{rider: "for sit-bone spacing", json: true})
	return cmd
}

func (a *app) who(ctx context.Context, part, instead string, paths []string, o shared) error {
	q, err := a.asked(o)
	if err != nil {
		return err
	}
	w, err := a.files.Who(ctx, part, instead, q, paths)
	if err != nil {
		return err
	}
	if len(w.Broken) > 0 {
		err = errReported
	}
	return a.answer(o.json, w, func(p *words.Page) { p.Who(w) }, err)
}
