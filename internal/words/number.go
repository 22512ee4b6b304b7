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

// Bare is a length as a tape is set, to half a millimetre, or an angle as a level is set, to a tenth of a degree.
func Bare(q plane.Quantity) string {
	if q.Turns() {
		return Num(q.Shown(), 1)
	}
	return Trimmed(steps(q.Value(), byTape), 1)
}

// unit is what stands behind a number of a quantity; inMM is that where a heading says that lengths are in mm.
func unit(q plane.Quantity) string { return either(q.Turns(), "°", NoBreak+"mm") }
func inMM(q plane.Quantity) string { return either(q.Turns(), "°", "") }

// Amount is a length or an angle as it is set, with its unit.
func Amount(q plane.Quantity) string { return Bare(q) + unit(q) }

// MM is a length as it is set.
func MM(v float64) string { return Amount(plane.Length(v)) }

// Degrees is an angle as it is set.
func Degrees(a plane.Angle) string { return Amount(plane.Turning(a)) }

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

// Sure is a quantity with its standard uncertainty and its unit.
func Sure(q plane.Quantity, sigma float64) string { return Bare(q) + give(q.Of(sigma)) + unit(q) }

// give is a standard uncertainty behind its number; one that is too small to be seen is not told.
func give(sigma plane.Quantity) string {
	return either(None(sigma), "", NoBreak+"±"+NoBreak+Bare(sigma))
}

// apart is how much more one quantity is than another, both as they are told.
func apart(from, to plane.Quantity) plane.Quantity {
	by := settable(to) - settable(from)
	return to.Of(either(to.Turns(), plane.Rad(by), by))
}

// difference is apart with its sign, without its unit.
func difference(from, to plane.Quantity) string {
	by := apart(from, to)
	return either(by.Value() > 0 && !None(by), "+", "") + Bare(by)
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

// either is one of two.
func either[T any](first bool, a, b T) T {
	if first {
		return a
	}
	return b
}

// List is "a", "a and b", "a, b and c".
func List(items []string) string { return written.And(items) }

// Capital opens a text with a capital.
func Capital(s string) string { return written.Capital(s) }

// Sentence opens a text, which has no full stop, with a capital and closes it with one.
func Sentence(s string) string { return Capital(s) + "." }
