package words

import (
	"math"
	"strconv"
	"strings"

	"carryover/internal/plane"
	"carryover/internal/written"
)

// What a tape and a level can be set to.
const byTape, byLevel = 0.5, 0.1

// Num is a number with so many decimals, without a minus in front of zero.
func Num(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// Signed is Num with a plus in front of what is added.
func Signed(v float64, decimals int) string {
	s := Num(v, decimals)
	if strings.Trim(s, "-0.") != "" && v > 0 {
		return "+" + s
	}
	return s
}

// Trimmed is a number with up to so many decimals, no more than there are.
func Trimmed(v float64, decimals int) string {
	s := Num(v, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// steps is a number rounded to steps of a size.
func steps(v, size float64) float64 { return math.Round(v/size) * size }

// MM is a length as a tape is set, to half a millimetre, with its unit.
func MM(v float64) string { return Trimmed(steps(v, byTape), 1) + NoBreak + "mm" }

// Degrees is an angle as a level is set, to a tenth of a degree.
func Degrees(a plane.Angle) string { return Num(a.Degrees(), 1) + "°" }

// Amount is a length or an angle as it is set.
func Amount(q plane.Quantity) string {
	if q.Turns() {
		return Num(q.Shown(), 1) + "°"
	}
	return MM(q.Value())
}

// unit is what stands behind a number of a quantity.
func unit(q plane.Quantity) string { return either(q.Turns(), "°", NoBreak+"mm") }

// Size is Amount without a sign.
func Size(q plane.Quantity) string { return Amount(q.Of(math.Abs(q.Value()))) }

// settable is a quantity rounded to what can be set, mm or degrees.
func settable(q plane.Quantity) float64 {
	if q.Turns() {
		return steps(q.Shown(), byLevel)
	}
	return steps(q.Value(), byTape)
}

// None reports a quantity that is nothing once rounded to what can be set.
func None(q plane.Quantity) bool { return settable(q) == 0 }

// Sure is a quantity with its standard uncertainty; one that is too small to be seen is not told.
func Sure(q plane.Quantity, sigma float64) string {
	s := q.Of(sigma)
	if None(s) {
		return Amount(q)
	}
	return Bare(q) + NoBreak + "±" + NoBreak + Amount(s)
}

// Bare is Amount without its unit.
func Bare(q plane.Quantity) string {
	return strings.TrimSuffix(strings.TrimSuffix(Amount(q), "°"), NoBreak+"mm")
}

// difference is how much more one quantity is than another, both as they are told, without a unit.
func difference(from, to plane.Quantity) string {
	s := Signed(settable(to)-settable(from), 1)
	if !to.Turns() {
		s = strings.TrimSuffix(s, ".0")
	}
	return s
}

// Counted is "1 file", "2 files".
func Counted(n int, noun string) string { return written.Counted(n, noun) }

// Thousands is a count with its thousands apart.
func Thousands(n float64) string {
	if n >= 1e15 {
		return "more than a million thousand million"
	}
	s := strconv.FormatFloat(n, 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// either is one of two words.
func either(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

// List is "a", "a and b", "a, b and c".
func List(items []string) string { return written.And(items) }

// Capital opens a text with a capital.
func Capital(s string) string { return written.Capital(s) }

// Sentence opens a text with a capital and closes it with a full stop.
func Sentence(s string) string { return strings.TrimSuffix(Capital(s), ".") + "." }
