package job

import (
	"context"
	"fmt"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/confirm"
	"carryover/internal/locate"
)

// Felt is a change made by feel on one bike, taken to another. Lengths mm, angles degrees.
type Felt struct {
	Schema  int    `json:"schema"`
	From    string `json:"from"`
	To      string `json:"to"`
	Posture string `json:"posture"`
	*confirm.Felt
	Suspects    []locate.Finding `json:"suspects"` // of TO
	Assumptions []string         `json:"assumptions"`
	Versions    []bike.Version   `json:"versions"`
	On, Other   *bike.Bike       `json:"-"`
}

// Felt takes what was moved on q.From, each as confirm.Feel reads it, to q.To.
func (f *Files) Felt(ctx context.Context, q Asked, moved []string) (*Felt, error) {
	from, err := f.Bike(q.From)
	if err != nil {
		return nil, err
	}
	to, err := f.Bike(q.To)
	if err != nil {
		return nil, err
	}
	if from, to, err = locate.ShareSag(from, to); err != nil {
		return nil, err
	}
	supported(from, q.Rider)
	supported(to, q.Rider)
	here, there, err := ridden(from, to, q.Posture)
	if err != nil {
		return nil, err
	}
	felt, err := confirm.Feel(ctx, from, to, q.Rider, here, there, moved)
	if err != nil {
		return nil, err
	}
	a := felt.Standing.Adjusted
	return &Felt{Schema: 1, From: q.From, To: q.To, Posture: there.Name, Felt: felt, Suspects: a.Findings(),
		Assumptions: append([]string{}, a.Trusted()...), Versions: append(from.Versions(nil), to.Versions(nil)...), On: from, Other: to}, nil
}

// ridden is the posture of each bike: TO's that was asked for or its first, and the same of FROM, else one with the same
// hands. A machine without postures is ridden as the other bike.
func ridden(from, to *bike.Bike, name string) (here, there bike.Posture, err error) {
	list := to.Postures
	if len(list) == 0 {
		list = from.Postures
	}
	if len(list) == 0 {
		return here, there, fmt.Errorf("neither bike has a posture: add [posture.road] with hands and support to %s", to.File)
	}
	there = list[0]
	if name != "" {
		i := slices.IndexFunc(list, func(p bike.Posture) bool { return p.Name == name })
		if i < 0 {
			return here, there, (&Source{Bike: &bike.Bike{File: to.File, Postures: list}}).noPosture(name)
		}
		there = list[i]
	}
	for _, p := range from.Postures {
		if p.Name == there.Name {
			return p, there, nil
		}
	}
	for _, p := range from.Postures {
		if p.Hands == there.Hands {
			return p, there, nil
		}
	}
	return there, there, nil
}
