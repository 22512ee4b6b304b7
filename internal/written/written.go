// Package written reads and writes numbers and lists as people write them.
package written

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// unit is what may stand behind a number.
type unit struct {
	name string
	size float64 // in mm or degrees
}

// The longer of two names that end alike comes first.
var (
	lengths = []unit{{"mm", 1}, {"cm", 10}, {"inches", 25.4}, {"inch", 25.4}, {"in", 25.4}, {`"`, 25.4}, {"″", 25.4}, {"m", 1000}}
	angles  = []unit{{"degrees", 1}, {"deg", 1}, {"°", 1}}
)

// Length reads a length, mm: "742", "742 mm", "74.2 cm", "29.2in", "74,2 cm", "5 ft 10".
func Length(text string) (float64, error) {
	m := feet.FindStringSubmatch(strings.ToLower(text))
	if m == nil {
		return number(text, lengths)
	}
	inches, err := number("0"+m[2], nil)
	if err != nil || inches >= 12 {
		return 0, fmt.Errorf("%q is not a number of feet and inches", text)
	}
	whole, _ := strconv.ParseFloat(m[1], 64) // digits
	return math.Round((12*whole+inches)*25.4*1e6) / 1e6, nil
}

// feet is a number of feet, perhaps with inches behind it.
var feet = regexp.MustCompile(`^\s*(\d{1,3})\s*(?:feet|foot|ft|'|′)\s*([\d./ ]*?)\s*(?:inches|inch|in|"|″)?\s*$`)

// Quantity reads a length or an angle, mm or degrees.
func Quantity(text string) (float64, error) { return number(text, slices.Concat(lengths, angles)) }

// Several reads one or several numbers with read: with blanks between bare ones, else with semicolons, ", " or "to". "0 30" is
// two numbers, "29 1/4 in" is one.
func Several(text string, read func(string) (float64, error)) ([]float64, error) {
	text = strings.NewReplacer("[", " ", "]", " ", ", ", ";", " to ", ";", " and ", ";").Replace(text)
	fields := strings.FieldsFunc(text, func(r rune) bool { return r == ';' })
	if len(fields) == 1 {
		if v, err := read(text); err == nil {
			return []float64{v}, nil
		}
		fields = strings.Fields(text)
	}
	var all []float64
	for _, f := range fields {
		v, err := read(f)
		if err != nil {
			return nil, fmt.Errorf("%w; several numbers are written like 0; 30", err)
		}
		all = append(all, v)
	}
	return all, nil
}

// Degrees reads an angle, degrees: "-1.5", "-1.5°", "-1,5 deg".
func Degrees(text string) (float64, error) { return number(text, angles) }

// number reads a number, in the first of the units where it names none. A comma is a decimal comma unless it could divide
// thousands.
func number(text string, units []unit) (float64, error) {
	bare, scale := strings.TrimSpace(text), 1.0
	if v, err := strconv.ParseFloat(bare, 64); err == nil && finite(v) {
		return v, nil
	}
	for _, u := range units {
		if cut, ok := strings.CutSuffix(strings.ToLower(bare), u.name); ok {
			bare, scale = strings.TrimSpace(cut), u.size
			break
		}
	}
	bare = strings.Replace(bare, "−", "-", 1) // a minus sign in print
	if whole, decimals, ok := strings.Cut(bare, ","); ok {
		if _, err := strconv.ParseUint(decimals, 10, 16); err == nil && len(decimals) == 3 && strings.Trim(whole, "-0") != "" {
			return 0, fmt.Errorf("%q: write %s%s or %s.%s, a comma leaves it open which", text, whole, decimals, whole, decimals)
		}
		bare = whole + "." + decimals
	}
	v, err := strconv.ParseFloat(bare, 64)
	if fraction := mixed().FindStringSubmatch(bare); fraction != nil {
		v, err = fractional(fraction), nil
	}
	if err != nil || !finite(v) {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return math.Round(v*scale*1e6) / 1e6, nil
}

// mixed is a fraction, perhaps behind a whole number: "29 1/4".
var mixed = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(-?)(?:(\d{1,6})\s+)?(\d{1,4})/([1-9]\d{0,3})$`) })

func fractional(parts []string) float64 {
	whole, _ := strconv.ParseFloat(parts[2], 64) // empty: none
	above, _ := strconv.ParseFloat(parts[3], 64)
	below, _ := strconv.ParseFloat(parts[4], 64)
	if v := whole + above/below; parts[1] == "" {
		return v
	} else {
		return -v
	}
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Short writes a number with at most one decimal.
func Short(v float64) string { return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0") }

// And is "a", "a and b", "a, b and c".
func And(items []string) string { return joined(items, " and ") }

// Or is "a", "a or b", "a, b or c".
func Or(items []string) string { return joined(items, " or ") }

func joined(items []string, last string) string {
	if len(items) < 2 {
		return strings.Join(items, "")
	}
	n := len(items) - 1
	return strings.Join(items[:n], ", ") + last + items[n]
}

// Counted is "1 file", "2 files".
func Counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Capital opens a text with a capital.
func Capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + s[size:]
}
