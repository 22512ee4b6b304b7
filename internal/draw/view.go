package draw

// Views are the pictures by name, in the order of the sheet.
var Views = []string{"side", "scales", "top", "pads", "why"}

// View makes one picture, or all that there are for "all". scale concerns what is drawn to scale.
func (v *Scene) View(view string, scale float64) []*Picture {
	var list []*Picture
	for _, name := range Views {
		if view != "all" && view != name {
			continue
		}
		o := A4()
		var p *Picture
		switch name {
		case "side":
			o.Scale = scale
			p = v.Side(o)
		case "top":
			o.Scale = scale
			p = v.Top(o)
		case "pads":
			o.Scale, o.Height = scale, 130
			p = v.Pads(o)
		case "scales":
			p = v.Scales(o)
		case "why":
			p = v.Why(o)
		}
		if p != nil {
			list = append(list, p)
		}
	}
	return list
}
