package catalog

import (
	"fmt"
	"path/filepath"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/tomltree"
)

// Lint judges a part file: everything the reader finds wrong, and as warnings what is right but unusual, each at its
// place. file is what the user called it.
func Lint(file string, src []byte) diag.List { _, problems := lint(file, src); return problems }

func lint(file string, src []byte) (*partfile.Part, diag.List) {
	p, problems := partfile.Judge(file, src)
	if p == nil {
		return nil, problems
	}
	root, _ := tomltree.Parse(file, src)
	l := &linter{root: root, problems: &problems}
	if base := strings.TrimSuffix(filepath.Base(file), ".toml"); base != p.ID {
		l.warn(root.Get("id"), "part-file-name", "name the file "+p.ID+".toml, so that it is found by its id",
			"part %q lies in a file of another name", p.ID)
	}
	if p.Kind == partfile.Saddle {
		l.saddle(p)
	}
	problems.Sort()
	return p, problems
}

// LintAll judges several files, and reports an id that two of them give.
func LintAll(files []string) diag.List {
	var all diag.List
	first := map[string]string{} // kind and id to the file that gave it first
	for _, file := range files {
		src, problems := tomltree.ReadFile(file)
		if problems != nil {
			all = append(all, problems...)
			continue
		}
		p, problems := lint(file, src)
		all = append(all, problems...)
		if p == nil {
			continue
		}
		name := p.Kind.String() + " " + p.ID
		if other, taken := first[name]; taken {
			root, _ := tomltree.Parse(file, src)
			n := root.Get("id")
			all = append(all, diag.Diagnostic{Code: "part-twice", Severity: diag.Error, Span: &n.Span, Line: n.Line,
				Summary: fmt.Sprintf("%s is already given by %s", name, other), Detail: "give one of the two another id"})
			continue
		}
		first[name] = file
	}
	return all
}

// linter adds warnings about a file that reads well.
type linter struct {
	root     *tomltree.Node
	problems *diag.List
}

func (l *linter) warn(n *tomltree.Node, code, mend, format string, args ...any) {
	*l.problems = append(*l.problems, diag.Diagnostic{Code: code, Severity: diag.Warning, Span: &n.Span, Line: n.Line,
		Summary: fmt.Sprintf(format, args...), Detail: mend})
}

// saddle says what of a saddle is hardly one: the nose is narrow, the widest place in the rear half and as wide as people sit,
// the width falls nowhere before it, a straightedge rests on two places apart from one another, the stations are near enough
// that the curve between them is known, the rails lie under the middle (common practice).
func (l *linter) saddle(p *partfile.Part) {
	s := p.Saddle
	width, top, rail := l.root.Get("width"), l.root.Get("top"), l.root.Get("rail")
	at, wide := s.Widest()
	switch nose := s.Width(0); {
	case nose < 20 || nose > 75:
		l.warn(width.Children[0], "unusual-nose", "measure where its rounding begins", "a nose %g wide is unusual: noses are 20 to 75", nose)
	case wide < 100:
		l.warn(width, "unusual-width", "full widths, side to side",
			"the widest place is %g: were half widths measured, from the middle to one side?", wide)
	case wide < 115 || wide > 220:
		l.warn(width, "unusual-width", "full widths, side to side", "the widest place is %g wide: saddles are 115 to 220", wide)
	}
	if at < s.Length/2 {
		l.warn(width, "widest-in-front", "were the stations counted from the tail?",
			"the widest place is %g behind the nose, in the front half", at)
	}
	const apart, steep, dent, deep = 60, 4, 3, -40
	for i, row := range rows(width)[1:] {
		before, pair := rows(width)[i], width.Children[i+1]
		if row[0] <= at && row[1] < before[1]-dent {
			l.warn(pair, "width-falls", "read these two once more",
				"it gets narrower from %g to %g behind the nose (%g to %g) and wider again", before[0], row[0], before[1], row[1])
		}
		if run := row[0] - before[0]; row[0] < s.Length && (row[1]-before[1])/run > steep {
			l.warn(pair, "width-jumps", "read these two once more", "the width jumps from %g to %g within %g", before[1], row[1], run)
		}
	}
	for _, curve := range []*tomltree.Node{width, top} {
		for i, row := range rows(curve)[1:] {
			if before := rows(curve)[i]; row[0]-before[0] > apart {
				l.warn(curve.Children[i+1], "stations-apart", "measure between them as well",
					"%s: nothing between stations %g and %g", curve.Key, before[0], row[0])
			}
		}
	}
	front, rear := -1.0, -1.0
	for i, row := range rows(top) {
		if row[1] < deep {
			l.warn(top.Children[i], "unusual-depth", "heights are measured down from the straightedge", "%g is deep for a saddle's top", row[1])
		}
		if row[1] == 0 {
			rear = row[0]
			if front < 0 {
				front = row[0]
			}
		}
	}
	if rear-front < s.Length/4 {
		l.warn(top, "rocks", "lay it on the front and the rear of the saddle",
			"the straightedge touches only within %g, so it rocks and has no tilt of its own", rear-front)
	}
	if stretch := s.Rail.To - s.Rail.From; stretch < 30 || stretch > 120 {
		l.warn(rail, "unusual-rail", "from and to bound the straight stretch",
			"a straight stretch of %g is unusual: rails offer 30 to 120", stretch)
	}
	if mid := s.Rail.Mid(); mid < 0.35*s.Length || mid > 0.7*s.Length {
		l.warn(rail, "rail-off", "from and to are counted from the nose back",
			"the middle of the rails is %g behind the nose, not near the middle of the saddle", mid)
	}
}

// rows are the pairs of a curve.
func rows(n *tomltree.Node) [][2]float64 {
	var all [][2]float64
	for _, c := range n.Children {
		all = append(all, [2]float64{c.Children[0].Number(), c.Children[1].Number()})
	}
	return all
}
