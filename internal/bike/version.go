package bike

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"reflect"

	"carryover/internal/saddle"
)

// Version is a part that is fitted, with a short hash of its numbers: the same for the same shape, whatever it is called.
type Version struct {
	Bike    string `json:"bike,omitempty"`
	Slot    string `json:"kind"`
	Part    string `json:"part"`
	Version string `json:"version"`
}

// Versions are the parts of a bike. Of an open slot it is the one chosen, by slot; nil: none is.
func (b *Bike) Versions(chosen map[string]string) []Version {
	list := versions(nil, b, "saddle", b.Saddle.Slot, chosen)
	list = versions(list, b, "bar", b.Bar.Slot, chosen)
	list = versions(list, b, "lever", b.Bar.Lever, chosen)
	if b.Stem != nil {
		list = versions(list, b, "stem", b.Stem.Slot, chosen)
	}
	if b.Clipon != nil {
		list = versions(list, b, "clipon", b.Clipon.Slot, chosen)
	}
	return list
}

func versions[T any](list []Version, b *Bike, slot string, s Slot[T], chosen map[string]string) []Version {
	for _, o := range s.Options {
		if !s.Open || chosen[slot] == o.ID {
			list = append(list, Version{b.File, slot, o.ID, VersionOf(o.Part)})
		}
	}
	return list
}

// VersionOf is the first 8 hexadecimal digits of the SHA-256 of a shape's numbers, each behind the name of its field; what is 0
// is left out, so that a shape keeps its version when the program learns of more that a part can have.
func VersionOf(shape any) string {
	h := sha256.New()
	if s, ok := shape.(*saddle.Shape); ok {
		width, top := s.Listed()
		fmt.Fprint(h, "width", width, "top", top)
	}
	number(h, reflect.ValueOf(shape))
	return hex.EncodeToString(h.Sum(nil))[:8]
}

func number(w io.Writer, v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		number(w, v.Elem())
	case reflect.Struct:
		for field, value := range v.Fields() {
			if field.IsExported() && !value.IsZero() {
				fmt.Fprint(w, field.Name, " ")
				number(w, value)
			}
		}
	default:
		fmt.Fprintln(w, v.Interface())
	}
}
