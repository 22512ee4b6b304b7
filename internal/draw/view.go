package draw

import "slices"

// Views are the pictures by name, in the order of the sheet.
var Views = []string{"side", "scales", "top", "pads", "why"}

// View makes one picture, or all that there are for "all". scale concerns what is drawn to scale.
func (v *Scene) View(view string, scale float64) (list []*Picture) {
	o := A4()
	o.Scale = scale
	low := o
	low.Height = 130
	one := func(p *Picture) []*Picture {
		return slices.DeleteFunc([]*Picture{p}, func(p *Picture) bool { return p == nil })
	}
	for i, made := range []func() []*Picture{func() []*Picture { return one(v.Side(o)) }, func() []*Picture { return v.Scales(o, 1) },
		func() []*Picture { return one(v.Top(o)) }, func() []*Picture { return one(v.Pads(low)) },
		func() []*Picture { return one(v.Why(o)) }} {
		if view == "all" || view == Views[i] {
			list = append(list, made()...)
		}
	}
	return list
}
