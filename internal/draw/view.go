package draw

import (
	"carryover/internal/carry"
	"carryover/internal/locate"
)

// Views are the pictures by name, in the order of the sheet.
var Views = []string{"side", "top", "scales", "why"}

// View makes one picture, or all of them for "all". show and scale concern the side and the top view.
func View(source *locate.Adjustment, s *carry.Solution, view string, show Layer, scale float64) ([]*Picture, error) {
	scene := NewScene(source, s)
	scene.Show = show
	sheet := A4()
	var list []*Picture
	for _, v := range Views {
		if view != "all" && view != v {
			continue
		}
		to := sheet
		switch v {
		case "side":
			to.Scale = scale
			list = append(list, scene.Side(to))
		case "top":
			to.Scale = scale
			list = append(list, scene.Top(to))
		case "scales":
			steps, err := s.Order()
			if err != nil {
				return nil, err
			}
			list = append(list, Scales(s, InOrder(s, steps), to))
		case "why":
			why := s.Why(source)
			list = append(list, Why(&why, s.Position.Posture.Name, to))
		}
	}
	return list, nil
}

// InOrder lists the settings as the order of work has them, and behind them those that it leaves alone.
func InOrder(s *carry.Solution, steps []carry.Step) []int {
	var order []int
	seen := map[int]bool{}
	for _, st := range steps {
		for _, i := range st.Settings {
			order, seen[i] = append(order, i), true
		}
	}
	for i := range s.Settings {
		if !seen[i] {
			order = append(order, i)
		}
	}
	return order
}
