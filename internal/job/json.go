package job

import (
	"encoding/json"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// MarshalJSON writes a carry: section 8 of the format.
func (c *Carry) MarshalJSON() ([]byte, error) {
	k := carry.Keys{"schema": 1, "from": c.Bike.File, "to": c.Target.File, "from_name": c.Bike.Name, "to_name": c.Target.Name,
		"suspects": c.Adjusted.Findings(), "results": c.Results, "versions": c.Versions()}
	if len(c.Failed) > 0 {
		k["failed"] = failures(c.Failed)
	}
	return json.Marshal(k)
}

// failures are postures that could not be worked out.
type failures []Posture

// MarshalJSON writes each with why.
func (f failures) MarshalJSON() ([]byte, error) {
	list := []carry.Keys{}
	for _, p := range f {
		list = append(list, carry.Keys{"posture": p.Name, "why": p.Err.Error()})
	}
	return json.Marshal(list)
}

// MarshalJSON writes one posture carried, with what a rider reads beside the settings.
func (r *Result) MarshalJSON() ([]byte, error) {
	s, told := r.Solution, tell(r.Source.read(), stood(r.Target, r.Standing, true))
	k := carry.Keys{"posture": s.Position.Posture.Name, "carried": s.Carried(), "combinations": s.Combinations, "proven": s.Proven,
		"crank": s.Want.Crank, "error": s.E, "second_error": nil, "parts": append([]carry.Part{}, s.Parts...), "checks": r.Checks,
		"hands": s.Position.Posture.Hands, "support": s.Position.Posture.Support, "crank_source": r.Source.Bike.Feet.Crank,
		"crank_fitted": s.Target.Feet.Crank, "foot_stack": s.Target.Feet.SoleHeight - r.Source.Bike.Feet.SoleHeight,
		"shift": carry.Shift(s.Want.Shift), "hands_follow": !s.Options.HandsFixed, "why": r.Why, "cures": r.cures(),
		"lacks": append([]carry.Ailment{}, r.Ails...), "assumptions": told.Assumptions, "to_suspects": told.ToSuspects,
		"warnings": append(append([]carry.Warning{}, s.Warnings...), told.Warnings...)}
	if !math.IsNaN(s.Second) {
		k["second_error"] = s.Second
	}
	if own := s.Alone; own != nil {
		k["alone"] = carry.Keys{"carried": own.Carried(), "error": own.E, "parts": append([]carry.Part{}, own.Parts...)}
	}
	k["references"], k["ambiguity"] = s.References(r.Source.Adjusted.Placement)
	if s.Options.SeatTube {
		from, to := s.SeatTubes(r.Source.Adjusted.Placement)
		k["seat_tube"] = carry.Keys{"source": from, "target": to}
	}
	contacts, held := []carry.Keys{}, []carry.Keys{}
	for i, c := range s.Contacts {
		contacts = append(contacts, c.Keys(r.Sure[i]))
		if by := s.HeldBy(c); len(by) > 0 {
			held = append(held, carry.Keys{"contact": c.Want.Name, "settings": by})
		}
	}
	k["contacts"], k["held"], k["settings"], k["order"], k["couplings"] = contacts, held, r.settings(), r.order(), r.couplings()
	if s.Position.Posture.Hands == bike.Pad {
		k["pads"] = carry.Keys{"spacing": r.Spacing, "gap": r.clampGap(), "floor": r.floor()}
	}
	if r.Draws != nil || r.Blame != nil {
		spread := r.spread()
		if r.Draws != nil {
			spread["draws"] = r.Draws
		}
		if r.Blame != nil {
			spread["blame"] = r.blame()
		}
		k["spread"] = spread
	}
	if r.Others != nil {
		others := []carry.Keys{}
		for _, o := range r.Others[1:] {
			others = append(others, alternative(o, r.Others[0]))
		}
		k["alternatives"], k["alternatives_proven"] = others, r.OthersProven
	}
	if r.Stems != nil {
		stems := []carry.Keys{}
		for _, o := range r.Stems {
			stem := carry.Keys{"error": o.E, "carried": o.Carried()}
			for _, p := range o.Parts {
				if p.Slot == "stem" {
					stem["part"], stem["flip"] = p.ID, p.Flip
				}
			}
			fitted := o.Fitted().Stem
			stem["length"], stem["angle"] = fitted.Length, plane.Angle(fitted.Angle)
			for _, set := range o.Settings {
				switch set.Sets {
				case bike.SetsSpacers:
					stem["spacers"] = set.Travel
				case bike.SetsRotation:
					stem["rotation"] = plane.Angle(set.Zero + set.Travel)
				}
			}
			stems = append(stems, stem)
		}
		k["stems"], k["stems_proven"] = stems, r.StemsProven
	}
	if r.Front != nil {
		k["prefer"] = prefer(r.Front)
	}
	if r.Body != nil {
		k["body"] = r.Body
	}
	return json.Marshal(k)
}

// cures are what would cure anything that ails, in the order of carry.Cure.Compare.
func (r *Result) cures() []carry.Cure {
	list := []carry.Cure{}
	for _, a := range r.Ails {
		list = append(list, a.Cures...)
	}
	slices.SortStableFunc(list, carry.Cure.Compare)
	return list
}

// clampGap is what the clamps of the clip-on leave and what would make room, nil where there is room; mm.
func (r *Result) clampGap() any {
	if r.GapShort <= 0 {
		return nil
	}
	k := carry.Keys{"gap": r.clipon().Gap, "width": *r.Target.Bar.ClampWidth, "short": r.GapShort, "spacing": 0.0, "outward": 0.0}
	mounts := []carry.Keys{}
	for _, a := range r.Ails {
		for _, c := range a.Cures {
			switch p := c.Solution.Spacing(r.Source.Bike); {
			case c.Kind == carry.CureGap && p != nil && r.Spacing != nil:
				k["spacing"], k["outward"] = p.Target, (p.Target-r.Spacing.Target)/2
			case a.Gap && c.Kind == carry.CureClipon:
				mounts = append(mounts, carry.Keys{"part": c.Part.ID, "gap": c.Solution.Placement.Layout.Clipon.Gap, "error": c.Solution.E,
					"carried": c.Solution.Carried()})
			}
		}
	}
	k["mounts"] = mounts
	return k
}

// of is a travel of a setting, mm or degrees.
func of(set *carry.Setting, travel float64) plane.Quantity {
	return plane.QuantityOf(set.Turns(), travel)
}

// mark is what the scale of a setting shows; null without one; what has no adjuster counts in mm or degrees itself.
func mark(set *carry.Setting) any {
	if set.Adjuster >= 0 && !set.Scale {
		return nil
	}
	return set.Mark()
}

// keys are where a setting stands on a bike: its travel in mm or degrees, its mark in units of its scale.
func keys(set *carry.Setting, on *bike.Bike) carry.Keys {
	q := of(set, set.Travel)
	k := carry.Keys{"adjuster": set.Name, "mark": set.Mark(), "travel": q, "unit": q.Unit(), "per_mark": q.Of(set.Unit), "scale": set.Scale,
		"step": 0.0}
	if set.Adjuster >= 0 {
		k["step"] = on.Adjusters[set.Adjuster].Step
		if lo, hi := math.Floor(set.Mark()), math.Ceil(set.Mark()); set.Scale && set.Step == 0 && hi > lo {
			k["between"] = [2]float64{lo, hi}
		}
	}
	return k
}

// settings are what is set, each with what it takes to set it.
func (r *Result) settings() []carry.Keys {
	list := []carry.Keys{}
	for i := range r.Settings {
		set := &r.Settings[i]
		k, q := keys(set, r.Target), of(set, set.Travel)
		k["mark"], k["sigma"], k["sigma_total"], k["limit"] = mark(set), q.Of(set.Sigma), q.Of(set.SigmaTotal), set.Limit
		k["range"], k["from_mark"], k["idle"] = [2]plane.Quantity{q.Of(set.Lo), q.Of(set.Hi)}, nil, r.Idle(set.Settable)
		k["move"], k["toward"], k["moves"] = nil, set.Towards(1), "hands"
		if set.Sets.OnSaddle() {
			k["moves"] = "sit"
		}
		if set.Adjuster >= 0 {
			a := &r.Target.Adjusters[set.Adjuster]
			k["range"] = [2]float64{a.Lo, a.Hi}
			if from, ok := r.Target.Marks[a.Name]; ok {
				k["from_mark"] = from
			}
			if a.ByTape {
				k["travel"] = nil
			}
			if tape := r.taped(i); tape != nil && !set.Scale {
				k["tape"] = tape
			}
		}
		if move, ok := set.Move(); ok {
			k["move"], k["toward"] = q.Of(move), set.Towards(move)
		}
		list = append(list, k)
	}
	return list
}

// spread is how sure an answer is, the target's part apart from the source's.
func (r *Result) spread() carry.Keys {
	settings := []carry.Keys{}
	for i, set := range r.Settings {
		q := of(&set, set.Sigma)
		k := carry.Keys{"adjuster": set.Name, "unit": q.Unit(), "readings": q, "anchor": q.Of(r.ByAnchors(i)), "setting": 0.0}
		if set.Adjuster >= 0 {
			k["setting"] = q.Of(r.Target.Adjusters[set.Adjuster].Sigma)
		}
		settings = append(settings, k)
	}
	return carry.Keys{"anchor_sigma": r.Target.AnchorSigma, "settings": settings, "contacts": append([]carry.ContactSpread{}, r.Sure...)}
}

// taped is the reading of the step that sets a setting, with everything in place.
func (r *Result) taped(setting int) any {
	for _, step := range r.Steps {
		for _, i := range step.Settings {
			if i == setting {
				return step.Gauge.Check(step.Final)
			}
		}
	}
	return nil
}

func (r *Result) order() []carry.Keys {
	list := []carry.Keys{}
	for i, step := range r.Steps {
		settings, parts, disturbed := []string{}, []string{}, []int{}
		for _, k := range step.Settings {
			settings = append(settings, r.Settings[k].Name)
		}
		for _, k := range step.Parts {
			parts = append(parts, r.Parts[k].Slot)
		}
		for _, k := range step.Disturbed {
			disturbed = append(disturbed, k+1)
		}
		list = append(list, carry.Keys{"step": i + 1, "settings": settings, "parts": parts, "check": step.Gauge.Check(step.Foretold),
			"final": step.Final.Value, "disturbed": disturbed})
	}
	return list
}

func (r *Result) couplings() []carry.Keys {
	list := []carry.Keys{}
	for _, c := range r.Couplings {
		by, mend := r.Settings[c.By], r.Settings[c.Mend]
		q := of(&by, math.Abs(c.Amount))
		list = append(list, carry.Keys{"setting": by.Name, "move": q, "turns": by.Turns(), "toward": by.Towards(c.Amount),
			"measure": c.Measure.String(),
			"change":  c.Change, "mend": mend.Name, "mend_move": math.Abs(c.MendTravel), "mend_toward": mend.Towards(c.MendTravel)})
	}
	return list
}

// floor is the height of the pad centre above the floor on both bikes; null: a BB height is not given.
func (r *Result) floor() any {
	a, b := r.Source.Bike.Frame.BBHeight, r.Target.Frame.BBHeight
	if a == nil || b == nil {
		return nil
	}
	return carry.Keys{"source": r.Position.Hands.At.Y + *a, "target": r.Contacts[1].Got.At.Y + *b, "bb_higher": *b - *a}
}

// faultNames are what may be off of parts and support.
var faultNames = [assembly.Faults]string{"saddle widths", "saddle heights", "support", "bar x", "bar y", "lever along", "lever out",
	"clipon x", "clipon y"}

// cause names a cause of uncertainty; index is that of a reading, else 0.
func (r *Result) cause(c *carry.Cause) (index int, name string) {
	half := map[assembly.Body]string{assembly.Saddle: "saddle", assembly.Bar: "bar"}[c.Body]
	switch c.Kind {
	case locate.ByFault:
		return 0, faultNames[c.Fault]
	case locate.ByClamp:
		return 0, "assumed clamp of the " + half
	case locate.ByAnchor:
		return 0, "anchor of the " + half
	}
	a := r.Source.Adjusted
	if c.Of == carry.OfTarget {
		a = r.Standing.Adjusted
	}
	if o := a.Observations[c.Observation]; o.Reading != nil {
		return o.Reading.Index, o.Name
	}
	return 0, a.Called(c.Observation)
}

// blame is where the settings' uncertainty comes from; share is of the variance, without is what is left once a cause is
// known exactly.
func (r *Result) blame() []carry.Keys {
	list := []carry.Keys{}
	for i, set := range r.Settings {
		sigma := of(&set, set.SigmaTotal)
		shares := []carry.Keys{}
		for _, c := range r.Blame[i] {
			index, name := r.cause(c.Cause)
			shares = append(shares, carry.Keys{"of": [...]string{"source", "target", "both"}[c.Of], "index": index, "name": name,
				"sigma": sigma.Of(c.Sigma), "share": c.Share, "without": sigma.Of(c.Without)})
		}
		list = append(list, carry.Keys{"adjuster": set.Name, "unit": sigma.Unit(), "sigma": sigma, "shares": shares})
	}
	return list
}

// alternative is one combination of parts with its best settings, and what each contact gives up against the best.
func alternative(s, best *carry.Solution) carry.Keys {
	settings, gives := []carry.Keys{}, []carry.Keys{}
	for _, set := range s.Settings {
		settings = append(settings, carry.Keys{"adjuster": set.Name, "mark": mark(&set), "travel": of(&set, set.Travel), "limit": set.Limit})
	}
	for i, c := range s.Contacts {
		if i < len(best.Contacts) && best.Contacts[i].Want.Name == c.Want.Name {
			b := best.Contacts[i]
			gives = append(gives, carry.Keys{"contact": c.Want.Name, "miss": c.Miss, "miss_angle": plane.Angle(c.MissAngle), "more": c.Miss - b.Miss,
				"more_angle": plane.Angle(math.Abs(c.MissAngle) - math.Abs(b.MissAngle))})
		}
	}
	return carry.Keys{"parts": append([]carry.Part{}, s.Parts...), "error": s.E, "carried": s.Carried(), "settings": settings,
		"gives_up": gives}
}

// prefer is the trade between changed parts and misses, compared with the least miss.
func prefer(f *carry.Front) carry.Keys {
	best := f.Trades[len(f.Trades)-1].Solution
	of := func(t carry.Trade) carry.Keys {
		k := alternative(t.Solution, best)
		k["changes"], k["changed"] = len(t.Changed), append([]carry.Change{}, t.Changed...)
		return k
	}
	trades := []carry.Keys{}
	for _, t := range f.Trades {
		trades = append(trades, of(t))
	}
	return carry.Keys{"by": "fitted", "proven": f.Proven, "carried": f.Preferred.Solution.Carried(), "trades": trades,
		"chosen": of(f.Preferred)}
}
