package catalog

import (
	"fmt"
	"path/filepath"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/tomltree"
)

// usual is what a size of a part is in nearly all that are sold, mm or degrees (common practice). Outside it a file is
// right but worth a second look.
type usual struct {
	key    string // "rail.height": height in the table rail
	lo, hi float64
	what   string
}

var usualSizes = map[partfile.Kind][]usual{
	partfile.Saddle: {
		{"length", 225, 310, "saddles are"}, {"sag", 0, 20, "saddles give"},
		{"rail.height", 30, 65, "the rails lie below the straightedge by"},
	},
	partfile.Bar: {
		{"reach", 60, 115, "bars reach"}, {"drop", 100, 165, "bars drop"}, {"bend", 20, 60, "forward bends have a radius of"},
		{"width", 340, 820, "bars are wide"}, {"flare", 0, 30, "drops lean out by"}, {"clamp", 22, 36, "bars are thick at the clamp"},
		{"hood_angle", -30, 45, "hands rest on a surface at"},
	},
	partfile.Lever: {{"angle", -5, 30, "lever tops rise against the bar by"}},
	partfile.Stem: {
		{"length", 30, 150, "stems are long"}, {"angle", -45, 45, "stems rise by"}, {"height", 28, 55, "stem clamps are high"},
	},
	partfile.Clipon: {
		{"base", 0, 100, "pads lie above the bar by"}, {"gap", 40, 130, "the clamps leave between them"},
		{"pad.length", 60, 160, "pads are long"}, {"pad.width", 60, 140, "pads are wide"}, {"grip.rise", -60, 150, "grips lie above the pad by"},
	},
}

// Lint judges a part file: everything the reader finds wrong, and as warnings what is right but unusual, each at its
// place. file is what the user called it.
func Lint(file string, src []byte) diag.List {
	root, problems := tomltree.Parse(file, src)
	if root == nil {
		return problems
	}
	if n := root.Get("feet"); n != nil && root.Get("kind") == nil {
		return diag.List{{Code: "file-type", Severity: diag.Error, Span: &n.Span, Line: n.Line,
			Summary: "this is a bike file, not a part file", Detail: "`carryover locate` checks it"}}
	}
	p, problems := partfile.Read(file, src)
	if p == nil {
		return problems
	}
	l := &linter{root: root, problems: &problems}
	if base := strings.TrimSuffix(filepath.Base(file), ".toml"); base != p.ID {
		l.warn(root.Get("id"), "part-file-name", "name the file "+p.ID+".toml, so that it is found by its id",
			"part %q lies in a file of another name", p.ID)
	}
	for _, u := range usualSizes[p.Kind] {
		l.size(u)
	}
	if p.Kind == partfile.Saddle {
		l.saddle(p)
	}
	problems.Sort()
	return problems
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
		all = append(all, Lint(file, src)...)
		p, _ := partfile.Read(file, src)
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

func (l *linter) warn(n *tomltree.Node, code, detail, format string, args ...any) {
	span := n.Span
	*l.problems = append(*l.problems, diag.Diagnostic{Code: code, Severity: diag.Warning, Span: &span, Line: n.Line,
		Summary: fmt.Sprintf(format, args...), Detail: detail})
}

// find is the node of a key, which may lie in a table of the part; nil when the file leaves it out.
func (l *linter) find(key string) *tomltree.Node {
	n := l.root
	for _, k := range strings.Split(key, ".") {
		if n = n.Get(k); n == nil {
			return nil
		}
	}
	return n
}

func value(n *tomltree.Node) float64 {
	if n.Kind == tomltree.KindInteger {
		return float64(n.Int)
	}
	return n.Float
}

func (l *linter) size(u usual) {
	n := l.find(u.key)
	if n == nil {
		return
	}
	if v := value(n); v < u.lo || v > u.hi {
		l.warn(n, "unusual-size", "", "%s %g is unusual: %s %g to %g", u.key, v, u.what, u.lo, u.hi)
	}
}

// saddle judges a saddle's curves: the nose narrow, the widest place in the rear half and as wide as people sit,
// stations near enough to one another that the curve between them is known.
func (l *linter) saddle(p *partfile.Part) {
	s := p.Saddle
	width, top := l.find("width"), l.find("top")
	if nose := s.Width(0); nose < 20 || nose > 75 {
		l.warn(width.Children[0], "unusual-nose", "measure the full width at the very tip", "a nose %g wide is unusual: noses are 20 to 75", nose)
	}
	at, wide := s.Widest()
	if wide < 115 || wide > 220 {
		l.warn(width, "unusual-width", "full widths, side to side", "the widest place is %g wide: saddles are 115 to 220", wide)
	}
	if at < s.Length/2 {
		l.warn(width, "widest-in-front", "stations are counted from the nose back",
			"the widest place is %g behind the nose, in the front half", at)
	}
	const apart = 60
	for _, curve := range []*tomltree.Node{width, top} {
		for i, pair := range curve.Children[1:] {
			from, to := value(curve.Children[i].Children[0]), value(pair.Children[0])
			if to-from > apart {
				l.warn(pair, "stations-apart", "measure between them as well", "%s: nothing between stations %g and %g", curve.Key, from, to)
			}
		}
	}
	const deep = -40
	for _, pair := range top.Children {
		if h := value(pair.Children[1]); h < deep {
			l.warn(pair, "unusual-depth", "heights are measured down from the straightedge", "%g is deep for a saddle's top", h)
		}
	}
	if stretch := s.Rail.To - s.Rail.From; stretch < 30 || stretch > 120 {
		l.warn(l.find("rail"), "unusual-rail", "from and to bound the straight stretch", "a straight stretch of %g is unusual: rails offer 30 to 120", stretch)
	}
}
