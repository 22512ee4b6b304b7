package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"carryover/internal/diag"
	"carryover/internal/draw"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/words"
	"carryover/internal/written"
)

// pictureOptions are what sheet and draw carry with.
type pictureOptions struct {
	shared
	out, date string
	stems     bool
}

func (o *pictureOptions) flags(cmd *cobra.Command, what string) {
	f := cmd.Flags()
	f.StringVarP(&o.out, "output", "o", "", "write "+what+" to `FILE`; - is standard output")
	o.shared.flags(f, has{posture: "only posture `NAME`", rider: "for sit-bone spacing and body lengths", follow: true})
	f.StringVar(&o.date, "date", "", "date on it, `YYYY-MM-DD` (default: today, or SOURCE_DATE_EPOCH)")
}

// carried carries what a picture or a page shows.
func (a *app) carried(ctx context.Context, o pictureOptions) (*job.Carry, error) {
	q, err := a.asked(o.shared)
	if err != nil {
		return nil, err
	}
	q.Stems = o.stems
	c, err := a.files.Carry(ctx, q)
	if err != nil {
		return nil, err
	}
	return c, a.spareParts(o.out, c.Bike, c.Target)
}

// missed is the error of a job that is done but not carried; what cannot be carried at all is said on standard error.
func (a *app) missed(c *job.Carry) error {
	for _, f := range c.Failed {
		fmt.Fprintf(a.Err, "carryover: posture %s: %s\n", diag.Visible(f.Name), visibleLines(words.Failure(f.Err)))
	}
	return carried(c)
}

type drawOptions struct {
	pictureOptions
	view, bike string
	scale, dpi float64
}

func (a *app) drawCommand() *cobra.Command {
	var o drawOptions
	cmd := &cobra.Command{
		Use:   "draw FROM [TO] -o FILE",
		Short: "Draw one bike or both to scale, as SVG, PNG or PDF",
		Long: `Draws the pictures of the sheet alone, or with one bike that bike. The ending of FILE says what is written: .svg, .png
or .pdf, or .svg on standard output. Sizes are exact in mm; every view says its scale.`,
		Example: `  carryover draw example:road example:studio -o side.svg
  carryover draw example:road example:studio --view top --bike to -o saddle.png --dpi 300
  carryover draw example:road example:studio --view all -o pictures.pdf`,
		Args: oneOrTwo,
		RunE: func(cmd *cobra.Command, args []string) error { return a.draw(cmd.Context(), args, o) },
	}
	o.flags(cmd, "the picture")
	f := cmd.Flags()
	views := append(slices.Clone(draw.Views), "all")
	oneOfWords(f, &o.view, "view", "side", "what to draw: "+written.Or(views), views...)
	oneOfWords(f, &o.bike, "bike", "both", "which bike: from, to or both", "from", "to", "both")
	bounded(f, limited{&o.scale, "scale", 0.1, 1000, ""}, 0, "draw side, top and pads at 1:`N` (default: as large as fits a page)")
	bounded(f, limited{&o.dpi, "dpi", 10, 2400, ""}, 150, "resolution of a PNG, dots per inch")
	return cmd
}

func (a *app) draw(ctx context.Context, args []string, o drawOptions) error {
	if err := wantOutput(o.out, "side.svg", append(args, o.rider)...); err != nil {
		return err
	}
	format, err := ending("-o", o.out, ".svg", ".png", ".pdf")
	if err != nil {
		return err
	}
	date, err := day(o.date)
	if err != nil {
		return err
	}
	scenes, done, err := a.scenes(ctx, args, o)
	if err != nil {
		return err
	}
	var pages []*draw.Picture
	for _, v := range scenes {
		v.Date = date.Format(time.DateOnly)
		if len(args) == 2 {
			v.Show = map[string]draw.Layer{"both": draw.Both, "from": draw.From, "to": draw.To}[o.bike]
		}
		pages = append(pages, v.View(o.view, o.scale)...)
	}
	if len(pages) == 0 {
		return fmt.Errorf("there is nothing to show in view %s", o.view)
	}
	if format != ".svg" {
		a.boxed(pages...)
	}
	err = a.output(o.out, func(w io.Writer) error {
		if format == ".pdf" {
			return draw.PDF(w, pages...)
		}
		sheet := pages[0]
		if len(pages) > 1 {
			sheet = draw.Stack("Pictures", 8, pages...)
		}
		if format == ".png" {
			return sheet.PNG(w, o.dpi)
		}
		return sheet.SVG(w)
	})
	if err != nil || done == nil {
		return err
	}
	return a.missed(done)
}

// scenes are what is to be drawn: a bike alone in its postures, or each posture carried, with the job behind it.
func (a *app) scenes(ctx context.Context, args []string, o drawOptions) (list []*draw.Scene, done *job.Carry, err error) {
	if len(args) == 1 {
		source, asked, err := a.recorded(args[0], o.pictureOptions)
		if err != nil {
			return nil, nil, err
		}
		for _, p := range asked {
			list = append(list, draw.Alone(source.Adjusted, p.Position))
		}
		return list, nil, nil
	}
	o.from, o.to = args[0], args[1]
	if done, err = a.carried(ctx, o.pictureOptions); err != nil {
		return nil, nil, err
	}
	for _, r := range done.Results {
		list = append(list, draw.NewScene(r))
	}
	return list, done, nil
}

// recorded is one bike as it stands, with the postures asked for that can be told.
func (a *app) recorded(path string, o pictureOptions) (*job.Source, []job.Posture, error) {
	q, err := a.asked(o.shared)
	if err != nil {
		return nil, nil, err
	}
	source, err := a.files.Source(path, q.Rider, locate.Options{})
	var missing *locate.MissingError
	if errors.As(err, &missing) {
		return nil, nil, fmt.Errorf("%s cannot be drawn as it stands, since its readings do not say where everything is: add %s, "+
			"or draw it with the bike whose position it gets", path, words.List(missing.Shortest))
	}
	if err != nil {
		return nil, nil, err
	}
	asked := source.Every
	if len(source.Bike.Postures) == 0 && o.posture == "" {
		asked = source.AsItStands // nobody rides it: the machine alone
	}
	list, err := asked(o.posture)
	if err != nil {
		return nil, nil, err
	}
	return source, list, a.spareParts(o.out, source.Bike)
}

// boxed warns of letters that the fonts of PNG and PDF lack.
func (a *app) boxed(pages ...*draw.Picture) {
	if missing := draw.Missing(pages...); missing != "" {
		fmt.Fprintf(a.Err, "empty boxes stand for letters that the font lacks: %s (an .svg shows them)\n", diag.Shorten(missing, 40))
	}
}

// oneOrTwo wants a bike, or one and another.
func oneOrTwo(cmd *cobra.Command, args []string) error {
	if len(args) == 1 {
		return nil
	}
	return exactly(2)(cmd, args)
}
