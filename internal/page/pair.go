package page

import (
	"net/url"
	"slices"

	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/job"
)

// pair is what is carried where, and how, with what there is to choose from: what the flags of `carryover carry` say.
type pair struct {
	From, To, Posture, Rider string
	Knee, Fixed              bool     // another crank keeps the knee's angle; the hands stay
	PostureNames             []string // of FROM
	Sources, Targets, Riders []card
	Wrong                    *trouble // why nothing can be told of it
}

// paired is a page about a pair, worked out once both bikes are chosen.
func (v *visit) paired(name, title, wrong string, p *pair, page any, work func(*visit) error) Response {
	var err error
	if *p, err = v.pair(); err != nil {
		return v.problem(StatusFailed, "The folder cannot be read", err)
	}
	status := StatusOK
	if p.From != "" && p.To != "" {
		if err := work(v); err != nil {
			p.Wrong, status = newTrouble(wrong, err), StatusUnprocessed
		}
	}
	return v.show(status, name, title, page)
}

func (v *visit) pair() (pair, error) {
	list, err := v.list()
	p := pair{From: v.get("from"), To: v.get("to"), Posture: v.get("posture"), Rider: v.get("rider"), Knee: v.get("policy") == "knee",
		Fixed: v.get("hands") == "fixed", Riders: list.riders}
	for _, c := range slices.Concat(list.own, list.examples) {
		if c.Wrong != nil {
			continue
		}
		p.Targets = append(p.Targets, c)
		if len(c.Postures) > 0 {
			p.Sources = append(p.Sources, c)
		}
	}
	if p.From == "" && p.To != "" {
		p.From = only(list.own, p.To)
	}
	for _, c := range p.Sources {
		if c.File == p.From {
			p.PostureNames = c.Postures
		}
	}
	if !slices.Contains(p.PostureNames, p.Posture) { // of the bike that was chosen before
		p.Posture = ""
	}
	return p, err
}

// only is the one bike of one's own, beside another, that a position can be carried from; "" where there is a choice.
func only(own []card, but string) string {
	found := ""
	for _, c := range own {
		switch {
		case c.File == but || c.Wrong != nil || len(c.Postures) == 0:
		case found != "":
			return ""
		default:
			found = c.File
		}
	}
	return found
}

// Chosen is the pair as a query.
func (p *pair) Chosen() url.Values {
	q := url.Values{}
	for name, value := range map[string]string{"from": p.From, "to": p.To, "posture": p.Posture, "rider": p.Rider,
		"policy": map[bool]string{true: "knee"}[p.Knee], "hands": map[bool]string{true: "fixed"}[p.Fixed]} {
		if value != "" {
			q.Set(name, value)
		}
	}
	return q
}

// In is the pair as a query, in one of the postures.
func (p *pair) In(posture string) url.Values {
	k := *p
	k.Posture = posture
	return k.Chosen()
}

// Short is a name of a posture in a list.
func (p *pair) Short(name string) string { return diag.Shorten(name, 22) }

// asked is the pair as a job.
func (p *pair) asked(v *visit) (q job.Asked, err error) {
	q = job.Asked{From: p.From, To: p.To, Posture: p.Posture, Options: carry.Options{HandsFixed: p.Fixed}}
	if p.Knee {
		q.Options.Policy = carry.KeepKnee
	}
	q.Rider, err = v.files.Rider(p.Rider)
	return q, err
}

// carried is the pair's job.
func (p *pair) carried(v *visit) (*job.Carry, error) {
	q, err := p.asked(v)
	if err != nil {
		return nil, err
	}
	return v.files.Carry(v.ctx, q)
}
