package cli

import (
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/written"
)

// shared are flags that many commands have, and the bikes that a command is about.
type shared struct {
	from, to       string
	posture, rider string
	policy, hands  string   // what follows when the target has another crank
	anchor         *float64 // how far the anchors of the target may be off, mm; nil: as its file says
	more, json     bool
	many           manyOptions
}

// has says which of the shared flags a command has: what those that are words are for there.
type has struct {
	posture, rider, more string
	many                 string // the columns that a spreadsheet may have
	follow, anchor, json bool
}

func (o *shared) flags(f *pflag.FlagSet, h has) {
	if h.posture != "" {
		f.StringVar(&o.posture, "posture", "", h.posture)
	}
	if h.rider != "" {
		f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, "+h.rider)
	}
	if h.more != "" {
		f.BoolVar(&o.more, "more", false, "also "+h.more)
	}
	if h.many != "" {
		o.many.flags(f, h.many)
	}
	if h.json {
		f.BoolVar(&o.json, "json", false, "print JSON")
	}
	if h.follow {
		oneOfWords(f, &o.policy, "policy", "extension", "what another crank length keeps: extension or knee", "extension", "knee")
		oneOfWords(f, &o.hands, "hands", "follow", "when the crank moves the saddle, the hands follow or stay fixed", "follow", "fixed")
	}
	if h.anchor {
		f.Func("anchor-sigma", "TO's anchors may be off by `MM`, one ±, in place of what its file says", func(text string) error {
			o.anchor = new(float64)
			return limited{o.anchor, "anchor-sigma", 0, 100, " mm"}.Set(text)
		})
	}
}

// asked loads the rider and says what to carry.
func (a *app) asked(o shared) (q job.Asked, err error) {
	q = job.Asked{From: o.from, To: o.to, Posture: o.posture, AnchorSigma: o.anchor}
	if o.policy == "knee" {
		q.Options.Policy = carry.KeepKnee
	}
	q.Options.HandsFixed = o.hands == "fixed"
	q.Rider, err = a.files.Rider(o.rider)
	return q, err
}

// choice is a flag that takes one of some words.
type choice struct {
	value *string
	name  string
	words []string
}

// oneOfWords defines one.
func oneOfWords(f *pflag.FlagSet, value *string, name, usual, usage string, words ...string) {
	*value = usual
	f.Var(choice{value, name, words}, name, usage)
}

func (c choice) String() string { return *c.value }
func (c choice) Type() string   { return "string" }

func (c choice) Set(text string) error {
	*c.value = strings.ToLower(text)
	if !slices.Contains(c.words, *c.value) {
		return usagef("--%s is %s, not %q", c.name, written.Or(c.words), text)
	}
	return nil
}

// limited is a flag that takes a number between two.
type limited struct {
	value  *float64
	name   string
	lo, hi float64
	unit   string
}

// bounded defines one.
func bounded(f *pflag.FlagSet, l limited, usual float64, usage string) {
	*l.value = usual
	f.Var(l, l.name, usage)
}

func (l limited) String() string { return strconv.FormatFloat(*l.value, 'g', -1, 64) }
func (l limited) Type() string   { return "float64" }

func (l limited) Set(text string) (err error) {
	*l.value, err = strconv.ParseFloat(text, 64)
	if err != nil || !(*l.value >= l.lo && *l.value <= l.hi) {
		return usagef("--%s is from %g to %g%s, not %s", l.name, l.lo, l.hi, l.unit, text)
	}
	return nil
}
