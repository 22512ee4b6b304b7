package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"carryover/internal/sheet"
)

func (a *app) sheetCommand() *cobra.Command {
	var o pictureOptions
	cmd := &cobra.Command{
		Use:   "sheet FROM [TO] -o FILE.html",
		Short: "Write a set-up sheet: order of work, checks and pictures",
		Long: `Writes one HTML file with everything in it: settings in order of work with boxes to tick, readings to check, the
scales with their marks, both bikes drawn to scale, and why the numbers changed. It loads nothing from anywhere, needs
no script, and prints on A4 or Letter in black and white, two pages for a posture; the first is enough to work by.
With one bike it is a record of the position on it. --stems writes a page for a client instead: which stem to buy.`,
		Example: `  carryover sheet example:road example:studio -o studio.html
  carryover sheet road.toml -o record.html
  carryover sheet example:road example:outdoor --stems -o stems.html
  carryover sheet road.toml studio.toml --posture road --date 2030-05-14 -o sheet.html`,
		Args: oneOrTwo,
		RunE: func(cmd *cobra.Command, args []string) error { return a.sheet(cmd.Context(), args, o) },
	}
	o.flags(cmd, "the page")
	cmd.Flags().BoolVar(&o.stems, "stems", false, "which stem TO wants, for the client: two sentences, three choices")
	return cmd
}

// day is the date on a sheet or drawing: the one asked for, else SOURCE_DATE_EPOCH (reproducible-builds.org), else today.
func day(asked string) (time.Time, error) {
	if asked != "" {
		t, err := time.Parse(time.DateOnly, asked)
		if err != nil {
			return t, usagef("--date wants a day like 2030-05-14, not %q", asked)
		}
		return t, nil
	}
	if epoch := os.Getenv("SOURCE_DATE_EPOCH"); epoch != "" {
		s, err := strconv.ParseInt(epoch, 10, 64)
		if err != nil {
			return time.Time{}, fmt.Errorf("SOURCE_DATE_EPOCH is seconds since 1970, not %q", epoch)
		}
		return time.Unix(s, 0).UTC(), nil
	}
	return time.Now(), nil
}

func (a *app) sheet(ctx context.Context, args []string, o pictureOptions) error {
	if err := wantPage("-o", o.out, "sheet.html", append(args, o.rider)...); err != nil {
		return err
	}
	date, err := day(o.date)
	if err != nil {
		return err
	}
	number, _, _ := strings.Cut(version(), "\n")
	program := sheet.Input{Name: "Program", Value: "carryover " + number}
	if o.stems && len(args) == 1 {
		return usagef("--stems wants FROM and TO")
	}
	if len(args) == 1 {
		source, asked, err := a.recorded(args[0], o)
		if err != nil {
			return err
		}
		inputs := []sheet.Input{{Name: "Bike", Value: named(args[0], source.Bike.Name)}, program}
		return a.output(o.out, func(w io.Writer) error { return sheet.Record(w, source, asked, date, inputs) })
	}
	o.from, o.to = args[0], args[1]
	c, err := a.carried(ctx, o)
	if err != nil {
		return err
	}
	inputs := []sheet.Input{{Name: "From", Value: named(args[0], c.Bike.Name)}, {Name: "To", Value: named(args[1], c.Target.Name)}}
	if o.rider != "" {
		inputs = append(inputs, sheet.Input{Name: "Rider", Value: o.rider})
	}
	inputs = append(inputs, sheet.Input{Name: "Crank policy", Value: o.policy}, sheet.Input{Name: "Hands", Value: o.hands}, program)
	page := sheet.Set
	if o.stems {
		page = sheet.Stems
	}
	if err := a.output(o.out, func(w io.Writer) error { return page(w, c, date, inputs) }); err != nil {
		return err
	}
	return a.missed(c)
}

// wantPage is wantOutput for a page in HTML, which a flag names.
func wantPage(flag, out, example string, inputs ...string) error {
	if err := wantOutput(out, example, inputs...); err != nil {
		return err
	}
	_, err := ending(flag, out, ".html", ".htm")
	return err
}

// named is a file with what it calls the bike.
func named(file, name string) string {
	if name == "" {
		return file
	}
	return file + " (" + name + ")"
}
