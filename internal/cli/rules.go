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
	shared
	tips   rules.Tips
	event  string
	height float64 // 0: the rider's
	list   bool
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
			switch {
			case o.many.source != "":
			case o.list:
				return a.listEvents(o.json)
			case len(args) == 0:
				return usagef("rules wants a BIKE, or --list")
			case len(args) == 1 && o.posture != "":
				return usagef("--posture belongs to TO: without it a bike is judged as it stands")
			}
			return answers(cmd.Context(), a, args, o.shared, about[*job.Judged]{
				answer: func(ctx context.Context, w shared) (*job.Judged, error) { return a.judge(ctx, w, o) },
				text:   func(p *words.Page, j *job.Judged) { p.Rules(j, o.more) },
				rows:   func(j *job.Judged) [][]words.Cell { return append(words.RulesCells(j), cannot(j.Carry)...) },
				end:    broken,
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.event, "event", "", "the event: its `NAME`, or a TOML file of rules")
	o.flags(f, has{posture: "with TO: carry only posture `NAME`", rider: "for the standing height", many: "bike, to, rider and posture",
		more: "the text of the rules that are kept, and those that are not measured here", follow: true, json: true})
	bounded(f, limited{&o.height, "height", 1000, 2500, " mm"}, 0, "standing height of `MM` instead of the rider's")
	tip := func(to **float64, name, usage string) {
		f.Func(name, usage, func(text string) error {
			*to = new(float64)
			return limited{*to, name, -1000, 1000, " mm"}.Set(text)
		})
	}
	tip(&o.tips.Ahead, "tip-ahead", "the extensions' end, shifter included, lies `MM` ahead of the grip")
	tip(&o.tips.Above, "tip-above", "its highest point lies `MM` above the grip")
	f.BoolVar(&o.list, "list", false, "list the events")
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

// judge holds a bike against an event, or another as it will stand with its position.
func (a *app) judge(ctx context.Context, w shared, o rulesOptions) (*job.Judged, error) {
	if o.event == "" {
		return nil, usagef("--event is needed; there are %s", strings.Join(rules.Events(catalogs.Rules), ", "))
	}
	e, err := a.event(o.event)
	if err != nil {
		return nil, err
	}
	q, err := a.asked(w)
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
