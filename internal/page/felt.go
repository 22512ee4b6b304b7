package page

import (
	"html/template"
	"math"
	"strconv"

	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// feltPage is a change made by feel on TO, told as a change of FROM, as `carryover felt TO FROM` tells it: sliders of what can be
// moved on TO, the drawing and the numbers of FROM.
type feltPage struct {
	pair
	Felt              *job.Felt
	On                string // TO, where it was moved
	Sliders           []slider
	Good              bool
	Verdict, Meaning  string
	Doubts            []string
	Moves             [][]string // of FROM
	Heading, Readings [][]string // what a tape on FROM reads
	Picture           template.HTML
}

// slider moves one setting, mm or degrees from where it is.
type slider struct {
	ID, Called, Value, Says string
	Least, Most             float64 // mm or degrees from where it stands, within its stops
}

// All is what stands for no posture in a list.
func (p *feltPage) All() string { return "its first" }

func (v *visit) felt() Response {
	p := feltPage{Meaning: words.FeltMeaning}
	return v.paired("felt", "Felt change", "This change cannot be told", &p.pair, &p, p.work)
}

func (p *feltPage) work(v *visit) error {
	q, err := p.asked(v)
	if err != nil {
		return err
	}
	q.From, q.To = q.To, q.From // what moved, moved on TO
	still, err := v.files.Felt(v.ctx, q, nil)
	if err != nil {
		return err
	}
	p.Felt = still
	p.On, _ = words.Names(still.On, still.Other)
	var moved []string
	for i, can := range still.Movable {
		reach, unit, show := 40.0, " mm", func(v float64) float64 { return v } // further is no felt change but another position
		if can.Turns() {
			reach, unit, show = 8, "°", plane.Deg
		}
		least, most := -reach, reach
		if can.Stands != nil && can.Stops {
			least, most = min(0, max(least, math.Ceil(2*show(can.Lo-*can.Stands))/2)), max(0, min(most, math.Floor(2*show(can.Hi-*can.Stands))/2))
		}
		s := slider{ID: "m" + strconv.Itoa(i), Called: words.Setting(can.Called), Value: "0", Says: "as it is", Least: least, Most: most}
		if x, err := strconv.ParseFloat(v.get(s.ID), 64); err == nil && x != 0 {
			set := carry.Setting{Settable: can}
			far, way := x, set.Towards(1)
			if x < 0 {
				far, way = -x, set.Towards(-1)
			}
			s.Value, s.Says = words.Trimmed(x, 2), words.Trimmed(far, 1)+unit+" "+way
			moved = append(moved, can.Name+"="+s.Says)
		}
		p.Sliders = append(p.Sliders, s)
	}
	if len(moved) > 0 {
		if p.Felt, err = v.files.Felt(v.ctx, q, moved); err != nil {
			return err
		}
	}
	p.Verdict, p.Good = words.FeltVerdict(p.Felt)
	p.Doubts, p.Moves = words.FeltDoubts(p.Felt), words.FeltMoves(p.Felt)
	rows := words.FeltReadings(p.Felt)
	p.Heading, p.Readings = rows[:1], rows[1:]
	return p.picture()
}

// picture is FROM as a sketch, dashed as it was and solid as it will be.
func (p *feltPage) picture() error {
	was, _, err := p.Felt.Standing.Position(p.Felt.Felt.Posture)
	if err != nil {
		return err
	}
	f := figure{crank: p.Felt.Other.Feet.Crank, cranked: true, mark: was.Sit.At, tilt: plane.Deg(was.Sit.Angle), hands: was.Hands.At,
		hold: plane.Deg(was.Hands.Angle)}
	f.begin("Seat and hands of the first bike, before and after.")
	f.draw()
	sit, hands := p.Felt.Shifts[0], p.Felt.Shifts[1]
	f.mark, f.tilt, f.seat, f.level = f.mark.Add(sit.By), f.tilt+plane.Deg(sit.Turn), true, true
	f.hands, f.hold, f.held, f.turned = f.hands.Add(hands.By), f.hold+plane.Deg(hands.Turn), true, true
	f.draw()
	p.Picture = template.HTML(f.Inline("felt"))
	return nil
}
