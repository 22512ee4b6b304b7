package cli

import (
	"github.com/spf13/cobra"

	"carryover/internal/report"
	"carryover/internal/tape"
)

type locateOptions struct {
	rider  string
	robust bool
	json   bool
}

func (a *app) locateCommand() *cobra.Command {
	var o locateOptions
	cmd := &cobra.Command{
		Use:     "locate BIKE",
		Short:   "Work out from readings where a bike's parts and contacts are",
		Example: "  carryover locate example:road",
		Args:    exactly(1),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.locate(args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.rider, "rider", "", "rider `FILE`, for sit-bone spacing")
	f.BoolVar(&o.robust, "robust", true, "look for several wrong readings at once; --robust=false: one at a time")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (a *app) locate(path string, o locateOptions) error {
	rider, err := a.rider(o.rider)
	if err != nil {
		return err
	}
	b, adjusted, err := a.source(path, rider, tape.Options{OneByOne: !o.robust})
	if err != nil {
		return err
	}
	l, err := report.NewLocate(b, adjusted)
	if err != nil {
		return err
	}
	return report.Write(a.Out, l)
}
