package calibrate

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"carryover/internal/locate"
	"carryover/internal/tomltree"
)

// shown is a parameter as a file writes it: mm or degrees (per mark), with as many decimals as its
// uncertainty gives a meaning to and one more.
func (r *Result) shown(p Parameter) string {
	if !p.Fitted { // as the file has it
		return strconv.FormatFloat(math.Round(p.Value*1e6)/1e6, 'f', -1, 64)
	}
	v, sigma := r.Quantity(p, p.Value).Shown(), r.Quantity(p, p.Sigma).Shown()
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

// sigma is the standard uncertainty of a parameter as a file would write it, mm or degrees (per mark).
func (r *Result) sigma(p Parameter) string {
	return strconv.FormatFloat(r.Quantity(p, p.Sigma).Shown(), 'g', 2, 64)
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
		if p.Kind != locate.AnchorX || !p.Fitted && !r.Parameters[i+1].Fitted {
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
		fmt.Fprintf(&b, "%s = [%s, %s]  # %s\n", p.Clamp(), r.shown(p), r.shown(y), sure)
	}
	if sigma, ok := r.anchorSigma(); ok {
		fmt.Fprintf(&b, "sigma = %s\n", sigma)
	}
	for k := range r.Bike.Adjusters {
		var lines []string
		for _, p := range r.Parameters {
			if p.Adjuster != k || !p.Fitted {
				continue
			}
			unit := map[bool]string{true: "°", false: " mm"}[p.On(r.Bike).Turns()]
			if p.Kind == locate.Unit {
				unit += " per mark"
			}
			lines = append(lines, fmt.Sprintf("%s = %s  # ± %s%s\n", p.Name(), r.shown(p), r.sigma(p), unit))
		}
		if len(lines) > 0 {
			fmt.Fprintf(&b, "\n[[adjuster]]\nname = %s\n%s", tomltree.Quote(r.Bike.Adjusters[k].Name), strings.Join(lines, ""))
		}
	}
	return b.String()
}

// Rewrite returns the text of the bike's file with the fitted numbers in place of the old ones; everything
// else, comments and order included, stays as it is, byte for byte.
func (r *Result) Rewrite(name string, src []byte) ([]byte, error) {
	e, problems := tomltree.NewEdit(name, src)
	if e == nil {
		return nil, problems
	}
	fitted := 0
	for _, p := range r.Parameters {
		if !p.Fitted {
			continue
		}
		n := r.place(e.Root, p)
		if n == nil {
			return nil, fmt.Errorf("%s: the place of a fitted number was not found in the file", name)
		}
		e.Replace(n, r.shown(p))
		fitted++
	}
	if fitted == 0 {
		return nil, errors.New("nothing was fitted, so there is nothing to write")
	}
	if sigma, ok := r.anchorSigma(); ok {
		e.Set("sigma", sigma, "", "anchor")
	}
	return e.Bytes(), nil
}

// place is where a parameter stands in the file; nil: nowhere.
func (r *Result) place(root *tomltree.Node, p Parameter) *tomltree.Node {
	if p.Adjuster < 0 {
		at := root.Find("anchor." + p.Clamp())
		if at == nil || len(at.Children) != 2 {
			return nil
		}
		return at.Children[map[bool]int{true: 1, false: 0}[p.Kind == locate.AnchorY]]
	}
	list := root.Get("adjuster")
	if list == nil {
		return nil
	}
	for _, t := range list.Children {
		if named := t.Get("name"); named != nil && named.Str == r.Bike.Adjusters[p.Adjuster].Name {
			return t.Get(p.Name())
		}
	}
	return nil
}
