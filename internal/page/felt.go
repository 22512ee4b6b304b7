package page

import (
	"html/template"
	"math"
	"strconv"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// feltPage is a change felt on one bike, told as a change of the other: sliders of what can be set on TO, the numbers of FROM.
type feltPage struct {
	pair
	Wrong    *trouble
	Result   *job.Result
	FromName string
	Sliders  []slider
	Moved    []string // what moved on TO
	Numbers  []number // of FROM
	Picture  template.HTML
}

// slider moves one setting, mm or degrees from where it is.
type slider struct {
	ID, Called, Value, Says string
	Lo, Hi, Step            string
}

// number is a reading of FROM before and after.
type number struct{ Called, Was, Is, Change string }

// reach of a slider, mm and degrees: further is no felt change but another position.
const sliderMM, sliderDegrees = 40.0, 8.0

func (v *visit) felt() Response {
	p := feltPage{}
	var err error
	if p.pair, err = v.pair(); err != nil {
		return v.problem(StatusFailed, "The folder cannot be read", err)
	}
	status := StatusOK
	if p.From != "" && p.To != "" {
		if err := p.work(v); err != nil {
			p.Wrong, status = newTrouble("This cannot be carried", err), StatusUnprocessed
		}
	}
	return v.show(status, "felt", "Felt change", p)
}

func (p *feltPage) work(v *visit) error {
	c, r, err := p.carried(v)
	if err != nil {
		return err
	}
	p.Result, p.FromName = r, words.Bike(c.Bike)
	travels := make([]float64, len(r.Settings))
	for i, set := range r.Settings {
		travels[i] = set.Travel
		if set.Fixed() || set.Sets.Sideways() || set.Sets.Built() || r.Idle(set.Settable) {
			continue
		}
		reach, per := sliderMM, 1.0
		if set.Turns() {
			reach, per = sliderDegrees, plane.Rad(1)
		}
		lo, hi := -reach, reach
		if set.Stops {
			lo, hi = math.Max(lo, (set.Lo-set.Travel)/per), math.Min(hi, (set.Hi-set.Travel)/per)
		}
		const finest = 0.5
		lo, hi = math.Ceil(lo/finest)*finest, math.Floor(hi/finest)*finest // so that 0 is one of the slider's steps
		s := slider{ID: "m" + strconv.Itoa(i), Called: words.Setting(set.Called), Lo: words.Num(lo, 1), Hi: words.Num(hi, 1),
			Step: words.Num(finest, 1), Value: "0", Says: "as it is"}
		if x, err := strconv.ParseFloat(v.get(s.ID), 64); err == nil && x != 0 && x >= lo && x <= hi {
			s.Value = words.Trimmed(x, 2)
			travels[i] += x * per
			q := plane.Length(math.Abs(x))
			if set.Turns() {
				q = plane.Turning(plane.Angle(plane.Rad(math.Abs(x))))
			}
			s.Says = words.Amount(q) + " " + set.Towards(x)
			p.Moved = append(p.Moved, s.Called+" "+s.Says)
		}
		p.Sliders = append(p.Sliders, s)
	}
	p.change(r, travels)
	return nil
}

// change moves FROM's contacts by what TO's move, and reads FROM again. With T and T' where a contact is on TO before and after,
// and F where it is on FROM, F' = F + (T' - T), angles alike: only what moved changes.
func (p *feltPage) change(r *job.Result, travels []float64) {
	after := r.StandAt(travels)
	hands := r.Position.Posture.Hands
	seat, _, err := after.Seat(r.Position.Posture)
	if err != nil {
		p.Wrong = newTrouble("This change cannot be told", err)
		return
	}
	sit, hold := after.At(bike.Sit, seat), after.At(hands, after.HandMount(hands))
	was := r.Source.Adjusted.Stance
	is := *was
	shift := func(from, to assembly.Contact, at plane.Point, bodies ...assembly.Body) {
		turn := to.Angle - from.Angle
		for _, b := range bodies {
			pose := &is.Poses[b]
			pose.Origin = at.Add(pose.Origin.Sub(at).Turn(turn)).Add(to.At.Sub(from.At))
			pose.Turn += turn
		}
	}
	got := r.Contacts
	shift(got[0].Got, sit, r.Position.Sit.At, assembly.Saddle)
	shift(got[1].Got, hold, r.Position.Hands.At, assembly.Bar, assembly.Hood, assembly.Drop, assembly.Pads, assembly.Grip)
	for _, reading := range r.Source.Bike.Readings {
		a, _, errA := was.Measure(reading)
		b, _, errB := is.Measure(reading)
		if errA != nil || errB != nil {
			continue
		}
		of := func(x float64) plane.Quantity {
			if reading.Kind == bike.Angle {
				return plane.Turning(plane.Angle(x))
			}
			return plane.Length(x)
		}
		change := words.Signed(of(b-a).Shown(), 1)
		if change == "0.0" {
			change = "same"
		}
		p.Numbers = append(p.Numbers, number{words.Called(reading), words.Amount(of(a)), words.Amount(of(b)), change})
	}
	p.Picture = changePicture(was.Bike, []plane.Point{r.Position.Sit.At, r.Position.Hands.At},
		[]plane.Point{r.Position.Sit.At.Add(sit.At.Sub(got[0].Got.At)), r.Position.Hands.At.Add(hold.At.Sub(got[1].Got.At))})
}

// changePicture is FROM as a sketch with its seat and hands before and after.
func changePicture(b *bike.Bike, was, is []plane.Point) template.HTML {
	s := &sketcher{}
	s.frame(plane.Direction(-math.Pi / 3).Scale(b.Feet.Crank))
	for i := range was {
		s.dot("guess", was[i])
		if is[i] != was[i] {
			s.line("plumb", was[i], is[i])
		}
		s.dot("known", is[i])
	}
	head := plane.Point{X: is[1].X - 130, Y: is[1].Y - 90}
	s.line("faint", is[0].Add(plane.Point{X: 25, Y: -75}), plane.Point{}, head, is[0].Add(plane.Point{X: 25, Y: -75}).Scale(0.72),
		rearAxle, plane.Point{})
	s.line("faint", frontAxle, head, is[1].Add(plane.Point{X: -100, Y: -10}))
	s.line("guess", was[0].Add(plane.Point{X: 150}), was[0].Add(plane.Point{X: -110}))
	s.line("known", is[0].Add(plane.Point{X: 150}), is[0].Add(plane.Point{X: -110}))
	s.line("guess", was[1].Add(plane.Point{X: -100, Y: -6}), was[1])
	s.line("known", is[1].Add(plane.Point{X: -100, Y: -6}), is[1])
	return s.svg(is[0], is[1], "Seat and hands of the first bike, before and after")
}
