package words

import (
	"cmp"
	"slices"
	"strings"

	"carryover/internal/body"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/rules"
)

// Cell is one value of a row about a bike, under the name of its column.
type Cell struct {
	Column, Value string
	Number        bool
}

// amount is a number rounded to what can be set, under a name with its unit.
func amount(name string, q plane.Quantity) Cell {
	return Cell{name + either(q.Turns(), " (°)", " (mm)"), Trimmed(settable(q), 1), true}
}

func length(name string, mm float64) Cell { return amount(name, plane.Length(mm)) }

// doubted are doubts as one cell.
func doubted(doubts []string) Cell { return Cell{Column: "doubts", Value: strings.Join(doubts, " ")} }

// CarryCells are what a posture carried comes to: the answer, what the finished bike reads, and what is set.
func CarryCells(c *job.Carry, r *job.Result) []Cell {
	list := []Cell{{Column: "posture", Value: r.Position.Posture.Name},
		{Column: "answer", Value: either(r.Carried(), "carried", "not carried")}}
	for _, k := range r.Contacts {
		if k.Primary {
			list = append(list, length(Touched(k.Want.Name)+" off", k.Miss),
				amount(Touched(k.Want.Name)+" off", plane.Turning(plane.Angle(k.MissAngle))))
		}
	}
	list = append(list, length("crank", r.Want.Crank))
	for _, p := range r.Parts {
		list = append(list, Cell{Column: p.Slot, Value: p.ID + flipped(p.Flip)})
	}
	for _, k := range r.Checks {
		name, q := Called(k.Reading), k.Value
		list = append(list, amount(name, q), amount(name+" ±", q.Of(k.SigmaTotal)))
	}
	for _, set := range r.Settings {
		if r.Idle(set.Settable) {
			continue
		}
		if a := scaled(r.Target, set); a != nil {
			list = append(list, Cell{Setting(set.Name) + " (mark)", Mark(a, set.Mark()), true})
		} else if !taped(r.Target, set) {
			list = append(list, amount(Setting(set.Name), quantityOf(set, set.Travel)))
		}
	}
	return append(list, doubted(AllDoubts(c.Told())),
		Cell{Column: "problem", Value: either(r.Carried(), "", strings.Join(Consequences(r), " "))})
}

// LocateCells are where a rider touches a bike, a row for each posture.
func LocateCells(s *job.Source) (rows [][]Cell) {
	for _, p := range s.Bike.Postures {
		list := []Cell{{Column: "posture", Value: p.Name}}
		pos, err := s.Adjusted.Position(p)
		effects, badly := s.Adjusted.Effects(p)
		if err = cmp.Or(err, badly); err != nil {
			rows = append(rows, append(list, Cell{Column: "problem", Value: err.Error()}))
			continue
		}
		for k, name := range []string{"seat ahead", "seat up", "seat angle", Hands(p.Hands) + " ahead",
			Hands(p.Hands) + " up", Hands(p.Hands) + " angle"} {
			if k == 5 && pos.NoAngle {
				continue
			}
			q := plane.QuantityOf(k%3 == 2, pos.Coordinate(k))
			list = append(list, amount(name, q), amount(name+" ±", q.Of(locate.Total(effects, k))))
		}
		rows = append(rows, append(list, Cell{Column: "readings", Value: Agreement(s.Adjusted)}, doubted(Doubts(s.Adjusted))))
	}
	return rows
}

// RideCells are what the joints do, a row for each posture: on the bike, or on the one that the position is carried to.
func RideCells(r *job.Ride) (rows [][]Cell) {
	for _, p := range r.Postures {
		list := []Cell{{Column: "posture", Value: p.Posture}}
		if n := p.Stages[len(p.Stages)-1].Numbers; n != nil {
			for _, f := range body.Figures {
				if q, ok := f.Of(n); ok {
					list = append(list, amount(f.Name, q))
				}
			}
		}
		rows = append(rows, append(list, Cell{Column: "does not close", Value: strings.Join(Impossible(&p), " ")},
			doubted(AllDoubts(r.Told))))
	}
	return rows
}

// RulesCells are what becomes of every rule, on another bike a row for each posture.
func RulesCells(j *job.Judged) (rows [][]Cell) {
	judged := func(k *rules.Judgement) []Cell {
		list := []Cell{{Column: "rules", Value: string(k.Verdict)}}
		for _, d := range k.Rules {
			list = append(list, Cell{Column: d.ID, Value: strings.Join(some(string(d.Verdict), found(d)), ": ")})
		}
		return append(list, doubted(AllDoubts(j.Told)))
	}
	if j.Carry == nil {
		return [][]Cell{judged(&j.Judgement)}
	}
	for _, k := range j.Postures {
		rows = append(rows, append([]Cell{{Column: "posture", Value: k.Posture}, {Column: "answer", Value: either(k.Carried, "carried",
			"not carried")}},
			judged(&k.Judgement)...))
	}
	return rows
}

// CompareCells are what changed, a row for each posture that both bikes have.
func CompareCells(c *job.Comparison) (rows [][]Cell) {
	at := map[string]int{}
	for i := range c.Differences {
		d := &c.Differences[i]
		if d.Group != job.Measures && d.Group != job.Contacts && d.Group != job.Angles {
			continue
		}
		k, ok := at[d.Posture]
		if !ok {
			k = len(rows)
			at[d.Posture] = k
			rows = append(rows, []Cell{{Column: "posture", Value: d.Posture}})
		}
		name := Different(d, false)
		rows[k] = append(rows[k], amount(name+" A", d.A), amount(name+" B", d.B), amount(name+" change", d.By()))
		if d.Sigma.Value() > 0 {
			rows[k] = append(rows[k], amount(name+" ±", d.Sigma))
		}
	}
	for k := range rows {
		rows[k] = append(rows[k], Cell{Column: "other parts", Value: OtherParts(c)}, doubted(OfEach(c, Doubts)))
	}
	return rows
}

// Collected puts rows about bikes into one table: the columns in the order of the rows, each new one behind the one that it follows
// there, what went wrong last. number writes a number.
func Collected(kept []string, keys [][]string, rows [][]Cell, number func(string) string) [][]string {
	const problem = "problem"
	header, at := slices.Clone(kept), map[string]int{}
	for _, row := range rows {
		place := len(kept)
		for _, c := range row {
			if i := slices.Index(header[len(kept):], c.Column); i >= 0 {
				place = max(place, len(kept)+i+1)
			} else if c.Column != problem {
				header = slices.Insert(header, place, c.Column)
				place++
			}
		}
	}
	header = append(header, problem)
	for i, name := range header[len(kept):] {
		at[name] = len(kept) + i
	}
	table := [][]string{slices.Clone(header)}
	for i := range header {
		table[0][i] = Plain(header[i])
	}
	for i, row := range rows {
		line := make([]string, len(header))
		copy(line, keys[i])
		for _, c := range row {
			line[at[c.Column]] = Plain(c.Value)
			if c.Number {
				line[at[c.Column]] = number(c.Value)
			}
		}
		table = append(table, line)
	}
	return table
}
