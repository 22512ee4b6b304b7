package confirm

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/written"
)

// Move is a setting that was moved, or is to be, mm or radians.
type Move struct {
	bike.Settable
	Before, After float64
	Sigma         float64 // standard uncertainty of how far it went; NaN: not worked out
	From, To      float64 // as its scale shows it; without a scale mm or degrees
	Toward        string  // where it goes, in a word or two
	// Tape is what to set an adjuster without a scale by, nil when no tape shows it: the reading with what it says now and then.
	Tape *Change
}

// to is something moved from where it stands.
func (m *movable) to(after float64) Move {
	k := Move{Settable: m.Settable, Before: m.now, After: after, Sigma: math.NaN(), From: m.Mark(m.now - m.offset),
		To: m.Mark(after - m.offset)}
	k.Toward = (&carry.Setting{Settable: m.Settable}).Towards(after - m.now)
	return k
}

// Travel is how far it went.
func (m *Move) Travel() plane.Quantity { return plane.QuantityOf(m.Turns(), m.After-m.Before) }

// within is how far past a stop a mark may be read, mm and radians: rounding.
const within = 1e-3

// ownSigma is how surely a setting without a scale is read, mm and radians (common practice: a tape, a level).
const (
	ownSigmaMM  = 0.5
	ownSigmaRad = 0.2 * math.Pi / 180
)

// moved reads what was moved: "saddle slide=3.0", the mark that its scale shows now; "saddle slide=-5mm", so far the way
// in which its marks rise; "saddle slide=5mm back", with the way in words. Angles are in degrees: "saddle tilt=-2°" where it
// has no scale is what it is now, "saddle tilt=0.5° nose down" how far it went.
func (k *rig) moved(text string) (m Move, err error) {
	name, value, ok := strings.Cut(text, "=")
	name, value = strings.TrimSpace(name), strings.TrimSpace(value)
	if !ok || name == "" || value == "" {
		return m, fmt.Errorf(`--moved is NAME=MARK or NAME=LENGTH, as in "saddle slide=3.0" or "saddle slide=5mm back", not %q`, text)
	}
	s, err := k.called(name)
	if err != nil {
		return m, err
	}
	sigma := ownSigmaMM
	if s.Turns() {
		sigma = ownSigmaRad
	}
	if s.Adjuster >= 0 && k.bike.Adjusters[s.Adjuster].Sigma > 0 {
		sigma = k.bike.Adjusters[s.Adjuster].Sigma
	}
	set := carry.Setting{Settable: s.Settable}
	number, way := value, 0.0
	for _, d := range [2]float64{1, -1} {
		if before, ok := strings.CutSuffix(value, " "+set.Towards(d)); ok {
			number, way = before, d
		}
	}
	goes := fmt.Sprintf("%s goes %s or %s", name, set.Towards(1), set.Towards(-1))
	read := written.Length
	if s.Turns() {
		read = written.Degrees
	}
	v, err := read(number)
	if err != nil {
		return m, fmt.Errorf("--moved %q: %w; %s", text, err, goes)
	}
	bare := strings.Trim(number, "+-.,0123456789 ") == ""
	by, after := v, s.now
	if s.Turns() {
		by = plane.Rad(v)
	}
	switch {
	case way != 0 && by < 0:
		return m, fmt.Errorf("--moved %q: %s", text, goes)
	case way != 0:
		after += by * way
	case s.Adjuster >= 0 && !bare:
		after += by
	case s.Adjuster >= 0 && !s.Scale:
		return m, fmt.Errorf("--moved %q: %s has no mark in %s to count from; say how far it went, as in %q", text, name, k.Bike.File,
			name+"=5mm "+set.Towards(1))
	default: // a mark, or what a setting without a scale is now; the error of both notes counts
		after = v*s.Unit + s.offset
		sigma *= math.Sqrt2
	}
	if s.Adjuster >= 0 && s.Stops && (after-s.offset > s.Hi+within || after-s.offset < s.Lo-within) {
		a := &k.bike.Adjusters[s.Adjuster]
		return m, fmt.Errorf("--moved %q: that is off the scale of %s, which runs from %g to %g", text, name, a.Lo, a.Hi)
	}
	m = s.to(after)
	m.Sigma = sigma
	return m, nil
}

// called finds what a person calls by the name of its adjuster, the key of the file or in words.
func (k *rig) called(name string) (*movable, error) {
	var names []string
	for i := range k.all {
		s := &k.all[i]
		if strings.EqualFold(s.Name, name) || strings.EqualFold(s.Called, name) {
			return s, nil
		}
		names = append(names, s.Called)
	}
	hint := "it has " + strings.Join(names, ", ")
	if near, ok := diag.Suggest(name, names); ok {
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	return nil, fmt.Errorf("nothing on %s that can be moved is called %q; %s", k.Bike.File, name, hint)
}
