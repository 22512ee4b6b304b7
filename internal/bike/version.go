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
func (b *Bike) Versions(chosen map[string]string) (list []Version) {
	for _, k := range b.Stocks() {
		for i := range k.Count {
			if o := k.At(i); !k.Open || chosen[k.Slot] == o.ID {
				list = append(list, Version{b.File, k.Slot, o.ID, VersionOf(o.Shape)})
			}
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
