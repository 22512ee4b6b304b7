package cli

import (
	"github.com/spf13/pflag"

	"carryover/internal/carry"
)

// followOptions say what follows when the target has another crank.
type followOptions struct{ policy, hands string }

func (o *followOptions) flags(f *pflag.FlagSet) {
	f.StringVar(&o.policy, "policy", "extension", "what another crank length keeps: extension or knee")
	f.StringVar(&o.hands, "hands", "follow", "when the crank moves the saddle, the hands follow or stay fixed")
}

func (o followOptions) solve() (carry.Options, error) {
	var c carry.Options
	switch o.policy {
	case "extension":
	case "knee":
		c.Policy = carry.KeepKnee
	default:
		return c, usagef("--policy is extension or knee, not %q", o.policy)
	}
	switch o.hands {
	case "follow":
	case "fixed":
		c.HandsFixed = true
	default:
		return c, usagef("--hands is follow or fixed, not %q", o.hands)
	}
	return c, nil
}

// anchorOption says how far the anchors of the target may be off.
type anchorOption struct {
	mm    float64
	given func(string) bool
}

func (o *anchorOption) flags(f *pflag.FlagSet) {
	f.Float64Var(&o.mm, "anchor-sigma", 1, "TO's anchors may be off by `MM`, one ±, in place of what its file says")
	o.given = f.Changed
}

// sigma is what was asked for, mm; nil: as the file says.
func (o *anchorOption) sigma() (*float64, error) {
	if !(o.mm >= 0 && o.mm <= 100) {
		return nil, usagef("--anchor-sigma is from 0 to 100 mm, not %g", o.mm)
	}
	if !o.given("anchor-sigma") {
		return nil, nil
	}
	return &o.mm, nil
}
