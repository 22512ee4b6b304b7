package format

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// units are what may stand behind a number, in mm or degrees. The longer of two that end alike comes first.
var units = []struct {
	name string
	size float64
}{{"mm", 1}, {"cm", 10}, {"inches", 25.4}, {"inch", 25.4}, {"in", 25.4}, {`"`, 25.4}, {"″", 25.4}, {"m", 1000},
	{"degrees", 1}, {"deg", 1}, {"°", 1}}

// ParseNumber reads a number as a person writes it, in mm or degrees: "740", "285 mm", "74,3 cm", "29 1/4 in", "-1.5°".
func ParseNumber(answer string) (float64, error) {
	text, scale := strings.ToLower(strings.TrimSpace(answer)), 1.0
	for _, u := range units {
		if bare, ok := strings.CutSuffix(text, u.name); ok {
			text, scale = strings.TrimSpace(bare), u.size
			break
		}
	}
	v, ok := 0.0, false
	switch words := strings.Fields(strings.Replace(strings.Replace(text, "−", "-", 1), ",", ".", 1)); {
	case len(words) == 1 && strings.Contains(words[0], "/"):
		v, ok = fraction(words[0])
	case len(words) == 1:
		v, ok = decimal(words[0])
	case len(words) == 2 && strings.Contains(words[1], "/"):
		var part float64
		v, ok = decimal(words[0])
		if part, ok = plus(ok, words[1]); strings.HasPrefix(words[0], "-") {
			part = -part
		}
		v += part
	}
	if !ok {
		return 0, fmt.Errorf("%q is not a number", answer)
	}
	return math.Round(v*scale*1e6) / 1e6, nil
}

func plus(ok bool, text string) (float64, bool) {
	v, good := fraction(text)
	return v, ok && good && v < 1
}

// decimal is an ordinary number; spellings like inf, 0x10 and 1e3 are not how a person reads a tape.
func decimal(text string) (float64, bool) {
	if strings.Trim(text, "+-.0123456789") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}

func fraction(text string) (float64, bool) {
	above, below, _ := strings.Cut(text, "/")
	a, err := strconv.ParseUint(above, 10, 16)
	b, err2 := strconv.ParseUint(below, 10, 16)
	return float64(a) / float64(b), err == nil && err2 == nil && b > 0
}

// ParseNumbers reads several numbers: with blanks between bare ones, else with commas, semicolons or "to". "0 30" is two
// numbers, "29 1/4 in" is one.
func ParseNumbers(answer string) ([]float64, error) {
	text := strings.NewReplacer("[", " ", "]", " ", ";", ";", " to ", ";", " and ", ";").Replace(answer)
	if v, err := ParseNumber(text); err == nil && !strings.Contains(text, ";") {
		return []float64{v}, nil
	}
	var fields []string
	switch {
	case strings.Contains(text, ";"):
		fields = strings.Split(text, ";")
	case strings.Contains(text, ", "):
		fields = strings.Split(text, ", ")
	default:
		fields = strings.Fields(text)
	}
	var all []float64
	for _, f := range fields {
		if strings.TrimSpace(f) == "" {
			continue
		}
		v, err := ParseNumber(f)
		if err != nil {
			return nil, fmt.Errorf("%w; write several numbers like 0; 30", err)
		}
		all = append(all, v)
	}
	return all, nil
}

// Decimal writes a number as the files do, with a decimal.
func Decimal(v float64) string {
	s := num(v)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}
