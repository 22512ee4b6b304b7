package template

import (
	"fmt"

	"carryover/internal/draw"
	"carryover/internal/plane"
)

const (
	gaugeDeep = 60.0 // of the notch: a saddle's flanks are at their widest some 20 to 50 mm down (common practice)
	gaugeArm  = 16.0 // of card to each side of the notch
	gaugeTop  = 34.0 // of card above it
)

// Widest and narrowest gauge that stands on a sheet of Letter, mm.
const (
	GaugeMin = 20.0
	GaugeMax = 190.0
)

// Gauge draws a card with a notch as wide as a support, mm, to cut out: held upright across a saddle and pushed back
// from its nose until both edges of the notch touch, it stands where the saddle has that width.
func Gauge(width float64, p Paper) (*draw.Picture, error) {
	if !(width >= GaugeMin && width <= GaugeMax) {
		return nil, fmt.Errorf("a gauge is %g to %g mm wide, not %g", GaugeMin, GaugeMax, width)
	}
	q := frame(p, fmt.Sprintf("Gauge %s mm, true size", draw.Fixed(width, 1)), "finds the place where a saddle is this wide")
	q.Text = "A card to cut out, with a notch " + draw.Fixed(width, 1) + " mm wide."
	// Along the page, so that the widest fits too: the notch opens to the right.
	centre := plane.Point{X: margin + side + 8, Y: margin + head + p.tall()/2}
	q.Origin = centre
	at := func(along, down float64) plane.Point { return centre.Add(plane.Point{X: down, Y: along}) }
	half, out := width/2, width/2+gaugeArm
	q.Area(draw.Body, draw.Both, "card", at(-out, 0), at(out, 0), at(out, gaugeTop+gaugeDeep), at(half, gaugeTop+gaugeDeep),
		at(half, gaugeTop), at(-half, gaugeTop), at(-half, gaugeTop+gaugeDeep), at(-out, gaugeTop+gaugeDeep))
	q.Line(draw.Strong, draw.Both, "mark here", at(-half, gaugeTop-1), at(half, gaugeTop-1))
	q.Line(draw.Chain, draw.Both, "middle", at(0, 4), at(0, gaugeTop-3))
	r := draw.NewRoom(q, plane.Point{X: margin, Y: margin}, plane.Point{X: p.Width - margin, Y: p.Height - margin})
	r.Dimension(0, at(-half, gaugeTop+20), at(half, gaugeTop+20), "notch", draw.Fixed(width, 1)+" mm")
	x := at(0, gaugeTop+gaugeDeep).X + 8
	for i, text := range []string{"1  Glue on card, cut out along the outer line.", "2  Hold it upright and square across the",
		"    saddle, over the nose, notch down.",
		"3  Push it back until both edges of the", "    notch touch the saddle.", "4  Mark the saddle along the red line: there",
		"    it is this wide. The dashes are its middle."} {
		q.Say(draw.Label, draw.Both, plane.Point{X: x, Y: centre.Y - 16 + 5*float64(i)}, draw.Start, text)
	}
	return q, nil
}
