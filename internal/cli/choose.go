package cli

import (
	"github.com/spf13/pflag"
)

// choiceOptions are the flags about open slots.
type choiceOptions struct {
	alternatives int
	prefer       string
	stems        bool
}

func (c *choiceOptions) flags(f *pflag.FlagSet) {
	f.IntVar(&c.alternatives, "alternatives", 0, "also list the `N` next best combinations of parts")
	f.BoolVar(&c.stems, "stems", false, "also name three stems to buy, with spacers and which way up")
	f.StringVar(&c.prefer, "prefer", "", "in open slots: fitted, to change as few parts (the first of each list) as will carry")
}

func (c choiceOptions) check() error {
	if c.alternatives < 0 || c.alternatives > 1000 {
		return usagef("--alternatives is 0 to 1000, not %d", c.alternatives)
	}
	if c.prefer != "" && c.prefer != "fitted" {
		return usagef("--prefer is fitted, not %q", c.prefer)
	}
	return nil
}
