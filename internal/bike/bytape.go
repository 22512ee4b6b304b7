package bike

import (
	"math"

	"carryover/internal/plane"
)

// Stretches of the side view, mm from the BB, in which a saddle's and a bar's clamp can be on any bike.
var (
	saddleClampX, saddleClampY = [2]float64{-450, 150}, [2]float64{350, 1000}
	barClampX, barClampY       = [2]float64{150, 900}, [2]float64{300, 1100}
)

// SetByTape returns the bike with what its file does not hold in place made movable, to be set with a tape
// alone: a saddle or a bar with neither anchor nor adjuster (nor stem) gets one straight travel up and one
// forward, both without a scale, and a tilt or rotation that the file does not state is left free.
func (b *Bike) SetByTape() *Bike {
	c := *b
	c.Adjusters = append([]Adjuster(nil), b.Adjusters...)
	origin := plane.Point{}
	if b.SaddleAnchor == nil && len(b.Moving(MovesSaddle)) == 0 && !b.Saddle.Empty() {
		c.SaddleAnchor = &origin
		c.Adjusters = append(c.Adjusters, loose(MovesSaddle, saddleClampX, saddleClampY)...)
		if !b.Saddle.Tilt.Given && len(b.Moving(MovesSaddleTilt)) == 0 {
			c.Saddle.Tilt = Setting{Given: true, Free: true, Lo: plane.Rad(-10), Hi: plane.Rad(10)}
		}
		if c.Saddle.ClampAt.Free { // the rails in their clamp and the setback are one slide: it is set once
			c.Saddle.ClampAt = Setting{}
		}
	}
	if b.BarAnchor == nil && b.Stem == nil && len(b.Moving(MovesBar)) == 0 {
		c.BarAnchor = &origin
		c.Adjusters = append(c.Adjusters, loose(MovesBar, barClampX, barClampY)...)
		if !b.Bar.Rotation.Given && len(b.Moving(MovesBarRotation)) == 0 {
			c.Bar.Rotation = Setting{Given: true, Free: true, Lo: plane.Rad(-15), Hi: plane.Rad(15)}
		}
	}
	return &c
}

// ByEye lets a saddle or a bar that stands somewhere and has no adjuster be moved from there, up and forward, as far as anyone likes.
func (b *Bike) ByEye(m Moves) {
	for _, a := range loose(m, [2]float64{}, [2]float64{}) {
		a.FromHere, a.NoRange, a.ByTape = true, true, false
		b.Adjusters = append(b.Adjusters, a)
	}
}

// loose is a saddle or a bar that may be anywhere in a stretch of the side view.
func loose(m Moves, x, y [2]float64) []Adjuster {
	up, ahead := "saddle height", "saddle setback"
	if m == MovesBar {
		up, ahead = "bar height", "bar reach"
	}
	return []Adjuster{
		{Name: up, Moves: m, Angle: math.Pi / 2, Unit: 1, Lo: y[0], Hi: y[1], Sigma: 0.5, NoScale: true, ByTape: true},
		{Name: ahead, Moves: m, Angle: 0, Unit: 1, Lo: x[0], Hi: x[1], Sigma: 0.5, NoScale: true, ByTape: true},
	}
}
