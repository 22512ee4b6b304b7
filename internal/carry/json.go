package carry

import (
	"encoding/json"

	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Keys is an object of JSON.
type Keys map[string]any

// MarshalJSON writes a check reading, mm or degrees; its name is what the trade calls it.
func (c Check) MarshalJSON() ([]byte, error) {
	k := c.keys()
	k["kind"] = c.Reading.Kind.String()
	switch c.Reading.Kind {
	case bike.Angle:
		k["of"] = c.Reading.Of.String()
	case bike.SeatTube:
	default:
		k["from"], k["to"] = c.Reading.From, c.Reading.To
	}
	if c.Reading.Written != "" {
		k["name"] = c.Reading.Written
	}
	return json.Marshal(k)
}

// keys are the numbers of what is foretold, mm or degrees.
func (f Foretold) keys() Keys {
	return Keys{"value": f.Value, "sigma": f.Value.Of(f.Sigma), "sigma_total": f.Value.Of(f.SigmaTotal)}
}

// Check is what a gauge will show as a check; nil when nothing can be read.
func (g Gauge) Check(f Foretold) any {
	k := f.keys()
	k["kind"] = "line"
	switch g.Own {
	case "crank":
		k["from"], k["to"] = "bb", "pedal"
	case "clamp":
		k["from"], k["to"] = "saddle.nose", "clamp"
	case "":
		return Check{g.Reading, f}
	default:
		return nil
	}
	return k
}

// Keys are what became of a contact; of a second contact no angle is wanted. sure is what the source's readings leave open
// in the miss.
func (c Carried) Keys(sure ContactSpread) Keys {
	want, got := c.Want, c.Got
	if !c.Primary {
		want, got = want.Placed(), got.Placed()
	}
	return Keys{"contact": c.Want.Name, "primary": c.Primary, "want": want, "got": got, "miss": c.Miss, "miss_angle": plane.Angle(c.MissAngle),
		"miss_sigma": sure.Miss, "miss_angle_sigma": plane.Angle(sure.MissAngle), "carried": c.Carried}
}

// MarshalJSON writes a contact whose sureness is not worked out.
func (c Carried) MarshalJSON() ([]byte, error) { return json.Marshal(c.Keys(ContactSpread{})) }

// measures are customary numbers by their keys, null where they are not known on both bikes.
func (w *Why) measures(v [Measures]float64) Keys {
	k := Keys{}
	for m, key := range [Measures]string{"setback", "saddle_height", "reach", "drop", "nose_to_bar", "floor_height"} {
		k[key] = nil
		if w.Known[m] {
			k[key] = v[m]
		}
	}
	return k
}

// MarshalJSON writes why the numbers changed: the swaps add up to target less source, in this order.
func (w Why) MarshalJSON() ([]byte, error) {
	swaps := []Keys{}
	for _, s := range w.Swaps {
		k := w.measures(s.By)
		k["cause"] = s.Cause
		swaps = append(swaps, k)
	}
	return json.Marshal(Keys{"source": w.measures(w.Source), "target": w.measures(w.Target), "swaps": swaps})
}

// Shift is a displacement in words' directions, mm.
func Shift(d plane.Point) Keys { return Keys{"forward": d.X, "up": d.Y} }

// MarshalJSON writes a reference on both bikes: its distance behind the BB, its height above it and the straight way.
func (r ReferenceRow) MarshalJSON() ([]byte, error) {
	at := func(p plane.Point) Keys { return Keys{"setback": -p.X, "height": p.Y, "line": p.Norm()} }
	return json.Marshal(Keys{"reference": r.Name, "source": at(r.Source), "target": at(r.Target), "away": Shift(r.Away)})
}

// MarshalJSON writes by how much the references disagree.
func (a Ambiguity) MarshalJSON() ([]byte, error) {
	k := Keys{"level": a.Level, "plumb": a.Plumb, "usual": nil}
	if a.UsualOK {
		k["usual"] = Shift(a.Usual)
	}
	return json.Marshal(k)
}

// MarshalJSON writes how far apart the pads come to stand.
func (p *PadSpacing) MarshalJSON() ([]byte, error) {
	k := Keys{"source": p.Source, "target": p.Target, "outward": nil, "fixed": p.Fixed, "choices": p.Choices}
	if each, ok := p.Outward(); ok {
		k["outward"] = each
	}
	return json.Marshal(k)
}

// MarshalJSON writes what a contact lacks; by itself, a single change would do.
func (a Ailment) MarshalJSON() ([]byte, error) {
	return json.Marshal(Keys{"contact": a.Contact, "gap": a.Gap, "forward": a.Lack.Place.X, "up": a.Lack.Place.Y,
		"angle": plane.Angle(a.Lack.Turn), "single": a.Single()})
}

// MarshalJSON writes how sure a contact is.
func (c ContactSpread) MarshalJSON() ([]byte, error) {
	return json.Marshal(Keys{"contact": c.Name, "want_x": c.WantX, "want_y": c.WantY, "want_angle": plane.Angle(c.WantAngle), "miss": c.Miss,
		"miss_angle": plane.Angle(c.MissAngle), "place_x": c.PlaceX, "place_y": c.PlaceY, "place_angle": plane.Angle(c.PlaceAngle)})
}

// MarshalJSON writes one drawn number; low to high holds 95 % of the draws.
func (d Drawn) MarshalJSON() ([]byte, error) {
	return json.Marshal(Keys{"name": d.Name, "unit": d.Mean.Unit(), "mean": d.Mean, "sigma": d.Sigma, "low": d.Lo, "high": d.Hi})
}

// MarshalJSON writes what many draws come to.
func (d *Draws) MarshalJSON() ([]byte, error) {
	choices := []Keys{}
	for _, c := range d.Choices {
		k := Keys{"choice": c.Name, "chosen": c.Chosen, "other": c.Other}
		if c.Next != "" {
			k["next"], k["next_share"] = c.Next, c.NextIn
		}
		choices = append(choices, k)
	}
	return json.Marshal(Keys{"draws": d.N, "void": d.Void, "seed": d.Seed, "carried": d.Carried, "settings": append([]Drawn{}, d.Settings...),
		"misses": append([]Drawn{}, d.Misses...), "error": d.Error, "choices": choices})
}
