package draw

import (
	"math"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// detailRadii are the radii of a magnified detail, mm of paper, to be tried in turn.
var detailRadii = [...]float64{18, 15, 12}

// details draws the primary contacts again, magnified, where they moved and there is room: what moved by three mm with
// the crank cannot be seen at a tenth of its size.
func (v *Scene) details(r *Room, f Frame) {
	if !v.both() || v.top() != To {
		return
	}
	n := 0
	for i, is := range v.bikes[To].contacts[:2] {
		was := v.bikes[From].contacts[i]
		by := is.At.Sub(was.At)
		if by.Norm() < 0.5 {
			continue
		}
		centre := was.At.Add(is.At).Scale(0.5)
		for _, radius := range detailRadii {
			scale := fitting(2*by.Norm(), 1, radius, 1e9)
			if scale*3 > f.Scale {
				break // magnifies too little to show more
			}
			letter := string(rune('A' + n))
			head, way := letter+": "+words.Touched(is.Name)+", "+scaleName(scale), strings.Join(words.Shifted(by.X, by.Y), ", ")
			if v.result.Want.Shift.Distance(by) < 0.05 {
				way += ", for the pedals"
			}
			half := math.Max(radius+2, 1+math.Max(TextWidth(head, Label), TextWidth(way, Minor))/2)
			at, ok := r.circle(half, radius+1, 8)
			if !ok {
				continue
			}
			n++
			ring, small := f.At(centre), radius*scale/f.Scale
			if around := circle(ring, math.Max(small, 2.4), 0, 2*math.Pi); without(byText, r.along(around)) {
				r.p.Line(Thin, Both, "", around...)
			}
			v.detail(r, at, radius, centre, scale, was, is)
			r.p.Say(Label, Both, at.Add(plane.Point{Y: radius + 3.6}), Middle, head)
			r.p.Say(Minor, Both, at.Add(plane.Point{Y: radius + 7.2}), Middle, way)
			r.say(note{style: Minor, at: ring.Add(plane.Point{X: -small * 0.8, Y: small * 0.8}), text: letter, toward: -0.75 * math.Pi})
			break
		}
	}
}

// detail draws the surroundings of one contact into a circle.
func (v *Scene) detail(r *Room, at plane.Point, radius float64, centre plane.Point, scale float64, was, is assembly.Contact) {
	f := Frame{scale, plane.Point{X: at.X - centre.X/scale, Y: at.Y + centre.Y/scale}}
	r.p.Dot(Open, Both, "detail "+string(is.Name), at, radius)
	for _, l := range v.layers() {
		for _, part := range v.bikes[l].parts(1) {
			if part.name == "saddle body" {
				continue
			}
			for _, line := range inCircle(f.All(part.line...), at, radius) {
				r.p.Line(v.parts(l), l, "", line...)
			}
		}
	}
	v.contact(r.p, From, f, was, 14)
	v.contact(r.p, To, f, is, 14)
	r.p.arrow(Both, "", f.At(was.At), f.At(is.At))
}

// circle finds the middle of a free circle with room below it for words, so wide to both sides, the one furthest to the right
// and down.
func (r *Room) circle(half, radius, below float64) (plane.Point, bool) {
	r.look()
	// How many cells are taken left of and above each corner of a cell.
	sums := make([][]int, r.ny+1)
	sums[0] = make([]int, r.nx+1)
	for y := range r.ny {
		sums[y+1] = make([]int, r.nx+1)
		for x := range r.nx {
			sums[y+1][x+1] = sums[y+1][x] + sums[y][x+1] - sums[y][x] + min(int(r.taken[y*r.nx+x]), 1)
		}
	}
	across := func(x float64) int { return min(max(int(math.Floor(x/r.cell)), 0), r.nx-1) }
	down := func(y float64) int { return min(max(int(math.Floor(y/r.cell)), 0), r.ny-1) }
	for x := r.within.hi.X - half; x >= r.within.lo.X+half; x -= 4 * r.cell {
		left, right := across(x-half), across(x+half)+1
		for y := r.within.hi.Y - radius - below; y >= r.within.lo.Y+radius; y -= 4 * r.cell {
			top, foot := down(y-radius), down(y+radius+below)+1
			if sums[foot][right]-sums[top][right] == sums[foot][left]-sums[top][left] {
				return plane.Point{X: x, Y: y}, true
			}
		}
	}
	return plane.Point{}, false
}
