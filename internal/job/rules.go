package job

import (
	"context"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/rules"
)

// Judged is a bike held against the rules of an event: as it was read, or another one as it will stand with the position of the first.
type Judged struct {
	rules.Judgement                    // of several postures the one that keeps least
	To              string             `json:"to,omitempty"`
	Postures        []PostureJudgement `json:"postures,omitempty"` // with To: each as it is carried
	Told
	Versions []bike.Version `json:"versions"`
	Source   *Source        `json:"-"`
	Carry    *Carry         `json:"-"` // nil: no other bike
}

// PostureJudgement is a carried posture held against the rules.
type PostureJudgement struct {
	Posture string `json:"posture"`
	Carried bool   `json:"carried"`
	rules.Judgement
	Result *Result `json:"-"`
}

// Scrutineer is what a bike is held against, and what its file cannot say.
type Scrutineer struct {
	Event  *rules.Event
	Tips   rules.Tips
	Height float64 // the rider's, standing, mm; 0: as their file says, if it does
}

// Rules holds the bike q.From against the rules of an event; with q.To that one, as it carries the postures asked for.
func (f *Files) Rules(ctx context.Context, q Asked, by Scrutineer) (*Judged, error) {
	if by.Height == 0 && q.Rider != nil && q.Rider.Body.Height != nil {
		by.Height = *q.Rider.Body.Height
	}
	if q.To == "" {
		s, err := f.Source(q.From, q.Rider, locate.Options{})
		if err != nil {
			return nil, err
		}
		j := &Judged{Source: s, Told: tell(s.read()), Versions: s.Bike.Versions(nil)}
		j.Judgement = rules.Judge(by.Event, rules.Take(s.Adjusted.Placement.Layout, s.Adjusted.Reads, by.Tips), by.Height)
		j.Bike = q.From
		return j, nil
	}
	c, err := f.Carry(ctx, q)
	if err != nil {
		return nil, err
	}
	j := &Judged{To: q.To, Source: c.Source, Carry: c, Told: c.Told(), Versions: c.Versions()}
	for _, r := range c.Results {
		found := rules.Take(r.Placement.Layout, r.Solution.Reads, by.Tips)
		p := PostureJudgement{r.Position.Posture.Name, r.Solution.Carried(), rules.Judge(by.Event, found, by.Height), r}
		p.Bike = q.From
		j.Postures = append(j.Postures, p)
	}
	j.Judgement = j.Least().Judgement
	return j, nil
}

// Least is the carried posture that keeps least of the rules.
func (j *Judged) Least() PostureJudgement {
	return slices.MaxFunc(j.Postures, func(a, b PostureJudgement) int { return a.Verdict.Worse(b.Verdict) })
}
