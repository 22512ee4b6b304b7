package carry

import (
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// ReferenceRow is where one saddle reference lies, seen from the BB, on source and target, and where the
// rider would have sat had the new saddle been put by it instead of by what carries them.
type ReferenceRow struct {
	Name           string
	Source, Target plane.Point
	// Away is how far from the wanted place the rider would sit with the reference's setback kept (X, mm
	// forward) and with its height above the BB kept (Y, mm up).
	Away plane.Point
}

// Ambiguity is by how much the references disagree about where the new saddle should go, mm.
type Ambiguity struct {
	Level, Plumb float64     // greatest less least of the rows' Away
	Usual        plane.Point // where one would sit, from the wanted place, with nose setback and BB-to-middle kept
	UsualOK      bool        // false when no place of the saddle keeps both
}

// SeatTubes are the distances from the BB along the seat tube to the saddle's top on source and target, mm; nil where the bike
// file gives no seat angle or the saddle lies off that line.
func (s *Solution) SeatTubes(source *assembly.Placement) (from, to *float64) {
	read := func(on *assembly.Placement) *float64 {
		v, _, err := on.ReadingOf(bike.Reading{Kind: bike.SeatTube})
		if err != nil {
			return nil
		}
		return &v
	}
	return read(source), read(s.Placement)
}

// References lists every saddle reference on both bikes, and those asked for that both have, which the ambiguity leaves out.
// "support" is where the rider is carried in this posture. Heights are of the unloaded surface, as a tape meets it.
func (s *Solution) References(source *assembly.Placement) ([]ReferenceRow, Ambiguity) {
	type ref struct {
		name     string
		from, to float64 // stations
	}
	a, b := source.Shape, s.Placement.Shape
	if a == nil || b == nil {
		return nil, Ambiguity{}
	}
	var refs []ref
	add := func(r saddle.Reference) {
		x, errX := a.Station(r, source.SitWidth)
		y, errY := b.Station(r, source.SitWidth)
		if errX == nil && errY == nil {
			refs = append(refs, ref{r.String(), x, y})
		}
	}
	for _, k := range []saddle.RefKind{saddle.Nose, saddle.Mid, saddle.Widest, saddle.Tail} {
		add(saddle.Reference{Kind: k})
	}
	x, _ := a.WidthStation(s.Position.Posture.Support)
	y, _ := b.WidthStation(s.Position.Posture.Support)
	refs = append(refs, ref{"support", x, y})
	usual := len(refs)
	for _, r := range s.Options.Also {
		if !slices.ContainsFunc(refs, func(known ref) bool { return known.name == r.String() }) {
			add(r)
		}
	}

	// Where the saddle would be put: turned as it is, its reference where the source's is, moved with the
	// crank and the pedals as the contact is.
	turn := s.Placement.Poses[assembly.Saddle].Turn
	sit := b.Loaded(y).Turn(turn)
	var rows []ReferenceRow
	var level, plumb []float64
	for i, r := range refs {
		row := ReferenceRow{Name: r.name, Source: source.Poses[assembly.Saddle].At(a.Point(r.from)),
			Target: s.Placement.Poses[assembly.Saddle].At(b.Point(r.to))}
		wouldSit := row.Source.Add(s.Want.Shift).Sub(b.Point(r.to).Turn(turn)).Add(sit)
		row.Away = wouldSit.Sub(s.Want.Sit.At)
		if i < usual {
			level, plumb = append(level, row.Away.X), append(plumb, row.Away.Y)
		}
		rows = append(rows, row)
	}
	amb := Ambiguity{Level: slices.Max(level) - slices.Min(level), Plumb: slices.Max(plumb) - slices.Min(plumb)}

	// The usual pair: setback at the nose, and the straight line from the BB to the middle.
	nose := source.Poses[assembly.Saddle].At(a.Point(0)).Add(s.Want.Shift)
	long := source.Poses[assembly.Saddle].At(a.Point(a.Length / 2)).Add(s.Want.Shift).Norm()
	fromNose := b.Point(b.Length / 2).Sub(b.Point(0)).Turn(turn)
	midX := nose.X + fromNose.X
	if square := long*long - midX*midX; square > 0 {
		at := plane.Point{X: midX, Y: math.Sqrt(square)}.Sub(b.Point(b.Length / 2).Turn(turn)).Add(sit)
		amb.Usual, amb.UsualOK = at.Sub(s.Want.Sit.At), true
	}
	return rows, amb
}
