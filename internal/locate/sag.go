package locate

import (
	"fmt"
	"slices"

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

// ShareSole takes a sole height that neither bike states as the same on both, which the first then lists among what is
// assumed. The error names the bike that alone leaves it out: taken as 0 it would raise the seat by a whole pedal and shoe.
func ShareSole(from, to *bike.Bike) (*bike.Bike, error) {
	lacks, has := from, to
	switch {
	case !from.Feet.NoSole && !to.Feet.NoSole:
		return from, nil
	case from.Feet.NoSole && to.Feet.NoSole:
		c := *from
		c.Assumed = append(slices.Clip(from.Assumed),
			"pedals and shoes are not stated (sole_height in [feet]): taken as the same on both bikes")
		return &c, nil
	case to.Feet.NoSole:
		lacks, has = to, from
	}
	return from, fmt.Errorf("%s: sole_height is missing in [feet], and %s gives it: measure from the pedal axle to the underside of the "+
		"foot here too, or leave it out on both where pedals and shoes are the same", lacks.File, has.File)
}

func sagFrom(b, other *bike.Bike) (*bike.Bike, error) {
	o := &other.Saddle
	sag, assumed := 0.0, "how far the saddles give under you is not stated (sag in [saddle]): taken as the same on both bikes"
	switch {
	case !b.Saddle.Empty() || b.Saddle.Sag != nil:
		return b, nil
	case o.Open:
		return b, fmt.Errorf("%s: its saddle has no part and no sag, and %s has several to choose from: "+
			"give sag in [saddle], how far the surface gives under the rider, mm",
			b.File, other.File)
	case !o.Empty():
		sag = o.Only().Sag
	case o.Sag != nil:
		sag = *o.Sag
	}
	if !o.Empty() || o.Sag != nil {
		assumed = fmt.Sprintf("how far the saddle of %s gives under you is not stated (sag in [saddle]): taken as the other bike's, %.1f mm",
			b.File, sag)
	}
	c := *b
	c.Saddle.Sag, c.Assumed = &sag, append(slices.Clip(b.Assumed), assumed)
	return &c, nil
}
