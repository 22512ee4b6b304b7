package report

import (
	"fmt"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Spread is how sure a result is, beyond the sigma of each setting. Lengths mm, angles degrees.
type Spread struct {
	AnchorSigma float64         `json:"anchor_sigma"`
	Settings    []SettingSpread `json:"settings"`
	Contacts    []ContactSpread `json:"contacts"`
	Draws       *Draws          `json:"draws,omitempty"`
	Blame       []Blame         `json:"blame,omitempty"`
}

// SettingSpread parts the uncertainty of a setting: the source's readings, the target's anchor, and how
// finely the adjuster can be set.
type SettingSpread struct {
	Adjuster string  `json:"adjuster"`
	Unit     string  `json:"unit"`
	Readings float64 `json:"readings"`
	Anchor   float64 `json:"anchor"`
	Setting  float64 `json:"setting"`
}

// ContactSpread is how sure a contact is: want is what the readings leave open in the wanted place, miss in
// what it misses by, place what the target's anchor and adjusters leave open in where it ends up.
type ContactSpread struct {
	Contact    string  `json:"contact"`
	WantX      float64 `json:"want_x"`
	WantY      float64 `json:"want_y"`
	WantAngle  float64 `json:"want_angle"`
	Miss       float64 `json:"miss"`
	MissAngle  float64 `json:"miss_angle"`
	PlaceX     float64 `json:"place_x"`
	PlaceY     float64 `json:"place_y"`
	PlaceAngle float64 `json:"place_angle"`
}

// Draws is the outcome of a Monte Carlo run.
type Draws struct {
	Draws    int           `json:"draws"`
	Void     int           `json:"void"`
	Seed     uint64        `json:"seed"`
	Carried  float64       `json:"carried"` // share of the draws
	Settings []Drawn       `json:"settings"`
	Misses   []Drawn       `json:"misses"`
	Error    Drawn         `json:"error"`
	Choices  []DrawnChoice `json:"choices"`
}

// Drawn is one drawn number; low to high holds 95 % of the draws.
type Drawn struct {
	Name  string  `json:"name"`
	Unit  string  `json:"unit"`
	Mean  float64 `json:"mean"`
	Sigma float64 `json:"sigma"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	In    float64 `json:"-"` // share of the draws that have it
}

// DrawnChoice is how often a discrete choice came out otherwise.
type DrawnChoice struct {
	Choice string  `json:"choice"`
	Chosen string  `json:"chosen"`
	Other  float64 `json:"other"`
	Next   string  `json:"next,omitempty"`
	NextIn float64 `json:"next_share,omitempty"`
}

// Blame is where a setting's uncertainty comes from.
type Blame struct {
	Adjuster string       `json:"adjuster"`
	Unit     string       `json:"unit"`
	Sigma    float64      `json:"sigma"`
	Shares   []BlameShare `json:"shares"`
}

// BlameShare is what one cause contributes; share is of the variance, without is what is left once it is known exactly.
type BlameShare struct {
	Of      string  `json:"of"`    // source, target or both
	Index   int     `json:"index"` // of the reading, 0 for others
	Name    string  `json:"name"`
	Sigma   float64 `json:"sigma"`
	Share   float64 `json:"share"`
	Without float64 `json:"without"`
}

// faultNames are what may be off of parts and support.
var faultNames = [assembly.Faults]string{"saddle widths", "saddle heights", "support", "bar x", "bar y", "lever along", "lever out", "clipon x", "clipon y"}

// causeOf names a cause of uncertainty; index is that of a reading, else 0.
func causeOf(a *locate.Adjustment, stand *locate.Standing, c *carry.Cause) (index int, name string) {
	half := map[assembly.Body]string{assembly.Saddle: "saddle", assembly.Bar: "bar"}[c.Body]
	switch c.Kind {
	case locate.ByFault:
		return 0, faultNames[c.Fault]
	case locate.ByClamp:
		return 0, "assumed clamp of the " + half
	case locate.ByAnchor:
		return 0, "anchor of the " + half
	}
	if c.Of == carry.OfTarget {
		a = stand.Adjusted
	}
	if o := a.Observations[c.Observation]; o.Reading != nil {
		return o.Reading.Index, o.Name
	}
	return 0, a.Called(c.Observation)
}

func unitOf(turns bool) (string, func(float64) float64) {
	if turns {
		return "deg", plane.Deg
	}
	return "mm", func(v float64) float64 { return v }
}

// NewSpread is the uncertainty of a solution as JSON.
func NewSpread(u *carry.Uncertainty) *Spread {
	s := &Spread{AnchorSigma: u.AnchorSigma, Settings: []SettingSpread{}, Contacts: []ContactSpread{}}
	for _, k := range u.Settings {
		unit, show := unitOf(k.Turns)
		s.Settings = append(s.Settings, SettingSpread{k.Name, unit, show(k.Readings), show(k.Anchor), show(k.Setting)})
	}
	for _, k := range u.Contacts {
		s.Contacts = append(s.Contacts, ContactSpread{string(k.Name), k.WantX, k.WantY, plane.Deg(k.WantAngle), k.Miss,
			plane.Deg(k.MissAngle), k.PlaceX, k.PlaceY, plane.Deg(k.PlaceAngle)})
	}
	return s
}

// NewDraws is a Monte Carlo run as JSON.
func NewDraws(d *carry.Draws) *Draws {
	drawn := func(k carry.Drawn) Drawn {
		unit, show := unitOf(k.Turns)
		return Drawn{k.Name, unit, show(k.Mean), show(k.Sigma), show(k.Lo), show(k.Hi), k.In}
	}
	out := &Draws{Draws: d.N, Void: d.Void, Seed: d.Seed, Carried: d.Carried, Settings: []Drawn{}, Misses: []Drawn{},
		Error: drawn(d.Error), Choices: []DrawnChoice{}}
	for _, k := range d.Settings {
		out.Settings = append(out.Settings, drawn(k))
	}
	for _, k := range d.Misses {
		out.Misses = append(out.Misses, drawn(k))
	}
	for _, c := range d.Choices {
		out.Choices = append(out.Choices, DrawnChoice{c.Name, c.Chosen, c.Other, c.Next, c.NextIn})
	}
	return out
}

// NewBlame is where the settings' uncertainty comes from, as JSON.
func NewBlame(s *carry.Solution, a *locate.Adjustment, stand *locate.Standing, blame [][]carry.Contribution) []Blame {
	var out []Blame
	for k, set := range s.Settings {
		unit, show := unitOf(set.Turns())
		b := Blame{Adjuster: set.Name, Unit: unit, Sigma: show(set.SigmaTotal), Shares: []BlameShare{}}
		for _, c := range blame[k] {
			share := BlameShare{Of: [...]string{"source", "target", "both"}[c.Of], Sigma: show(c.Sigma), Share: c.Share, Without: show(c.Without)}
			share.Index, share.Name = causeOf(a, stand, c.Cause)
			b.Shares = append(b.Shares, share)
		}
		out = append(out, b)
	}
	return out
}

// spread writes what was asked for with --draws and --blame.
func (p *page) spread(s *Spread) {
	if s == nil {
		return
	}
	p.heading("How sure (± is one standard uncertainty)")
	p.line("  setting              from readings      machine's anchor   setting it")
	for _, k := range s.Settings {
		p.line("  " + name(settingName(k.Adjuster), 20) + right("± "+amount(k.Readings, k.Unit), 14) +
			right("± "+amount(k.Anchor, k.Unit), 20) + right("± "+amount(k.Setting, k.Unit), 13))
	}
	for _, c := range s.Contacts {
		p.para("  ", fmt.Sprintf("%s: the place wanted is known to ± %s mm forward and ± %s mm up; anchor and adjusters put it there to ± %s and ± %s mm.%s",
			c.Contact, num(c.WantX, 1), num(c.WantY, 1), num(c.PlaceX, 1), num(c.PlaceY, 1), stillOpen(c)))
	}
	p.para("  ", fmt.Sprintf("The anchors of the machine are taken as ± %s mm each way.", num(s.AnchorSigma, 1)))
	p.draws(s.Draws)
	p.blame(s.Blame)
}

func stillOpen(c ContactSpread) string {
	if c.Miss == 0 {
		return ""
	}
	return " What it misses by is known to ± " + num(c.Miss, 1) + " mm."
}

func (p *page) draws(d *Draws) {
	if d == nil {
		return
	}
	p.heading(fmt.Sprintf("%d draws of the readings, each adjusted and solved anew (seed %d)", d.Draws, d.Seed))
	p.line("  setting                   mean        ±        95 % of them between")
	for _, k := range d.Settings {
		p.line("  " + name(settingName(k.Name), 20) + right(amount(k.Mean, k.Unit), 11) + right(amount(k.Sigma, k.Unit), 10) +
			right(num(k.Low, 1), 12) + " and " + amount(k.High, k.Unit))
	}
	for _, k := range d.Settings {
		if k.In < 1 {
			p.para("  ", fmt.Sprintf("%s is there in %s; the others come out with parts that do not have it.",
				settingName(k.Name), inDraws(k.In, d.Draws)))
		}
	}
	p.para("  ", fmt.Sprintf("Carried in %s.", inDraws(d.Carried, d.Draws)))
	if d.Void > 0 {
		p.para("  ", fmt.Sprintf("%d more draws have no answer.", d.Void))
	}
	for _, c := range d.Choices {
		text := fmt.Sprintf("%s: %s in %s", diag.Shorten(settingName(c.Choice), 30), diag.Shorten(c.Chosen, 30), inDraws(1-c.Other, d.Draws))
		if c.Next != "" {
			text += fmt.Sprintf("; next %s in %s%s%%", diag.Shorten(c.Next, 30), percent(c.NextIn), noBreak)
		}
		p.para("  ", text+".")
	}
}

// inDraws is a share of n draws in words.
func inDraws(share float64, n int) string {
	switch share {
	case 1:
		return fmt.Sprintf("all %d draws", n)
	case 0:
		return fmt.Sprintf("none of %d draws", n)
	}
	return fmt.Sprintf("%s%s%% of %d draws", percent(share), noBreak, n)
}

// percent is a share in hundredths; what is neither all nor nothing never reads as such.
func percent(share float64) string {
	switch v := 100 * share; {
	case v > 0 && v < 0.1:
		return "fewer than 0.1"
	case v < 100 && v > 99.9:
		return "more than 99.9"
	default:
		return strings.TrimSuffix(num(v, 1), ".0")
	}
}

func (p *page) blame(list []Blame) {
	if len(list) == 0 {
		return
	}
	p.heading("Which readings the uncertainty comes from")
	for _, b := range list {
		if b.Sigma == 0 {
			p.para("  ", settingName(b.Adjuster)+": none; a stop, a step or the file holds it.")
			continue
		}
		var parts []string
		rest := 1.0
		for _, s := range b.Shares {
			if s.Share < 0.02 || len(parts) == 5 {
				break
			}
			parts = append(parts, fmt.Sprintf("%s %s %%", diag.Shorten(s.Name, 40), num(100*s.Share, 0)))
			rest -= s.Share
		}
		text := fmt.Sprintf("%s ± %s: %s", diag.Shorten(settingName(b.Adjuster), 30), amount(b.Sigma, b.Unit), strings.Join(parts, ", "))
		if rest > 0.005 {
			text += fmt.Sprintf(", others %s %%", num(100*rest, 0))
		}
		p.para("  ", text+".")
	}
}
