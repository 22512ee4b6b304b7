package envelope

import (
	"encoding/json"
	"math"

	"carryover/internal/bike"
	"carryover/internal/plane"
)

func corners(poly []plane.Point) [][2]float64 {
	list := make([][2]float64, 0, len(poly))
	for _, p := range poly {
		list = append(list, [2]float64{p.X, p.Y})
	}
	return list
}

// MarshalJSON writes a region with its corners counter-clockwise; stepped: polygon is the hull of the pieces.
func (g Region) MarshalJSON() ([]byte, error) {
	pieces := [][][2]float64{}
	for _, p := range g.Pieces {
		pieces = append(pieces, corners(p))
	}
	return json.Marshal(map[string]any{"point": g.Name, "turn": plane.Angle(g.Turn), "turn_free": g.TurnFree, "rail": g.Rail,
		"stepped": g.Stepped(), "all_pieces": !g.PieceOpen, "lever_steps": g.Sampled, "polygon": corners(g.Polygon), "pieces": pieces})
}

// MarshalJSON writes a room; a distance is null where the region is not that way.
func (r Room) MarshalJSON() ([]byte, error) {
	along := map[string]*float64{}
	for k, name := range Compass {
		along[name] = nil
		if v := r.Along[k]; !math.IsNaN(v) {
			along[name] = &v
		}
	}
	return json.Marshal(map[string]any{"contact": r.Want.Name, "x": r.Want.At.X, "y": r.Want.At.Y, "inside": r.Inside, "nearest": r.Nearest,
		"toward_x": r.Toward.X, "toward_y": r.Toward.Y, "along": along, "turn_down": plane.Angle(r.TurnDown), "turn_up": plane.Angle(r.TurnUp),
		"held_by": append([]string{}, r.HeldBy...), "miss": r.Miss, "miss_angle": plane.Angle(r.MissAngle), "carried": r.Carried.Carried,
		"region": r.Region})
}

// Around is the room around one posture of a bike.
type Around struct {
	From    string         `json:"from"` // its file
	Posture string         `json:"posture"`
	Crank   float64        `json:"crank"`
	Rooms   []Room         `json:"rooms"`
	Missing []bike.Contact `json:"missing"` // contacts for which nothing is fitted
}
