package locate

import (
	"fmt"

	"carryover/internal/bike"
)

// ShareSag gives a saddle without a shape whose sag is not stated that of the other bike's saddle, 0 where neither
// says. It returns the bikes, changed ones as copies; the error asks for the sag where the other's saddle is still to be
// chosen.
func ShareSag(from, to *bike.Bike) (f, t *bike.Bike, err error) {
	if f, err = sagFrom(from, to); err != nil {
		return from, to, err
	}
	t, err = sagFrom(to, from)
	return f, t, err
}

func sagFrom(b, other *bike.Bike) (*bike.Bike, error) {
	if !b.Saddle.Empty() || b.Saddle.Sag != nil {
		return b, nil
	}
	sag := 0.0
	switch o := &other.Saddle; {
	case o.Open:
		return b, fmt.Errorf("%s: its saddle has no part and no sag, and %s has several to choose from: "+
			"give sag in [saddle], how far the surface gives under the rider, mm",
			b.File, other.File)
	case !o.Empty():
		sag = o.Only().Sag
	case o.Sag != nil:
		sag = *o.Sag
	}
	c := *b
	c.Saddle.Sag = &sag
	c.Assumed = append(c.Assumed[:len(c.Assumed):len(c.Assumed)],
		fmt.Sprintf("saddle.sag of %s: not stated, taken as the other bike's, %.1f mm", b.File, sag))
	return &c, nil
}
