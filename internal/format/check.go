package format

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"carryover/internal/diag"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

// Open holds a document against the keys of its sort, adds every problem to the list, and gives a view of what is right. With
// odd, numbers that are right but unusual are warned of.
func Open(root *tomltree.Node, k *Key, problems *diag.List, odd bool) *Table {
	f := &file{problems: problems, odd: odd, right: map[*tomltree.Node]*Key{}, tables: map[*tomltree.Node]*Table{}}
	return f.table(root, k, "", false)
}

// file is what is known of a document while it is read.
type file struct {
	problems *diag.List
	odd      bool
	right    map[*tomltree.Node]*Key // what each value was found to be
	tables   map[*tomltree.Node]*Table
	errors   int
}

// table checks the keys of a table. name is how messages call it; inList that it lies in an element of a list.
func (f *file) table(n *tomltree.Node, k *Key, name string, inList bool) *Table {
	t := &Table{node: n, name: name, inList: inList, file: f}
	f.tables[n] = t
	before := f.errors
	defer func() { t.right = f.errors == before }()
	known := k.Keys
	if k.By != "" {
		known = slices.Clone(known)
		if by := n.Get(k.By); by != nil && by.Kind == tomltree.KindString && k.Sorts[by.Str] != nil {
			known = append(known, k.Sorts[by.Str]...)
		} else { // what belongs to it cannot be told
			for _, word := range slices.Sorted(maps.Keys(k.Sorts)) {
				for _, key := range k.Sorts[word] {
					if n.Get(key.Name) != nil && !known.has(key.Name) {
						known = append(known, Key{Name: key.Name})
					}
				}
			}
		}
	}
	t.keys = known
	for i := range known {
		key := &known[i]
		v := n.Get(key.Name)
		switch {
		case v == nil && key.Needed && (key.Unless == "" || n.Get(key.Unless) == nil):
			t.Errorf("", "missing-key", "", "missing key %q in %s", tomltree.Shorten(key.Name), t.Name())
		case v != nil && key.Kind != 0:
			f.value(t, v, key, t.where(key.Name))
			if key.With != "" && n.Get(key.With) == nil {
				t.ErrorAtf(v, "missing-key", "give both, or neither", "missing key %q beside %s", key.With, t.where(key.Name))
			}
		}
	}
	for _, c := range n.Children {
		if !known.has(c.Key) {
			t.unknown(c, known)
		}
	}
	return t
}

// value judges one value and notes that it is right.
func (f *file) value(t *Table, n *tomltree.Node, k *Key, what string) bool {
	if k.Kind == Either {
		for i := range k.Kinds {
			if alternative := &k.Kinds[i]; alternative.Kind.takes(n) {
				return f.value(t, n, alternative, what)
			}
		}
	}
	if !k.Kind.takes(n) {
		t.wrongType(n, k, what)
		return false
	}
	ok := true
	switch k.Kind {
	case Number:
		ok = f.number(t, n, k, what)
	case Version:
		if ok = n.Float == 1; !ok {
			t.ErrorAtf(n, "schema", "write schema = 1", "schema %s is not known to this program", tomltree.Shorten(n.Str))
		}
	case Text:
		ok = f.text(t, n, k, what)
	case Day:
		if _, err := time.Parse(time.DateOnly, day(n)); err != nil {
			t.ErrorAtf(n, "date", "write it as year-month-day: 2026-11-27", "%s: %q is no day", what, tomltree.Shorten(n.Str))
			ok = false
		}
	case Span, Rising:
		if n.Kind != tomltree.KindArray {
			ok = f.number(t, n, k, what)
			break
		}
		free := *k
		free.Most = [2]float64{} // what it can be set to is not what it is
		if ok = f.numbers(t, n, &free, 2, what); ok && n.Children[0].Float > n.Children[1].Float {
			t.ErrorAtf(n, "reversed-range", fmt.Sprintf("write [%s, %s]%s", tomltree.Shorten(n.Children[1].Str),
				tomltree.Shorten(n.Children[0].Str), k.Mend),
				"%s is a range from high to low", what)
			ok = false
		}
	case Numbers:
		ok = f.numbers(t, n, k, k.Count, what)
	case Curve:
		ok = f.curve(t, n, k, what)
	case Texts:
		for i, c := range n.Children {
			ok = f.value(t, c, &Key{Kind: Text}, fmt.Sprintf("text %d of %s", i+1, what)) && ok
		}
		if len(n.Children) == 0 {
			t.ErrorAtf(n, "empty-list", "list at least one", "%s is empty", what)
			ok = false
		}
	case Section:
		ok = f.table(n, k, t.below(k.Name), t.inList).right
	case Sections:
		for i, c := range n.Children {
			if c.Kind != tomltree.KindTable {
				t.wrongType(c, &Key{Kind: Section}, fmt.Sprintf("entry %d of %s", i+1, what))
				ok = false
				continue
			}
			if k.Limit > 0 && i == k.Limit {
				t.ErrorAtf(c, k.Except, k.Mend, "there are %d in %s; at most %d can be handled", len(n.Children), what, k.Limit)
			}
			f.table(c, k, fmt.Sprintf("%s %d", t.listed(k.Name), i+1), true)
		}
	case Named:
		for _, c := range n.Children {
			f.value(t.of(n, k.Name), c, &Key{Name: c.Key, Kind: Section, Keys: k.Keys}, t.of(n, k.Name).where(c.Key))
		}
	case Marks:
		for _, c := range n.Children {
			f.value(t, c, &Key{Kind: Number, Lo: math.Inf(-1), Hi: math.Inf(1)}, t.of(n, k.Name).where(c.Key))
		}
	}
	if ok {
		f.right[n] = k
	}
	return ok
}

// kindsOf are the kinds of values that are written in each way.
var kindsOf = map[tomltree.Kind][]Kind{
	tomltree.KindInteger: {Number, Span, Version}, tomltree.KindFloat: {Number, Span}, tomltree.KindString: {Text, Day},
	tomltree.KindBool: {Flag}, tomltree.KindDatetime: {Day}, tomltree.KindArray: {Numbers, Rising, Span, Curve, Texts, Sections},
	tomltree.KindTable: {Section, Named, Marks},
}

// takes reports whether a value is written as this kind is.
func (k Kind) takes(n *tomltree.Node) bool { return slices.Contains(kindsOf[n.Kind], k) }

// day is a date as YYYY-MM-DD, the time of day left off.
func day(n *tomltree.Node) string {
	d, _, _ := strings.Cut(n.Str, "T")
	return d
}

func (f *file) number(t *Table, n *tomltree.Node, k *Key, what string) bool {
	if !Number.takes(n) {
		t.wrongType(n, &Key{Kind: Number}, what)
		return false
	}
	v, literal := n.Float, tomltree.Shorten(n.Str)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		t.ErrorAtf(n, "not-finite", "", "%s must be an ordinary number, is %s", what, literal)
		return false
	}
	if fault := k.Judge(v, literal); fault != nil {
		t.ErrorAtf(n, fault.Code, fault.Mend, "%s %s", what, fault.Text)
		return false
	}
	if fault := k.Odd(v, literal); fault != nil && f.odd {
		t.WarnAtf(n, fault.Code, fault.Mend, "%s: %s", what, fault.Text)
	}
	return true
}

// numbers judges a list of numbers; count 0 takes any number of them but none.
func (f *file) numbers(t *Table, n *tomltree.Node, k *Key, count int, what string) bool {
	switch {
	case count > 0 && len(n.Children) != count:
		t.ErrorAtf(n, "wrong-count", "", "%s wants %d numbers, has %d", what, count, len(n.Children))
		return false
	case len(n.Children) == 0:
		t.ErrorAtf(n, "empty-list", k.Mend, "%s is empty", what)
		return false
	}
	ok := true
	for i, c := range n.Children {
		ok = f.number(t, c, k, fmt.Sprintf("number %d of %s", i+1, what)) && ok
	}
	return ok
}

// curve judges a list of [station, value].
func (f *file) curve(t *Table, n *tomltree.Node, k *Key, what string) bool {
	if len(n.Children) < 2 {
		t.ErrorAtf(n, "station-count", "begin at the nose, station 0, and end at the tail, the length", "%s needs at least 2 stations", what)
		return false
	}
	ok, last := true, math.Inf(-1)
	for i, c := range n.Children {
		pair := Key{Kind: Numbers, Lo: math.Inf(-1), Hi: math.Inf(1)}
		name := fmt.Sprintf("pair %d of %s", i+1, what)
		if c.Kind != tomltree.KindArray {
			t.wrongType(c, &pair, name)
			ok = false
			continue
		}
		if !f.numbers(t, c, &pair, 2, name) {
			ok = false
			continue
		}
		station, value := c.Children[0], c.Children[1]
		switch at := station.Float; {
		case i == 0 && at != 0:
			t.ErrorAtf(c, "station-first", "stations are counted from the nose back", "the first station of %s must be 0, is %s", what, Num(at))
			ok = false
		case at <= last:
			t.ErrorAtf(c, "station-order", "list the stations from the nose back, each once",
				"station %s of %s does not lie behind station %s", Num(at), what, Num(last))
			ok = false
		}
		last = station.Float
		if fault := k.Judge(value.Float, tomltree.Shorten(value.Str)); fault != nil {
			t.ErrorAtf(c, fault.Code, fault.Mend, "%s at station %s %s", what, Num(last), fault.Text)
			ok = false
		}
	}
	return ok
}

func (f *file) text(t *Table, n *tomltree.Node, k *Key, what string) bool {
	if len(k.Words) > 0 && !slices.Contains(k.Words, n.Str) {
		mend := ""
		if near, found := diag.Suggest(n.Str, k.Words); found {
			mend = fmt.Sprintf("did you mean %q?", near)
		}
		t.ErrorAtf(n, "value-choice", mend, "%s must be %s, is %q", what, alternatives(k.Words), tomltree.Shorten(n.Str))
		return false
	}
	if k.Form != nil {
		if fault := k.Form.Judge(n.Str); fault != nil {
			t.ErrorAtf(n, fault.Code, fault.Mend, "%s: %s", what, fault.Text)
			return false
		}
	}
	return true
}

// alternatives is `"a", "b" or "c"`.
func alternatives(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = strconv.Quote(w)
	}
	return written.Or(quoted)
}

// kindWords are what a value must be, in words.
var kindWords = map[Kind]string{
	Number: "a number", Version: "a whole number", Text: "text", Flag: "true or false", Day: "a day", Numbers: "a list of numbers",
	Rising: "a list of 2 numbers", Span: "a number or [min, max]", Curve: "a list of pairs", Texts: "a list of texts", Section: "a table",
	Sections: "a list of tables", Named: "a table", Marks: "a table",
}

func (t *Table) wrongType(n *tomltree.Node, k *Key, what string) {
	want := []string{kindWords[k.Kind]}
	if k.Kind == Either {
		want = nil
		for _, alternative := range k.Kinds {
			if w := kindWords[alternative.Kind]; !slices.Contains(want, w) {
				want = append(want, w)
			}
		}
	}
	mend := k.Mend
	if mend == "" {
		mend = k.meant(n)
	}
	t.ErrorAtf(n, "wrong-type", mend, "%s must be %s, is %s", what, written.Or(want), describe(n))
}

// describe is the kind of a value, with the value where that is short.
func describe(n *tomltree.Node) string {
	switch n.Kind {
	case tomltree.KindString:
		return fmt.Sprintf("text %q", tomltree.Shorten(n.Str))
	case tomltree.KindInteger, tomltree.KindFloat:
		return "the number " + tomltree.Shorten(n.Str)
	case tomltree.KindDatetime:
		return "the date or time " + tomltree.Shorten(n.Str)
	case tomltree.KindBool:
		return n.Str
	case tomltree.KindArray:
		return "a list"
	}
	return "a table"
}

// meant guesses what was meant by a value of another kind.
func (k *Key) meant(n *tomltree.Node) string {
	scalar := n.Kind != tomltree.KindArray && n.Kind != tomltree.KindTable
	switch k.Kind {
	case Number, Span:
		if v, err := written.Quantity(n.Str); err == nil && n.Kind == tomltree.KindString && len(n.Str) < 30 {
			return "write the number alone, without quotes: " + Num(v)
		}
	case Version:
		if n.Float == 1 {
			return "write 1"
		}
	case Text:
		if scalar {
			return fmt.Sprintf("put it in quotes: %q", tomltree.Shorten(n.Str))
		}
	case Flag:
		if n.Str == "true" || n.Str == "false" {
			return "write it without quotes: " + n.Str
		}
	case Day:
		return "write it as 2026-11-27"
	case Curve:
		return "write it as [[1, 2], [3, 4]]"
	case Section:
		if n.Headers() {
			return fmt.Sprintf("there is only one: write [%s]", tomltree.ShowKey(k.Name))
		}
	case Sections:
		if n.Kind == tomltree.KindTable {
			return fmt.Sprintf("there may be several: write [[%s]]", tomltree.ShowKey(k.Name))
		}
	}
	return ""
}

// unknown reports a key that the table does not have.
func (t *Table) unknown(n *tomltree.Node, known Keys) {
	const most = 16 // keys that still read as a list
	var names, absent []string
	for _, k := range known {
		names = append(names, k.Name)
		if t.node.Get(k.Name) == nil {
			absent = append(absent, k.Name)
		}
	}
	mend := ""
	if near, found := diag.Suggest(n.Key, absent); found {
		mend = fmt.Sprintf("did you mean %q?", near)
	} else if len(names) > 0 && len(names) <= most {
		mend = "known here: " + strings.Join(names, ", ")
	}
	noun := "key"
	if n.Kind == tomltree.KindTable || n.Headers() {
		noun = "table"
	}
	t.ErrorAtf(&tomltree.Node{Span: n.KeySpan, Line: n.Line}, "unknown-key", mend,
		"unknown %s %q in %s", noun, tomltree.Shorten(n.Key), t.Name())
}
