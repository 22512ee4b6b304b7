package plane

import (
	"encoding/json"
	"math"
)

// Angle is an angle: radians inside, degrees wherever a file, a person or JSON meets it.
type Angle float64

// Degrees returns the angle in degrees.
func (a Angle) Degrees() float64 { return Deg(float64(a)) }

// MarshalJSON writes degrees, without the last digits, which going to radians and back makes, and no minus in front of 0.
func (a Angle) MarshalJSON() ([]byte, error) {
	return json.Marshal(math.Round(a.Degrees()*1e12)/1e12 + 0)
}

// Quantity is a length or an angle, and knows which.
type Quantity struct {
	value float64 // mm, or radians
	turns bool
}

// Length returns a quantity of so many mm.
func Length(mm float64) Quantity { return Quantity{value: mm} }

// Turning returns a quantity that is an angle.
func Turning(a Angle) Quantity { return Quantity{float64(a), true} }

// QuantityOf returns a quantity of either kind, v in mm or radians.
func QuantityOf(turns bool, v float64) Quantity { return Quantity{v, turns} }

// Unit is what JSON gives beside a quantity that may be of either kind.
func (q Quantity) Unit() string {
	if q.turns {
		return "deg"
	}
	return "mm"
}

// Turns reports whether the quantity is an angle.
func (q Quantity) Turns() bool { return q.turns }

// Value is the bare number to compute with: mm, or radians.
func (q Quantity) Value() float64 { return q.value }

// Shown is the number a person reads: mm, or degrees.
func (q Quantity) Shown() float64 {
	if q.turns {
		return Deg(q.value)
	}
	return q.value
}

// Of returns another quantity of the same kind, v in mm or radians.
func (q Quantity) Of(v float64) Quantity { return Quantity{v, q.turns} }

// MarshalJSON writes mm or degrees.
func (q Quantity) MarshalJSON() ([]byte, error) {
	if q.turns {
		return Angle(q.value).MarshalJSON()
	}
	return json.Marshal(q.value)
}
