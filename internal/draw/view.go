package draw

// Views are the pictures by name, in the order of the sheet.
var Views = []string{"side", "scales", "top", "pads", "why"}

// View makes one picture, or all that there are for "all". scale concerns what is drawn to scale.
func (v *Scene) View(view string, scale float64) (list []*Picture) {
	o := A4()
	o.Scale = scale
	low := o
	low.Height = 130
	for i, p := range []func() *Picture{func() *Picture { return v.Side(o) }, func() *Picture { return v.Scales(o) },
		func() *Picture { return v.Top(o) }, func() *Picture { return v.Pads(low) }, func() *Picture { return v.Why(o) }} {
		if view != "all" && view != Views[i] {
			continue
		}
		if made := p(); made != nil {
			list = append(list, made)
		}
	}
	return list
}
