package job

import (
	"context"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/envelope"
	"carryover/internal/locate"
)

// Envelope is what a machine can be set to, and the room left around positions on it.
type Envelope struct {
	Schema   int                `json:"schema"`
	Bike     string             `json:"bike"`
	Fitted   []string           `json:"fitted"`  // taken for fitted, being the first of an open slot
	Unbound  []string           `json:"unbound"` // adjusters that no stop is known of
	Extremes []envelope.Extreme `json:"extremes"`
	Regions  []envelope.Region  `json:"regions"`
	For      []envelope.Around  `json:"for"`
	Told
	Versions []bike.Version `json:"versions"`
	Machine  *bike.Bike     `json:"-"`
	Source   *Source        `json:"-"` // nil: no position was asked about
}

// Envelope measures the machine q.To, and the room around the postures of q.From where that is not "".
func (f *Files) Envelope(ctx context.Context, q Asked) (*Envelope, error) {
	b, err := f.Bike(q.To)
	if err != nil {
		return nil, err
	}
	on := []Read{{Bike: b, Other: q.From != ""}}
	if len(b.Readings) > 0 {
		p := bike.Posture{Hands: bike.Hood}
		if len(b.Postures) > 0 {
			p = b.Postures[0]
		}
		if stand, err := locate.Stand(b, q.Rider, p); err == nil {
			on = []Read{stood(b, stand, q.From != "")}
			// Without anchors it is where it stands. One that only a tape could set says nothing of what it can be.
			if (b.SaddleAnchor == nil || b.BarAnchor == nil && b.Stem == nil) && len(stand.Bike.Adjusters) == len(b.Adjusters) {
				b = stand.Bike
			}
		}
	}
	m, err := envelope.New(b)
	if err != nil {
		return nil, err
	}
	e := &Envelope{Schema: 1, Bike: q.To, Fitted: append([]string{}, m.Fitted...), Unbound: append([]string{}, m.Unbound...),
		Regions: m.Regions(), For: []envelope.Around{},
		Machine: b, Told: tell(on...), Versions: b.Versions(nil)}
	if e.Extremes, err = m.Extremes(ctx); err != nil || q.From == "" {
		return e, err
	}
	if e.Source, err = f.Source(q.From, q.Rider, locate.Options{}); err != nil {
		return nil, err
	}
	e.Told, e.Versions = tell(append([]Read{e.Source.read()}, on...)...), append(e.Source.Bike.Versions(nil), e.Versions...)
	asked, err := e.Source.Every(q.Posture)
	if err != nil {
		return nil, err
	}
	for _, p := range asked {
		a := envelope.Around{From: q.From, Posture: p.Name, Missing: []bike.Contact{}}
		if a.Rooms, a.Crank, err = m.Rooms(ctx, p.Position, e.Source.Bike, q.Options); err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(a.Rooms, func(r envelope.Room) bool { return r.Want.Name == p.Hands }) {
			a.Missing = append(a.Missing, p.Hands)
		}
		e.For = append(e.For, a)
	}
	return e, nil
}
