package carry

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// draft hands out numbers made from bytes: ordinary ones, ends of their range, and 0 when the bytes are used up.
type draft struct{ bytes []byte }

func (d *draft) byte() byte {
	if len(d.bytes) == 0 {
		return 0
	}
	b := d.bytes[0]
	d.bytes = d.bytes[1:]
	return b
}

func (d *draft) number(lo, hi float64) float64 { return lo + (hi-lo)*float64(d.byte())/255 }

func (d *draft) one(of int) bool { return int(d.byte())%of == 0 }

func (d *draft) setting(lo, hi float64) bike.Setting {
	a, b := d.number(lo, hi), d.number(lo, hi)
	switch d.byte() % 3 {
	case 0:
		return bike.Setting{Lo: a, Hi: a}
	case 1:
		return bike.Fixed(a)
	}
	return free(math.Min(a, b), math.Max(a, b))
}

// adjuster may have no range at all, a step longer than its range, or a unit that runs backwards.
func (d *draft) adjuster(name string, moves bike.Moves, lo, hi float64) bike.Adjuster {
	a := bike.Adjuster{Name: name, Moves: moves, Angle: d.number(-math.Pi, math.Pi), Unit: []float64{1, -1, 10, -0.5}[d.byte()%4], Sigma: 0.5}
	x, y := d.number(lo, hi), d.number(lo, hi)
	a.Lo, a.Hi = math.Min(x, y), math.Max(x, y)
	if moves.Turns() {
		a.Unit = plane.Rad(a.Unit)
	}
	if d.one(2) {
		a.Step = d.number((hi-lo)/40, hi-lo)
	}
	return a
}

// bike is a small target.
func (d *draft) bike() *bike.Bike {
	b := &bike.Bike{File: "fuzz", Marks: map[string]float64{}}
	s, err := saddle.New(280, [][2]float64{{0, d.number(20, 140)}, {120, d.number(20, 140)}, {280, d.number(20, 160)}},
		[][2]float64{{0, d.number(-10, 0)}, {140, d.number(-10, 0)}, {280, 0}}, d.number(0, 10), saddle.Rail{Height: 45, From: 100, To: 100 +
			d.number(0, 80)})
	if err != nil {
		panic(err)
	}
	b.Saddle = bike.SaddleFit{Slot: one(s), ClampAt: d.setting(80, 190), Tilt: d.setting(-0.2, 0.2)}
	b.SaddleAnchor = &plane.Point{X: d.number(-300, 100), Y: d.number(300, 700)}
	for i := range int(d.byte() % 4) {
		b.Adjusters = append(b.Adjusters, d.adjuster(string(rune('a'+i)), bike.MovesSaddle, -20, 40))
	}
	if d.one(2) {
		b.Adjusters = append(b.Adjusters, d.adjuster("tilt", bike.MovesSaddleTilt, -9, 9))
	}
	for i := range int(d.byte() % 3) {
		b.Adjusters = append(b.Adjusters, d.adjuster(string(rune('k'+i)), bike.MovesBar, -20, 40))
	}
	if d.one(2) {
		b.Adjusters = append(b.Adjusters, d.adjuster("turn", bike.MovesBarRotation, -20, 20))
	}
	if d.one(2) {
		head := d.number(1.1, 1.4)
		b.Frame.HeadAngle, b.Frame.SteererTop = &head, &plane.Point{X: 360, Y: d.number(500, 650)}
		b.Stem = &bike.StemFit{Spacers: bike.Spacers{Given: true, Free: d.one(2), Max: d.number(0, 40), Step: 1 + d.number(0, 40)}}
		b.Stem.Open = true
		for range 1 + d.byte()%4 {
			b.Stem.Options = append(b.Stem.Options, bike.Option[cockpit.Stem]{Part: &cockpit.Stem{Length: d.number(0, 130), Angle: d.number(-0.4,
				0.4), Height: 40}})
		}
	} else {
		b.BarAnchor = &plane.Point{X: d.number(200, 600), Y: d.number(300, 800)}
	}
	reach := d.number(1, 120)
	b.Bar = bike.BarFit{Slot: one(&cockpit.Bar{Reach: reach, Drop: d.number(0, 150), Bend: reach * d.number(0, 1)}),
		Lever:   one(&cockpit.Lever{Along: d.number(0, 50), Out: d.number(-10, 50), Angle: d.number(-0.3, 0.3)}),
		LeverAt: d.setting(-60, 60), Rotation: d.setting(-0.4, 0.4)}
	b.Clipon = &bike.CliponFit{Slot: one(&cockpit.Clipon{Base: 50, Stacks: []float64{0, d.number(1, 40)}, Holes: []float64{d.number(-40, 0),
		5},
		Tilt: [2]float64{0, d.number(0, 0.5)}, TiltStep: d.number(0, 0.2), GripForward: [2]float64{d.number(100, 300), 300}, GripRise: 20}),
		Tilt: d.setting(0, 0.5), Hole: d.setting(-40, 10), Stack: d.setting(0, 40), Extension: d.setting(50, 400)}
	for i := range b.Adjusters {
		if d.one(3) {
			b.Marks[b.Adjusters[i].Name] = d.number(b.Adjusters[i].Lo, b.Adjusters[i].Hi)
		}
	}
	b.Feet = bike.Feet{Crank: d.number(150, 180), SoleHeight: d.number(0, 40)}
	return b
}

// FuzzCarry carries any position to any small bike: no panic, no number that is none, every setting within its
// stops, E what the contacts say, and no random setting of the bike better.
func FuzzCarry(f *testing.F) {
	r := rand.New(rand.NewPCG(101, 0))
	for range 8 {
		seed := make([]byte, 160)
		for i := range seed {
			seed[i] = byte(r.IntN(256))
		}
		f.Add(seed)
	}
	f.Add([]byte{})
	f.Add(bytes.Repeat([]byte{0xff}, 32))
	f.Fuzz(func(t *testing.T, bytes []byte) {
		d := &draft{bytes}
		p := bike.Posture{Name: "p", Hands: []bike.Contact{bike.Hood, bike.Drop, bike.Pad}[d.byte()%3], Support: d.number(10, 160),
			Weights: bike.DefaultWeights()}
		if d.one(4) {
			p.Weights.Angle, p.Weights.Extension = math.Exp(d.number(-5, 9)), math.Exp(d.number(-3, 3))
		}
		far := 1.0
		if d.one(5) {
			far = 20 // metres out of reach
		}
		target := d.bike()
		m := &machine{b: target, sit: assembly.Contact{Name: bike.Sit, At: plane.Point{X: d.number(-300, 50), Y: d.number(300, 900)}.Scale(far),
			Angle: d.number(-0.3, 0.3)},
			hands: assembly.Contact{Name: p.Hands, At: plane.Point{X: d.number(200, 800), Y: d.number(300, 900)}.Scale(far), Angle: d.number(-0.5,
				0.5)}}
		pos := positionOf(m, nil)
		pos.Posture = p
		if d.one(2) && p.Hands != bike.Drop {
			pos.Second = &assembly.Contact{Name: bike.Drop, At: plane.Point{X: d.number(200, 800), Y: d.number(300, 900)}}
		}
		for i := range pos.Cov {
			pos.Cov[i][i] = d.number(0, 4)
		}
		s, err := Solve(context.Background(), target, &bike.Bike{Feet: bike.Feet{Crank: d.number(150, 180), SoleHeight: 20}},
			pos, Options{Policy: Policy(d.byte() % 2), HandsFixed: d.one(2)})
		if err != nil {
			return
		}
		for i, row := range s.Jacobian((*Solution).travels) {
			s.Settings[i].Sigma = Spread(row, &s.Position.Cov)
		}
		checks, err := s.Checks()
		if err != nil {
			t.Fatal(err)
		}
		finite := func(what string, values ...float64) {
			t.Helper()
			for _, v := range values {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%s is %g", what, v)
				}
			}
		}
		finite("E", s.E, s.Combinations)
		for _, c := range checks {
			finite("check "+c.Reading.Written, c.Value.Value(), c.Sigma)
		}
		for _, set := range s.Settings {
			finite(set.Name, set.Travel, set.Mark(), set.Sigma, set.Lo, set.Hi)
			if set.Adjuster >= 0 && set.Turns() && p.Hands == bike.Pad {
				continue // may be left at a mark that is not on a step
			}
			if set.Adjuster >= 0 && (set.Travel < set.Lo-1e-9 || set.Travel > set.Hi+1e-9) {
				t.Fatalf("%+v stands beyond its stops", set)
			}
			if a := set.Adjuster; a >= 0 && target.Adjusters[a].Step > 0 && target.Adjusters[a].Hi > target.Adjusters[a].Lo {
				k := (set.Mark() - target.Adjusters[a].Lo) / target.Adjusters[a].Step
				if math.Abs(k-math.Round(k)) > 1e-6 {
					t.Fatalf("%+v stands between steps", set)
				}
			}
		}
		sum := 0.0
		for i, h := range []*half{s.saddleHalf, s.handHalf} {
			c := s.Contacts[i]
			finite(string(c.Want.Name), c.Got.At.X, c.Got.At.Y, c.Got.Angle, c.Miss, c.MissAngle)
			flat := h.Wish.Metric.Flat(c.Away)
			sum += flat.Dot(flat) + p.Weights.Angle*c.MissAngle*p.Weights.Angle*c.MissAngle
		}
		if math.Abs(math.Sqrt(sum)-s.E) > 1e-6*(1+s.E) {
			t.Fatalf("E is %g, the contacts say %g", s.E, math.Sqrt(sum))
		}
		requireStanding(t, s, 0)
		worse(t, s, d)
	})
}

// worse checks that no random setting of the saddle half is better.
func worse(t *testing.T, s *Solution, d *draft) {
	t.Helper()
	b := s.Target
	shape := b.Saddle.Only()
	station, _ := shape.WidthStation(s.Position.Posture.Support)
	pick := func(lo, hi, step float64) float64 {
		v := d.number(lo, hi)
		if step > 0 && hi > lo {
			v = lo + step*math.Floor((v-lo)/step+1e-9)
		}
		return v
	}
	for range 8 {
		clamp, tilt := *b.SaddleAnchor, d.number(b.Saddle.Tilt.Lo, b.Saddle.Tilt.Hi)
		for i := range b.Adjusters {
			a := &b.Adjusters[i]
			travel := a.Unit * pick(a.Lo, a.Hi, a.Step)
			switch a.Moves {
			case bike.MovesSaddle:
				clamp = clamp.Add(a.Direction().Scale(travel))
			case bike.MovesSaddleTilt:
				tilt = travel
			}
		}
		c, ok := b.Saddle.ClampAt.OnRails(shape.Rail)
		if !ok {
			t.Fatal("a clamp that cannot hold the rails was solved")
		}
		at := clamp.Add(plane.Point{X: d.number(c.Lo, c.Hi) - station, Y: shape.Rail.Height + shape.Loaded(station).Y}.Turn(tilt))
		off := s.Position.Posture.Weights.Angle * (tilt - s.Want.Sit.Angle)
		own := s.Position.Posture.Weights.Angle * (s.saddle.turn - s.Want.Sit.Angle)
		if math.Abs(off) < math.Abs(own)-1e-9 {
			t.Fatalf("a tilt that misses by %g mm is nearer than the answer's %g mm", off, own)
		}
		place := s.saddleHalf.Wish.Metric.Flat(at.Sub(s.Want.Sit.At)).Norm()
		if e := math.Hypot(place, off); math.Abs(off) <= math.Abs(own)+1e-9 && e < math.Sqrt(s.saddle.square)-1e-6*(1+e) {
			t.Fatalf("a saddle %g mm off beats the answer's %g mm", e, math.Sqrt(s.saddle.square))
		}
	}
}
