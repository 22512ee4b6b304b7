package job

import (
	"context"

	"carryover/internal/bike"
	"carryover/internal/body"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Ride is a rider on a bike, and on another that the position is carried to. Lengths mm, angles degrees; a bend of 0 is
// straight.
type Ride struct {
	Schema   int            `json:"schema"`
	Bike     string         `json:"bike"`
	To       string         `json:"to,omitempty"`
	Rider    string         `json:"rider"`
	Lengths  []body.Length  `json:"lengths"`
	Foot     body.Pitch     `json:"foot"`
	Elbow    plane.Angle    `json:"elbow_assumed"`
	Postures []body.Posture `json:"postures"`
	Notes    []string       `json:"notes"`
	Told
	Versions []bike.Version `json:"versions"`
	Carry    *Carry         `json:"-"` // nil: no other bike
	Source   *Source        `json:"-"`
}

// Ride puts a rider on a bike in the postures asked for, and with q.To on that one too. The turn is listed each step of the
// crank, radians; 0: not at all.
func (f *Files) Ride(ctx context.Context, q Asked, h body.Habits, step float64) (*Ride, error) {
	segments, err := body.NewSegments(q.Rider)
	if err != nil {
		return nil, err
	}
	r := &Ride{Schema: 1, Bike: q.From, To: q.To, Rider: q.Rider.File, Lengths: segments.Lengths(), Foot: h.Pitch,
		Elbow: plane.Angle(h.Elbow), Notes: body.Notes}
	if q.To != "" {
		if r.Carry, err = f.Carry(ctx, q); err != nil {
			return nil, err
		}
		r.Source = r.Carry.Source
		for _, k := range r.Carry.Results {
			r.Postures = append(r.Postures, body.Posture{Posture: k.Position.Posture.Name, Stages: k.Stages(segments, h)})
		}
	} else {
		if r.Source, err = f.Source(q.From, q.Rider, locate.Options{}); err != nil {
			return nil, err
		}
		asked, err := r.Source.Every(q.Posture)
		if err != nil {
			return nil, err
		}
		for _, p := range asked {
			r.Postures = append(r.Postures, body.Posture{Posture: p.Name,
				Stages: []body.Stage{segments.On(p.Position, r.Source.Adjusted.Placement.Layout, h)}})
		}
	}
	r.Told, r.Versions = tell(r.Source.read()), r.Source.Bike.Versions(nil)
	if r.Carry != nil {
		r.Told, r.Versions = r.Carry.Told(), r.Carry.Versions()
	}
	for _, p := range r.Postures {
		segments.List(p.Stages, step)
	}
	return r, nil
}

// Closes reports whether the rider fits on every bike in every posture.
func (r *Ride) Closes() bool {
	for _, p := range r.Postures {
		if !p.Closes() {
			return false
		}
	}
	return true
}
