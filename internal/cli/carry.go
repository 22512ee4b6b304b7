package cli

import (
	"context"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"carryover/internal/job"
	"carryover/internal/partfile"
	"carryover/internal/words"
)

type carryOptions struct {
	followOptions
	posture, rider string
	also           []string
	parts          [len(partKinds)]string
	json           bool
	more           words.More
	choice         choiceOptions
	spread         spreadOptions
	anchor         anchorOption
	many           manyOptions
	write, date    string
	force          bool
}

func (a *app) carryCommand() *cobra.Command {
	var o carryOptions
	cmd := &cobra.Command{
		Use:   "carry FROM [TO]",
		Short: "Find the settings of TO that put every contact where it is on FROM",
		Long: `Prints what is needed at the bike: what to set, in which order, and the reading that confirms each step. --why adds why
the numbers changed, --more what one setting does to another and how sure everything is.

With --write FILE the file of TO as it will stand is written: parts chosen, marks set, the position it carries, and the
readings it should show, to be taken: ready for "carryover confirm", and to be carried from next year.

With --saddle, --bar, --lever, --stem or --clipon TO is fitted with that part first; without TO it is FROM itself with
another part, and what is not exchanged stays where it is.`,
		Example: `  carryover carry example:road example:studio
  carryover carry example:road --saddle classic-280
  carryover carry example:road example:studio --write studio-road.toml
  carryover carry road.toml studio.toml --posture road --json`,
		Args: o.many.args(1, func(cmd *cobra.Command, args []string) error {
			err := exactly(2)(cmd, args)
			switch {
			case len(args) == 1 && len(o.exchange()) > 0:
				return nil
			case len(args) == 1:
				return usagef("%w; with one bike, name another part for it: --saddle PART", err)
			}
			return err
		}),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.many.source != "" {
				return a.carryMany(cmd.Context(), strings.Join(args, ""), o)
			}
			return a.carry(cmd.Context(), args[0], strings.Join(args[1:], ""), o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.posture, "posture", "", "carry only posture `NAME` (default: every posture of FROM)")
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, for sit-bone spacing and body lengths")
	o.followOptions.flags(f)
	o.anchor.flags(f)
	o.many.flags(f, "from, to, rider and posture")
	f.BoolVar(&o.more.Why, "why", false, "also say why the numbers changed, and where the saddle's references are")
	f.BoolVar(&o.more.All, "more", false, "also say what one setting does to another, and how sure everything is")
	f.StringSliceVar(&o.also, "also", nil, "further `PLACES` on the saddles to tell of, like width:80,seat-tube")
	for i, kind := range partKinds {
		f.StringVar(&o.parts[i], kind.String(), "", "fit another "+strings.Replace(kind.String(), "clipon", "clip-on", 1)+
			" first: `PART` is a catalogue id or the path of a file")
	}
	f.StringVar(&o.write, "write", "", "write TO as it will stand to `FILE`")
	f.BoolVar(&o.force, "force", false, "with --write: replace FILE when it is there already")
	f.StringVar(&o.date, "date", "", "with --write: the `DAY` it is set up, like 2030-05-14 (default: today)")
	f.BoolVar(&o.json, "json", false, "print JSON")
	o.choice.flags(f)
	o.spread.flags(f)
	return cmd
}

// partKinds are what may be exchanged, in the order of the flags.
var partKinds = [...]partfile.Kind{partfile.Saddle, partfile.Bar, partfile.Lever, partfile.Stem, partfile.Clipon}

// exchange are the parts asked for.
func (o *carryOptions) exchange() job.Exchange {
	parts := job.Exchange{}
	for i, name := range o.parts {
		if name != "" {
			parts[partKinds[i]] = name
		}
	}
	return parts
}

// asked loads the rider and says what to carry.
func (a *app) asked(from, to, posture, rider string, follow followOptions) (q job.Asked, err error) {
	q = job.Asked{From: from, To: to, Posture: posture}
	if q.Options, err = follow.solve(); err != nil {
		return q, err
	}
	q.Rider, err = a.files.Rider(rider)
	return q, err
}

func (a *app) carry(ctx context.Context, from, to string, o carryOptions) error {
	if err := o.choice.check(); err != nil {
		return err
	}
	if err := o.spread.check(); err != nil {
		return err
	}
	date, err := o.dated(from)
	if err != nil {
		return err
	}
	q, err := a.asked(from, to, o.posture, o.rider, o.followOptions)
	if err != nil {
		return err
	}
	if q.Options.Also, q.Options.SeatTube, err = also(o.also); err != nil {
		return err
	}
	if q.AnchorSigma, err = o.anchor.sigma(); err != nil {
		return err
	}
	q.Exchange = o.exchange()
	q.Alternatives, q.Fitted, q.Stems = o.choice.alternatives, o.choice.prefer != "", o.choice.stems
	stop := a.working("searching (Ctrl-C: the best so far)", nil)
	c, err := a.files.Carry(ctx, q)
	stop()
	if err != nil {
		return err
	}
	for _, r := range c.Results {
		if err := a.spread(ctx, r, o.spread); err != nil {
			return err
		}
	}
	if err := a.print(o.json, c, func(p *words.Page) { p.Carry(c, o.more) }); err != nil {
		return err
	}
	if o.write != "" {
		if err := a.finished(c, q, date, o); err != nil {
			return err
		}
	}
	return carried(c)
}

// dated is the day that the finished file says; it fails before anything is carried where the file cannot be written.
func (o *carryOptions) dated(from string) (string, error) {
	if err := spared("--write", o.write, from, o.rider); err != nil {
		return "", err
	}
	switch {
	case o.write == "" && (o.force || o.date != ""):
		return "", usagef("--force and --date belong to --write")
	case o.write != "" && !o.force:
		if err := taken(o.write, "nothing was carried or written (--force replaces it)"); err != nil {
			return "", err
		}
	}
	d, err := day(o.date)
	return d.Format(time.DateOnly), err
}

// finished writes TO as it will stand.
func (a *app) finished(c *job.Carry, q job.Asked, date string, o carryOptions) error {
	text, err := a.files.Finished(c, q, date, o.write)
	if err != nil {
		return err
	}
	put := newFile
	if o.force {
		put = replaceFile
	}
	return a.outputTo(o.write, func(w io.Writer) error { _, err := w.Write(text); return err }, put)
}

// carryMany carries every row's bike, in rows for its postures.
func (a *app) carryMany(ctx context.Context, to string, o carryOptions) error {
	exchange := o.exchange()
	return a.many(ctx, o.many, to, o.rider, o.posture, func(ctx context.Context, c client) ([][]words.Cell, error) {
		if c.to == "" && len(exchange) == 0 {
			return nil, errNoPair
		}
		q, err := a.asked(c.from, c.to, c.posture, c.rider, o.followOptions)
		if err != nil {
			return nil, err
		}
		q.Exchange = exchange
		if q.AnchorSigma, err = o.anchor.sigma(); err != nil {
			return nil, err
		}
		k, err := a.files.Carry(ctx, q)
		if err != nil {
			return nil, err
		}
		var rows [][]words.Cell
		for _, r := range k.Results {
			rows = append(rows, words.CarryCells(k, r))
		}
		return append(rows, cannot(k)...), carried(k)
	})
}
