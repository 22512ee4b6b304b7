package job

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"carryover/internal/alternate"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
)

// Alternate is one bike set up for several positions.
type Alternate struct {
	*alternate.Result
	To      string
	Target  *bike.Bike
	Sources []*Source // of the postures, in their order
	Labels  []string  // BIKE:POSTURE
	Told    Told
	Stand   *locate.Standing
	Failed  []Posture // left out, each under its label: those that have no place on the target or none known, with why
	Chosen  int       // the row that the changeovers are for
	// Cures are of each posture what would cure it: by itself where it is not carried even so, else as the most moves have it; none
	// where that carries it.
	Cures []*Result
}

// Position is one bike to alternate with; Posture "" stands for all of its postures.
type Position struct{ Path, Posture string }

// Alternate loads the positions and sets q.To up for all of them. moves picks the row of the changeovers, -1 the one
// recommended; found tells how many sets of settings are done.
func (f *Files) Alternate(ctx context.Context, from []Position, q Asked, moves int, found func(done, total int)) (*Alternate, error) {
	target, err := f.Bike(q.To)
	if err != nil {
		return nil, err
	}
	a := &Alternate{To: q.To}
	var asked []Posture // each under its label
	var sources []*Source
	var on []Read
	for _, p := range from {
		bike, err := f.Bike(p.Path)
		if err != nil {
			return nil, err
		}
		if bike, target, err = alike(bike, target); err != nil {
			return nil, err
		}
		source, err := NewSource(bike, q.Rider, locate.Options{})
		if err != nil {
			return nil, err
		}
		list, err := source.Postures(p.Posture)
		if err != nil {
			return nil, err
		}
		on = append(on, source.read())
		for _, k := range list {
			k.Name = p.Path + ":" + k.Name
			asked, sources = append(asked, k), append(sources, source)
		}
	}
	if len(asked) < 2 {
		return nil, &FewPosturesError{fmt.Sprintf("alternating takes at least two postures; %s has one", from[0].Path)}
	}
	var list []alternate.Source
	var stand *locate.Standing // for the first of them
	var fails []error
	for i, k := range asked {
		var at *locate.Standing
		if k.Err == nil {
			at, k.Err = takes(target, q.Rider, k)
		}
		if k.Err != nil {
			a.Failed, fails = append(a.Failed, k), append(fails, fmt.Errorf("%s: %w", k.Name, k.Err))
			continue
		}
		if stand == nil {
			stand = at
		}
		list = append(list, alternate.Source{Label: k.Name, Feet: sources[i].Bike.Feet, Position: k.Position})
		a.Sources, a.Labels = append(a.Sources, sources[i]), append(a.Labels, k.Name)
	}
	if len(list) < 2 {
		return nil, errors.Join(fails...)
	}
	a.Target = stand.Bike
	a.Stand, a.Told = stand, tell(append(on, stood(target, stand, false))...)
	if a.Result, err = alternate.Solve(ctx, a.Target, list, q.Options, found); err != nil {
		return nil, err
	}
	a.Chosen = a.Best().Moves
	if moves >= 0 {
		a.Chosen = moves
	}
	var solved []*carry.Solution
	for i := range a.Alone {
		k := &Result{Solution: a.Alone[i].Solution}
		if k.Carried() {
			k.Solution = a.Rows[len(a.Rows)-1].Outcomes[i].Solution
		}
		own, at := *k.Solution, *k.Position // two bikes may call a posture alike
		at.Posture.Name, own.Position = a.Labels[i], &at
		k.Solution = &own
		a.Cures, solved = append(a.Cures, k), append(solved, k.Solution)
	}
	ails, err := carry.Cures(ctx, solved, f.shop)
	for i := range ails {
		if k := a.Cures[i]; !k.Carried() {
			k.Ails = slices.DeleteFunc(ails[i], func(a carry.Ailment) bool {
				return !a.Gap && slices.ContainsFunc(k.Contacts[:2], func(c carry.Carried) bool { return c.Want.Name == a.Contact && c.Carried })
			})
		}
	}
	return a, err
}

// takes is the target as it stands for a posture; it fails where nothing on it gives the seat or the hands a place.
func takes(target *bike.Bike, rider *bike.Rider, p Posture) (*locate.Standing, error) {
	stand, err := locate.Stand(target, rider, p.Position.Posture)
	for _, seat := range []bool{true, false} {
		if err == nil {
			_, err = carry.MountOf(stand.Bike, p.Position.Posture, seat)
		}
	}
	if err != nil {
		return nil, err
	}
	return stand, nil
}

// Carried reports whether every posture is carried in the row that the changeovers are for.
func (a *Alternate) Carried() bool { return len(a.Failed) == 0 && a.Row().Carried() }

// FewPosturesError is a wish to alternate with one posture alone.
type FewPosturesError struct{ text string }

func (e *FewPosturesError) Error() string { return e.text }

// Row is the row that the changeovers are for.
func (a *Alternate) Row() *alternate.Row { return &a.Rows[a.Chosen] }

// Rounds are the changeovers, from one posture to the next and, of three or more, back to the first.
func (a *Alternate) Rounds() [][2]int {
	last := len(a.Sources) - 1
	var list [][2]int
	for i := range last {
		list = append(list, [2]int{i, i + 1})
	}
	if last > 1 {
		list = append(list, [2]int{last, 0})
	}
	return list
}

// MarshalJSON writes the trade and the changeovers. Lengths mm, angles degrees.
func (a *Alternate) MarshalJSON() ([]byte, error) {
	rows := []map[string]any{}
	for i := range a.Rows {
		rows = append(rows, a.row(&a.Rows[i]))
	}
	changes := []map[string]any{}
	for _, k := range a.Rounds() {
		steps := []map[string]any{}
		for _, s := range a.Row().Changeover(k[0], k[1]) {
			steps = append(steps, map[string]any{"adjuster": s.Before.Name, "from_mark": s.Before.Mark(), "to_mark": s.After.Mark(), "by": s.By(),
				"turns": s.Before.Turns(), "before": a.set(s.Before), "after": a.set(s.After)})
		}
		changes = append(changes, map[string]any{"from": a.Labels[k[0]], "to": a.Labels[k[1]], "steps": steps})
	}
	alone := []map[string]any{}
	for i, s := range a.Alone {
		held := []string{}
		for _, c := range s.Contacts {
			held = append(held, s.HeldBy(c)...)
		}
		built := []map[string]any{}
		for k := range s.Rows {
			built = append(built, map[string]any{"moves": k, "error": s.Rows[k].E, "carried": s.Rows[k].Carried()})
		}
		alone = append(alone, map[string]any{"posture": a.Labels[i], "carried": s.Carried(), "error": s.E, "held_by": held,
			"parts": append([]carry.Part{}, s.Parts...), "built": built, "cures": append([]carry.Ailment{}, a.Cures[i].Ails...)})
	}
	var carrying *int // moves that carry every posture
	if row := alternate.Carrying(a.Rows); row != nil {
		carrying = &row.Moves
	}
	return json.Marshal(map[string]any{"schema": 1, "to": a.To, "postures": a.Labels, "failed": failures(a.Failed),
		"crank": a.Crank, "proven": a.Proven(), "tolerance": alternate.Tolerance,
		"objective": "least root of the sum over the postures of E²", "movable": append([]string{}, a.Movable...),
		"searched": a.Searches, "sets": a.Sets,
		"carrying": carrying, "rows": rows, "chosen": a.Chosen, "changeovers": changes, "notes": append([]string{}, a.Cranks...),
		"alone": alone, "suspects": a.Told.Suspects, "assumptions": a.Told.Assumptions, "warnings": a.Told.Warnings,
		"versions": a.Versions()})
}

// Versions are the parts of all bikes, those included that the chosen row fits.
func (a *Alternate) Versions() (list []bike.Version) {
	for i, s := range a.Sources {
		if i == 0 || a.Sources[i-1] != s {
			list = append(list, s.Bike.Versions(nil)...)
		}
	}
	chosen := map[string]string{}
	for _, p := range a.Row().Parts {
		chosen[p.Slot] = p.ID
	}
	return append(list, a.Target.Versions(chosen)...)
}

func (a *Alternate) row(r *alternate.Row) map[string]any {
	var postures []map[string]any
	for _, o := range r.Outcomes {
		settings := []map[string]any{}
		for _, v := range o.Values {
			settings = append(settings, a.set(v))
		}
		postures = append(postures, map[string]any{"posture": o.Label, "settings": settings, "contacts": o.Contacts[:2], "checks": o.Checks,
			"gap_short": o.GapShort})
	}
	worst, turn := r.Worst()
	return map[string]any{"moves": r.Moves, "moved": append([]string{}, r.Moved...), "error": r.E, "worst": worst, "worst_angle": turn,
		"carried": r.Carried(), "proven": r.Proven,
		"parts": append([]carry.Part{}, r.Parts...), "postures": postures}
}

// set writes one setting.
func (a *Alternate) set(v alternate.Value) carry.Keys {
	k := keys(&v.Setting, a.Target)
	k["moved"] = v.Moved
	if v.Tape != nil {
		k["tape"] = v.Tape
	}
	return k
}
