package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"carryover/catalogs"
	"carryover/internal/job"
	"carryover/internal/rules"
	"carryover/internal/words"
)

type rulesOptions struct {
	followOptions
	tips         rules.Tips
	event, rider string
	height       float64
	tipAhead     float64
	tipAbove     float64
	list, json   bool
	more         bool
	posture      string
	many         manyOptions
}

func (a *app) rulesCommand() *cobra.Command {
	var o rulesOptions
	cmd := &cobra.Command{
		Use:   "rules BIKE [TO] --event NAME",
		Short: "Hold a bike against the published rules of an event",
		Long: `Holds a bike's measures against the rules of an event: each with the value found, the limit, pass or
fail, uncertain where the limit lies within twice the standard uncertainty, and how well the rule's
text is known. A rule known from memory only is shown as unconfirmed and never fails a bike. Where
an event grants one exemption or another, both together are refused.

With TO it is that bike that is judged, as it will stand with the position of BIKE.

--event names one of --list, or a TOML file of the same kind. The event's current text and its
officials decide.

Exit codes: 0 no rule fails; 3 one does, or a contact is not carried to TO.`,
		Example: `  carryover rules example:tri --event uci-tt-2023 --rider example:rider --tip-ahead 60
  carryover rules example:tri example:studio --event uci-tt-2023 --rider example:rider
  carryover rules --list`,
		Args: o.many.args(1, atMost(2)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("tip-ahead") {
				o.tips.Ahead = &o.tipAhead
			}
			if cmd.Flags().Changed("tip-above") {
				o.tips.Above = &o.tipAbove
			}
			if o.many.source != "" {
				return a.rulesMany(cmd.Context(), strings.Join(args, ""), o)
			}
			return a.rules(cmd.Context(), args, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.event, "event", "", "the event: its `NAME`, or a TOML file of rules")
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, for the standing height")
	f.StringVar(&o.posture, "posture", "", "with TO: carry only posture `NAME`")
	o.followOptions.flags(f)
	o.many.flags(f, "bike, to, rider and posture")
	f.Float64Var(&o.height, "height", 0, "standing height of `MM` instead of the rider's")
	f.Float64Var(&o.tipAhead, "tip-ahead", 0, "the extensions' end, shifter included, lies `MM` ahead of the grip")
	f.Float64Var(&o.tipAbove, "tip-above", 0, "its highest point lies `MM` above the grip")
	f.BoolVar(&o.list, "list", false, "list the events")
	f.BoolVar(&o.more, "more", false, "also the text of the rules that are kept, and those that are not measured here")
	f.BoolVar(&o.json, "json", false, "print JSON")
	_ = cmd.RegisterFlagCompletionFunc("event", choices(rules.Events(catalogs.Rules)...)) // the flag was just defined
	return cmd
}

// event reads an event compiled in, or a file.
func (a *app) event(name string) (*rules.Event, error) {
	if strings.HasSuffix(name, ".toml") {
		src, err := os.ReadFile(name)
		var path *fs.PathError
		if errors.As(err, &path) {
			return nil, fmt.Errorf("%s: %w", name, path.Err)
		}
		return rules.Read(name, src)
	}
	e, err := rules.Find(catalogs.Rules, name)
	if err != nil {
		return nil, usageError{err}
	}
	return e, nil
}

// judge holds a client's bike against an event, or another as it will stand with its position.
func (a *app) judge(ctx context.Context, c client, o rulesOptions) (*job.Judged, error) {
	switch {
	case o.event == "":
		return nil, usagef("--event is needed; there are %s", strings.Join(rules.Events(catalogs.Rules), ", "))
	case o.height != 0 && !(o.height >= 1000 && o.height <= 2500):
		return nil, usagef("--height %g is not plausible, expected 1000 to 2500 mm", o.height)
	}
	e, err := a.event(o.event)
	if err != nil {
		return nil, err
	}
	q, err := a.asked(c.from, c.to, c.posture, c.rider, o.followOptions)
	if err != nil {
		return nil, err
	}
	return a.files.Rules(ctx, q, job.Scrutineer{Event: e, Tips: o.tips, Height: o.height})
}

// broken is errMissed where a rule is, or where a contact is not carried.
func broken(j *job.Judged) error {
	if j.Verdict == rules.Fail {
		return errMissed
	}
	return carried(j.Carry)
}

func (a *app) rulesMany(ctx context.Context, to string, o rulesOptions) error {
	return a.many(ctx, o.many, to, o.rider, o.posture, func(ctx context.Context, c client) ([][]words.Cell, error) {
		j, err := a.judge(ctx, c, o)
		if err != nil {
			return nil, err
		}
		return append(words.RulesCells(j), cannot(j.Carry)...), broken(j)
	})
}

func (a *app) rules(ctx context.Context, args []string, o rulesOptions) error {
	switch {
	case o.list:
		return a.listEvents(o.json)
	case len(args) == 0:
		return usagef("rules wants a BIKE, or --list")
	case len(args) == 1 && o.posture != "":
		return usagef("--posture belongs to TO: without it a bike is judged as it stands")
	}
	j, err := a.judge(ctx, client{from: args[0], to: strings.Join(args[1:], ""), rider: o.rider, posture: o.posture}, o)
	if err != nil {
		return err
	}
	return a.answer(o.json, j, func(p *words.Page) { p.Rules(j, o.more) }, broken(j))
}

func (a *app) listEvents(asJSON bool) error {
	var list []*rules.Event
	keys := []map[string]any{}
	for _, name := range rules.Events(catalogs.Rules) {
		e, err := rules.Find(catalogs.Rules, name)
		if err != nil {
			return err
		}
		list = append(list, e)
		keys = append(keys, map[string]any{"event": e.Event, "name": e.Name, "edition": e.Edition, "history": e.History, "rules": len(e.Rules)})
	}
	return a.print(asJSON, map[string]any{"schema": 1, "events": keys}, func(p *words.Page) {
		var rows [][]string
		for _, e := range list {
			rows = append(rows, []string{e.Event, words.Event(e)})
		}
		p.Table("ll", rows...)
	})
}
