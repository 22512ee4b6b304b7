package questions

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/diag"
)

// form turns an answer into TOML. The error is in words for the person who answered.
type form func(answer string) (toml string, err error)

// units are what may stand behind a number, in mm or degrees. The longer of two that end alike comes first.
var units = []struct {
	name string
	size float64
}{{"mm", 1}, {"cm", 10}, {"inches", 25.4}, {"inch", 25.4}, {"in", 25.4}, {`"`, 25.4}, {"m", 1000},
	{"degrees", 1}, {"deg", 1}, {"°", 1}}

// parseNumber reads a number as a person writes it: "740", "740 mm", "74,2 cm".
func parseNumber(answer string) (float64, error) {
	text, scale := strings.TrimSpace(answer), 1.0
	for _, u := range units {
		if bare, ok := strings.CutSuffix(strings.ToLower(text), u.name); ok {
			text, scale = strings.TrimSpace(bare), u.size
			break
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a number", answer)
	}
	return math.Round(v*scale*1e6) / 1e6, nil
}

// float writes a number as the files do, with a decimal.
func float(v float64) string {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

func number(answer string) (string, error) {
	v, err := parseNumber(answer)
	return float(v), err
}

// parseNumbers reads numbers with blanks, commas or semicolons between them, perhaps in brackets.
func parseNumbers(answer string) ([]float64, error) {
	fields := strings.FieldsFunc(answer, func(r rune) bool { return strings.ContainsRune(" ,;[]\t", r) })
	var all []float64
	for _, f := range fields {
		v, err := parseNumber(f)
		if err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	return all, nil
}

// floats writes a list.
func floats(all []float64) string {
	words := make([]string, len(all))
	for i, v := range all {
		words[i] = float(v)
	}
	return "[" + strings.Join(words, ", ") + "]"
}

// numbers is a list of at least one number.
func numbers(answer string) (string, error) {
	all, err := parseNumbers(answer)
	if err == nil && len(all) == 0 {
		err = errors.New("give at least one number")
	}
	return floats(all), err
}

// count is exactly n numbers, written by write.
func count(n int, write func(v []float64) string) form {
	return func(answer string) (string, error) {
		all, err := parseNumbers(answer)
		if err != nil {
			return "", err
		}
		if len(all) != n {
			return "", fmt.Errorf("give %d numbers with a blank between them; these are %d", n, len(all))
		}
		return write(all), nil
	}
}

// valueOrRange is a number, or two: from and to.
func valueOrRange(answer string) (string, error) {
	all, err := parseNumbers(answer)
	switch {
	case err != nil:
		return "", err
	case len(all) == 1:
		return float(all[0]), nil
	case len(all) == 2:
		return floats(all), nil
	}
	return "", errors.New("give one number, or two: from and to")
}

// text is any text, as a TOML string.
func text(answer string) (string, error) {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(answer, "\uFFFD") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String(), nil
}

// oneOf is a word out of a few; its beginning is enough where that is clear.
func oneOf(words ...string) form {
	return func(answer string) (string, error) {
		answer = strings.ToLower(answer)
		if slices.Contains(words, answer) {
			return text(answer)
		}
		var begun []string
		for _, w := range words {
			if strings.HasPrefix(w, answer) {
				begun = append(begun, w)
			}
		}
		if len(begun) == 1 {
			return text(begun[0])
		}
		if near, ok := diag.Suggest(answer, words); ok {
			return "", fmt.Errorf("did you mean %q?", near)
		}
		return "", fmt.Errorf("answer with one of %s", strings.Join(words, ", "))
	}
}

// numberOr is a number or one word.
func numberOr(word string) form {
	return func(answer string) (string, error) {
		if strings.EqualFold(answer, word) {
			return text(word)
		}
		v, err := parseNumber(answer)
		if err != nil {
			return "", fmt.Errorf("give a number or %s", word)
		}
		return float(v), nil
	}
}

// unquoted is the content of a text or word written by a form.
func unquoted(toml string) string { return strings.Trim(toml, `"`) }
