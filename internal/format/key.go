// Package format is the file format as one table of keys: what may stand behind each, in which unit, what is usual, and how
// a person finds it. Reader, JSON Schema, lint and interviews follow from it. What takes more than one key to judge (that a
// mark belongs to an adjuster, that a saddle's last station is its length) is left to the readers of the files.
package format

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/written"
)

// Kind is what stands behind a key. The zero value is invalid.
type Kind int

// The kinds of values.
const (
	Number  Kind = iota + 1
	Version      // the whole number 1
	Text
	Flag     // true or false
	Day      // a date, or a text that is one
	Numbers  // a list of numbers, at least one; of Count where that is given
	Rising   // a list of two numbers, the first not above the second
	Span     // a number, or a list of two: fixed, or free from the one to the other
	Curve    // a list of [station, value], the stations rising from 0
	Texts    // a list of texts, at least one
	Section  // a table
	Sections // a list of tables
	Named    // a table of tables with names of the user's own
	Marks    // a table of numbers with names of the user's own
	Either   // one of several kinds, told apart by how they are written
)

// Unit is what a number counts.
type Unit int

// The units of the files.
const (
	None Unit = iota
	MM
	Deg // radians once read
)

// Of is a number with its unit.
func (u Unit) Of(v float64) string { return Num(v) + map[Unit]string{MM: " mm", Deg: "°"}[u] }

// Key is one key of a table.
type Key struct {
	Name   string
	Kind   Kind
	Needed bool
	Unless string // with Needed: not where this key is there
	With   string // the key that must stand beside it
	About  string // what it is
	How    string // where to hold the tape, for the person who is asked
	Left   string // what it counts as where it is left out, if that is not plain
	Ask    string // how a person is asked for it, where About makes no question
	Usual  string // what an empty answer stands for
	Said   []Said // words that a person may answer for a number

	slots string // About of a reading, with %[1]s for the place on the saddle and %[2]s for the other end

	Unit    Unit
	Lo, Hi  float64    // what a number may be
	Above   bool       // Lo itself is refused
	Nonzero bool       // 0 is refused
	Else    float64    // what it is where it is left out
	Least   float64    // less than this is refused, but for 0
	Most    [2]float64 // what nearly all are (common practice); zero: not said
	Count   int        // of Numbers; 0: any

	Words []string // of a Text: the choices
	Form  *Form    // of a Text: how it is made up

	Keys   Keys            // of a Section, of each of Sections or Named
	By     string          // the key among Keys whose word decides which others belong to the table
	Sorts  map[string]Keys // by that word
	Limit  int             // of Sections: how many there may be; 0: any
	Except string          // the code and the advice when there are more

	Kinds []Key  // of Either
	Mend  string // advice, where the problem itself suggests none
}

// Said is a word that stands for a number.
type Said struct {
	Word  string
	Value float64
}

// Form is how a text is made up: a pattern for the schema, and a judge that says what is wrong and how to mend it.
type Form struct {
	Pattern string
	Taken   []string // texts that match and are refused all the same
	Judge   func(text string) *Fault
}

// Fault is what is wrong with a value.
type Fault struct{ Code, Text, Mend string }

// Keys are the keys of a table.
type Keys []Key

// Find is the key at a path like "frame.bb_height"; through a Named table the path has no name. It panics when there is none,
// which is a mistake of the program.
func (ks Keys) Find(path string) *Key {
	name, rest, deeper := strings.Cut(path, ".")
	for i := range ks {
		if ks[i].Name != name {
			continue
		}
		k := &ks[i]
		if !deeper {
			return k
		}
		for j := range k.Kinds {
			if k.Kinds[j].Kind == Section {
				return k.Kinds[j].Keys.Find(rest)
			}
		}
		return k.Keys.Find(rest)
	}
	panic("format: no key " + path)
}

func (ks Keys) has(name string) bool {
	return slices.ContainsFunc(ks, func(k Key) bool { return k.Name == name })
}

func mm(name string, lo, hi float64, about string) Key {
	return Key{Name: name, Kind: Number, Unit: MM, Lo: lo, Hi: hi, About: about}
}

func deg(name string, lo, hi float64, about string) Key {
	return Key{Name: name, Kind: Number, Unit: Deg, Lo: lo, Hi: hi, About: about}
}

func text(name, about string) Key { return Key{Name: name, Kind: Text, About: about} }

func word(name, about string, words ...string) Key {
	return Key{Name: name, Kind: Text, About: about, Words: words}
}

func table(name, about string, keys ...Key) Key {
	return Key{Name: name, Kind: Section, About: about, Keys: keys}
}

// point is [x, y] of at most limit mm to either side.
func point(name string, limit float64, about string) Key {
	return Key{Name: name, Kind: Numbers, Count: 2, Unit: MM, Lo: -limit, Hi: limit, About: about}
}

func either(name, about, mend string, kinds ...Key) Key {
	for i := range kinds {
		kinds[i].Name = name
	}
	return Key{Name: name, Kind: Either, About: about, Mend: mend, Kinds: kinds}
}

// as is the key with its numbers in another kind of value.
func (k Key) as(kind Kind) Key         { k.Kind = kind; return k }
func (k Key) needed() Key              { k.Needed = true; return k }
func (k Key) usual(lo, hi float64) Key { k.Most = [2]float64{lo, hi}; return k }
func (k Key) how(text string) Key      { k.How = text; return k }
func (k Key) left(text string) Key     { k.Left = text; return k }
func (k Key) orElse(v float64) Key     { k.Else = v; return k }
func (k Key) ask(text string) Key      { k.Ask = text; return k }
func (k Key) empty(text string) Key    { k.Usual = text; return k }
func (k Key) said(words ...Said) Key   { k.Said = words; return k }
func (k Key) with(key string) Key      { k.With = key; return k }
func (k Key) unless(key string) Key    { k.Needed, k.Unless = true, key; return k }
func (k Key) above() Key               { k.Above = true; return k }

// Error is the fault with its mend.
func (f *Fault) Error() string {
	if f.Mend == "" {
		return f.Text
	}
	return f.Text + ": " + f.Mend
}

// Number reads a number as people write it, mm or degrees.
func (k *Key) Number(text string) (float64, error) {
	switch k.Unit {
	case MM:
		return written.Length(text)
	case Deg:
		return written.Degrees(text)
	}
	return written.Quantity(text)
}

// Read reads a number as people write it, mm or degrees, or a word that stands for one, and refuses one that cannot be.
func (k *Key) Read(text string) (float64, error) {
	for _, s := range k.Said {
		if strings.EqualFold(text, s.Word) {
			return s.Value, nil
		}
	}
	v, err := k.Number(text)
	switch {
	case err != nil && k.Said != nil:
		return 0, fmt.Errorf("answer with %s", written.Or(k.Answers()))
	case err != nil:
		return 0, err
	}
	if fault := k.Judge(v, Num(v)); fault != nil {
		return 0, fmt.Errorf("it %w", fault)
	}
	return v, nil
}

// Answers are the words that are taken for an answer, the last of them "a number" where one may be given too.
func (k *Key) Answers() []string {
	words := slices.Clone(k.Words)
	for _, s := range k.Said {
		words = append(words, s.Word)
	}
	if k.Said != nil {
		words = append(words, "a number")
	}
	return words
}

// Asked is the question for a key, with its unit.
func (k *Key) Asked() string { return written.Capital(cmp.Or(k.Ask, k.described())) }

// LeftOut is what a number counts as where it is left out; "": that is plain.
func (k *Key) LeftOut() string {
	if k.Left == "" && k.Else != 0 {
		return k.Unit.Of(k.Else)
	}
	return k.Left
}

// Between is the question for a reading that goes from a place on the saddle to another end, in a person's words for both.
func (k Key) Between(at, to string) string {
	if k.slots != "" {
		k.About = fmt.Sprintf(k.slots, at, to)
	}
	return k.Asked()
}

// Judge says what is wrong with a number, nil when nothing is. literal is how it was written.
func (k *Key) Judge(v float64, literal string) *Fault {
	switch {
	case k.Nonzero && v == 0:
		return &Fault{"value-range", "must not be 0, which would move nothing", k.Mend}
	case k.Least > 0 && v > 0 && v < k.Least:
		return &Fault{"step-tiny", "must be at least " + Num(k.Least) + ", or 0, is " + literal, "write 0.0 for anywhere between"}
	case v > k.Lo && v <= k.Hi || v == k.Lo && !k.Above:
		return nil
	}
	f := &Fault{Code: "value-range", Text: "must be " + k.limits() + ", is " + literal, Mend: k.Mend}
	if k.Unit == MM && k.Lo > 0 {
		f.Code, f.Mend = "implausible", k.otherUnit(v, literal)
	}
	return f
}

// limits is "from 100 to 500 mm", "above 0", "at least 0".
func (k *Key) limits() string {
	least := "at least " + Num(k.Lo)
	if k.Above {
		least = "above " + Num(k.Lo)
	}
	switch {
	case math.IsInf(k.Hi, 1):
		return least
	case k.Above && k.Unit == MM:
		return fmt.Sprintf("%s and at most %s mm", least, Num(k.Hi))
	case k.Above:
		return fmt.Sprintf("%s and at most %s", least, Num(k.Hi))
	case k.Unit == MM:
		return fmt.Sprintf("from %s to %s mm", Num(k.Lo), Num(k.Hi))
	}
	return fmt.Sprintf("from %s to %s", Num(k.Lo), Num(k.Hi))
}

// otherUnit looks whether a length was given in another unit: where several would do, the one that brings it nearest to the
// middle of what it may be, by ratio.
func (k *Key) otherUnit(v float64, literal string) string {
	text, least := "", math.Inf(1)
	for _, u := range []struct {
		name string
		mm   float64
	}{{"centimetres", 10}, {"inches", 25.4}, {"metres", 1000}} {
		mm := math.Round(v*u.mm*10) / 10
		if away := math.Abs(math.Log(mm * mm / (k.Lo * k.Hi))); k.Lo <= mm && mm <= k.Hi && away < least {
			text, least = fmt.Sprintf("%s reads like %s: write %s", literal, u.name, Num(mm)), away
		}
	}
	return text
}

// Odd says that a number is right but not what nearly all are; nil when it is.
func (k *Key) Odd(v float64, literal string) *Fault {
	if k.Most == [2]float64{} || k.Most[0] <= v && v <= k.Most[1] {
		return nil
	}
	f := &Fault{Code: "unusual-size", Text: fmt.Sprintf("%s is unusual: nearly all are from %s to %s", literal, Num(k.Most[0]),
		k.Unit.Of(k.Most[1]))}
	if cm := v * 10; k.Unit == MM && k.Most[0] <= cm && cm <= k.Most[1] {
		f.Mend = fmt.Sprintf("if it was read in centimetres, write %s", Num(math.Round(cm*10)/10))
	}
	return f
}

// Num writes a number in the shortest form that reads back the same.
func Num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
