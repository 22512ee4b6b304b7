package interview

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

// key asks for a key of the file's table of keys.
func (f *form) key(t *table, where string, k *format.Key) string {
	q := question{name: where + k.Name, text: k.Asked(), how: k.How, needed: k.Needed && k.Unless == "", usual: k.Usual, words: k.Answers(),
		read: reads(k), key: k}
	if k.Kind == format.Numbers && k.Count > 1 || k.Kind == format.Rising {
		q.text += ", two numbers"
	}
	return f.fillIn(t, k.Name, q)
}

// fillIn asks, and puts the answer into a table.
func (f *form) fillIn(t *table, name string, q question) string {
	k := t.set(name, "", q.how)
	k.needed = q.needed
	k.value = f.ask(q)
	return k.value
}

// several reads from least to most numbers, however many where most is 0; want is what is asked for, in words.
func several(answer string, least, most int, want string, read func(string) (float64, error)) ([]float64, error) {
	all, err := written.Several(answer, read)
	if err == nil && (len(all) < least || most > 0 && len(all) > most) {
		err = fmt.Errorf("give %s, not %d", want, len(all))
	}
	return all, err
}

// reads is how an answer to a key is read.
func reads(k *format.Key) func(string) (string, error) {
	list := func(least, most int, want string) func(string) (string, error) {
		return func(answer string) (string, error) {
			all, err := several(answer, least, most, want, k.Number)
			for i := 0; err == nil && i < len(all); i++ {
				_, err = k.Read(format.Num(all[i]))
			}
			switch {
			case err != nil:
				return "", err
			case len(all) == 1 && k.Kind == format.Span:
				return tomltree.Float(all[0]), nil
			}
			return floats(all), nil
		}
	}
	switch k.Kind {
	case format.Number:
		return func(answer string) (string, error) {
			v, err := k.Read(answer)
			return tomltree.Float(v), err
		}
	case format.Span:
		return list(1, 2, "one number, or two with a blank between them: from and to")
	case format.Rising:
		return list(2, 2, "two numbers with a blank between them")
	case format.Numbers:
		if k.Count > 0 {
			return list(k.Count, k.Count, "two numbers with a blank between them")
		}
		return list(1, 0, "at least one number")
	}
	if len(k.Words) > 0 {
		return oneOf(k.Words...)
	}
	return func(answer string) (string, error) {
		if k.Form != nil {
			if fault := k.Form.Judge(answer); fault != nil {
				return "", fault
			}
		}
		return text(answer)
	}
}

// odd says that an answer is right but unusual, "" when it is not.
func (q *question) odd(toml string) string {
	v, err := strconv.ParseFloat(toml, 64)
	if err != nil || q.key == nil {
		return ""
	}
	if fault := q.key.Odd(v, format.Num(v)); fault != nil {
		return fault.Error()
	}
	if mm := bike.Centimetres(v); q.small && mm != 0 {
		return fmt.Sprintf("%s mm is little: if it was read in centimetres, it is %s", format.Num(v), format.Num(mm))
	}
	return ""
}

// floats writes a list.
func floats(all []float64) string {
	words := make([]string, len(all))
	for i, v := range all {
		words[i] = tomltree.Float(v)
	}
	return "[" + strings.Join(words, ", ") + "]"
}

func text(answer string) (string, error) { return tomltree.Quote(answer), nil }

// unquoted is the content of a word written by oneOf, or of a text without escapes.
func unquoted(toml string) string { return strings.Trim(toml, `"`) }

// oneOf is a word out of a few; its beginning is enough where that is clear. A whole word is never taken for a longer one.
func oneOf(words ...string) func(string) (string, error) {
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
