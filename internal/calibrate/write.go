package calibrate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
)

// shown is a parameter as a file writes it: mm or degrees (per mark), with as many decimals as its
// uncertainty gives a meaning to and one more.
func (r *Result) shown(p Parameter) string {
	v, sigma := p.Value, p.Sigma
	if !p.Fitted { // as the file has it
		return strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64)
	}
	if p.Kind == Angle || p.Kind == Unit && r.Bike.Adjusters[p.Adjuster].Moves.Turns() {
		v, sigma = plane.Deg(v), plane.Deg(sigma)
	}
	decimals := 1
	for decimals < 6 && sigma*math.Pow10(decimals) < 10 {
		decimals++
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// Sigma is the standard uncertainty of a parameter as a file would write it, mm or degrees (per mark).
func (r *Result) sigma(p Parameter) string {
	sigma := p.Sigma
	if p.Kind == Angle || p.Kind == Unit && r.Bike.Adjusters[p.Adjuster].Moves.Turns() {
		sigma = plane.Deg(sigma)
	}
	return strconv.FormatFloat(sigma, 'g', 2, 64)
}

// anchorSigma is how sure the anchors of the file are once the fitted numbers are in it, mm: one number for all of them, the
// largest; ok is false when none is fitted.
func (r *Result) anchorSigma() (text string, ok bool) {
	most := 0.1 // a tape is no finer
	for _, p := range r.Parameters {
		switch {
		case p.Adjuster >= 0:
		case p.Fitted:
			most, ok = math.Max(most, p.Sigma), true
		default:
			most = math.Max(most, r.Bike.AnchorSigma)
		}
	}
	return strconv.FormatFloat(math.Ceil(most*10)/10, 'f', 1, 64), ok
}

// Fragment is what was fitted as TOML, to replace the same keys of the bike's file.
func (r *Result) Fragment() string {
	var b strings.Builder
	b.WriteString("# Fitted by calibration; the comments give one standard uncertainty.\n")
	header := false
	for i, p := range r.Parameters {
		if p.Kind != AnchorX || !p.Fitted && !r.Parameters[i+1].Fitted {
			continue
		}
		if !header {
			b.WriteString("[anchor]\n")
			header = true
		}
		y := r.Parameters[i+1]
		sure := fmt.Sprintf("± %s, ± %s mm", r.sigma(p), r.sigma(y))
		switch {
		case !p.Fitted:
			sure = fmt.Sprintf("x as in the file, y ± %s mm", r.sigma(y))
		case !y.Fitted:
			sure = fmt.Sprintf("x ± %s mm, y as in the file", r.sigma(p))
		}
		fmt.Fprintf(&b, "%s = [%s, %s]  # %s\n", anchorKey(p), r.shown(p), r.shown(y), sure)
	}
	if sigma, ok := r.anchorSigma(); ok {
		fmt.Fprintf(&b, "sigma = %s\n", sigma)
	}
	for k := range r.Bike.Adjusters {
		a := &r.Bike.Adjusters[k]
		var lines []string
		for _, p := range r.Parameters {
			if p.Adjuster != k || !p.Fitted {
				continue
			}
			key, unit := "angle", "°"
			if p.Kind == Unit {
				key, unit = "unit", " mm per mark"
				if a.Moves.Turns() {
					unit = "° per mark"
				}
			}
			lines = append(lines, fmt.Sprintf("%s = %s  # ± %s%s\n", key, r.shown(p), r.sigma(p), unit))
		}
		if len(lines) > 0 {
			fmt.Fprintf(&b, "\n[[adjuster]]\nname = %s\n%s", tomltree.Quote(a.Name), strings.Join(lines, ""))
		}
	}
	return b.String()
}

func anchorKey(p Parameter) string {
	if p.Saddle {
		return "saddle_clamp"
	}
	return "bar_clamp"
}

// edit replaces a stretch of a file's text.
type edit struct {
	from, to int
	text     string
}

// Rewrite returns the text of the bike's file with the fitted numbers in place of the old ones; everything
// else, comments and order included, stays as it is, byte for byte.
func (r *Result) Rewrite(name string, src []byte) ([]byte, error) {
	root, problems := tomltree.Parse(name, src)
	if root == nil {
		return nil, problems
	}
	lines := lineStarts(src)
	var edits []edit
	put := func(n *tomltree.Node, p Parameter) error {
		if n == nil {
			return fmt.Errorf("%s: the place of a fitted number was not found in the file", name)
		}
		from, to := offset(src, lines, n.Span.Start), offset(src, lines, n.Span.End)
		if from < 0 || to < from || to > len(src) {
			return fmt.Errorf("%s: the place of a fitted number was not found in the file", name)
		}
		edits = append(edits, edit{from, to, r.shown(p)})
		return nil
	}
	list := root.Get("adjuster")
	for _, p := range r.Parameters {
		if !p.Fitted {
			continue
		}
		var n *tomltree.Node
		if p.Adjuster < 0 {
			k := 0
			if p.Kind == AnchorY {
				k = 1
			}
			if at := child(root.Get("anchor"), anchorKey(p)); at != nil && len(at.Children) == 2 {
				n = at.Children[k]
			}
		} else if list != nil {
			for _, t := range list.Children {
				if named := t.Get("name"); named != nil && named.Str == r.Bike.Adjusters[p.Adjuster].Name {
					key := "angle"
					if p.Kind == Unit {
						key = "unit"
					}
					n = t.Get(key)
				}
			}
		}
		if err := put(n, p); err != nil {
			return nil, err
		}
	}
	if sigma, ok := r.anchorSigma(); ok {
		at := root.Get("anchor")
		if n := child(at, "sigma"); n != nil {
			edits = append(edits, edit{offset(src, lines, n.Span.Start), offset(src, lines, n.Span.End), sigma})
		} else if last := lastOf(at); last != nil {
			edits = append(edits, beside(src, offset(src, lines, last.Span.End), "sigma = "+sigma))
		}
	}
	if len(edits) == 0 {
		return nil, errors.New("nothing was fitted, so there is nothing to write")
	}
	slices.SortFunc(edits, func(a, b edit) int { return a.from - b.from })
	var out []byte
	at := 0
	for _, e := range edits {
		out = append(append(out, src[at:e.from]...), e.text...)
		at = e.to
	}
	return append(out, src[at:]...), nil
}

// lastOf is the value of a table that stands last in the file.
func lastOf(table *tomltree.Node) (last *tomltree.Node) {
	for _, key := range [2]string{"saddle_clamp", "bar_clamp"} {
		n := child(table, key)
		if n != nil && (last == nil || n.Span.End.Line > last.Span.End.Line ||
			n.Span.End.Line == last.Span.End.Line && n.Span.End.Col > last.Span.End.Col) {
			last = n
		}
	}
	return last
}

// beside puts a key after a value that ends at a place: on a line of its own, or in an inline table after a comma.
func beside(src []byte, at int, key string) edit {
	rest := string(src[at:])
	if next := strings.TrimLeft(rest, " \t"); strings.HasPrefix(next, "}") || strings.HasPrefix(next, ",") {
		return edit{at, at, ", " + key}
	}
	line, ending := len(rest), "\n"
	if i := strings.IndexByte(rest, '\n'); i >= 0 {
		line = i
		if i > 0 && rest[i-1] == '\r' {
			line, ending = i-1, "\r\n"
		}
	}
	return edit{at + line, at + line, ending + key}
}

func child(n *tomltree.Node, key string) *tomltree.Node {
	if n == nil {
		return nil
	}
	return n.Get(key)
}

// lineStarts are the byte offsets at which the lines of a text begin, after a byte order mark.
func lineStarts(src []byte) []int {
	first := 0
	if strings.HasPrefix(string(src), "\ufeff") {
		first = len("\ufeff")
	}
	starts := []int{first}
	for i, c := range src {
		if c == '\n' {
			starts = append(starts, i+1)
		}
	}
	return starts
}

// offset is the byte offset of a place, -1 when the text has no such place.
func offset(src []byte, lines []int, p diag.Pos) int {
	if p.Line < 1 || p.Line > len(lines) {
		return -1
	}
	at := lines[p.Line-1]
	for range p.Col - 1 {
		if at >= len(src) {
			return -1
		}
		_, n := utf8.DecodeRune(src[at:])
		at += n
	}
	return at
}
