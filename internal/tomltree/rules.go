package tomltree

import (
	"fmt"
	"math"
	"strconv"
)

// Rule is a condition on a number, with the rider's words for it. Build rules with the functions below.
type Rule struct {
	code  string
	want  string // behind "must be"
	holds func(v float64) bool
	mend  func(v float64, literal string) string // may be nil
}

// Min wants a number of at least lo.
func Min(lo float64) Rule {
	return Rule{code: "value-range", want: "at least " + show(lo), holds: func(v float64) bool { return v >= lo }}
}

// Max wants a number of at most hi.
func Max(hi float64) Rule {
	return Rule{code: "value-range", want: "at most " + show(hi), holds: func(v float64) bool { return v <= hi }}
}

// Positive wants a number above 0.
func Positive() Rule {
	return Rule{code: "value-range", want: "above 0", holds: func(v float64) bool { return v > 0 }}
}

// Between wants a number from lo to hi, both allowed.
func Between(lo, hi float64) Rule {
	return Rule{
		code: "value-range", want: fmt.Sprintf("from %s to %s", show(lo), show(hi)),
		holds: func(v float64) bool { return lo <= v && v <= hi },
	}
}

// Plausible wants a length from loMM to hiMM, in mm. Outside it looks whether the length was given in another unit: where
// several would do, the one that brings it nearest to the middle of the stretch, by ratio.
func Plausible(loMM, hiMM float64) Rule {
	r := Between(loMM, hiMM)
	r.code = "implausible"
	r.want += " mm"
	r.mend = func(v float64, literal string) string {
		text, least := "", math.Inf(1)
		for _, unit := range []struct {
			name string
			mm   float64
		}{{"centimetres", 10}, {"inches", 25.4}, {"metres", 1000}} {
			mm := math.Round(v*unit.mm*10) / 10
			if away := math.Abs(math.Log(mm * mm / (loMM * hiMM))); loMM <= mm && mm <= hiMM && away < least {
				text, least = fmt.Sprintf("%s reads like %s: write %s", literal, unit.name, show(mm)), away
			}
		}
		return text
	}
	return r
}

func show(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
