package catalog

import (
	"path/filepath"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// Lint judges a part file: everything the reader finds wrong, and as warnings what is right but unusual, each at its
// place. file is what the user called it.
func Lint(file string, src []byte) diag.List { return lint(file, src, map[string]string{}) }

// LintAll judges several files, and reports an id that two of them give.
func LintAll(files []string) (all diag.List) {
	first := map[string]string{}
	for _, file := range files {
		src, problems := tomltree.ReadFile(file)
		if problems == nil {
			problems = lint(file, src, first)
		}
		all = append(all, problems...)
	}
	return all
}

// lint judges a file; first is the file that gave an id of a kind first.
func lint(file string, src []byte, first map[string]string) diag.List {
	return partfile.Judge(file, src, func(p *partfile.Part, t *format.Table) {
		if base := strings.TrimSuffix(filepath.Base(file), ".toml"); base != p.ID {
			t.Warnf("id", "part-file-name", "name the file "+p.ID+".toml, so that it is found by its id",
				"part %q lies in a file of another name", p.ID)
		}
		if p.Kind == partfile.Saddle {
			lintSaddle(p.Saddle, t)
		}
		name := p.Kind.String() + " " + p.ID
		if other, taken := first[name]; taken {
			t.Errorf("id", "part-twice", "give one of the two another id", "%s is already given by %s", name, other)
			return
		}
		first[name] = file
	})
}

// lintSaddle says what of a saddle is hardly one: the nose is narrow, the widest place in the rear half and as wide as people sit,
// the width falls nowhere before it, a straightedge rests on two places apart from one another, the stations are near enough
// that the curve between them is known, the rails lie under the middle (common practice).
func lintSaddle(s *saddle.Shape, t *format.Table) {
	widths, widthAt, _ := t.Curve("width")
	tops, topAt, _ := t.Curve("top")
	at, wide := s.Widest()
	switch nose := s.Width(0); {
	case nose < 20 || nose > 75:
		t.WarnAtf(widthAt[0], "unusual-nose", "measure where its rounding begins", "a nose %g wide is unusual: noses are 20 to 75", nose)
	case wide < 100:
		t.Warnf("width", "unusual-width", "full widths, side to side",
			"the widest place is %g: were half widths measured, from the middle to one side?", wide)
	case wide < 115 || wide > 220:
		t.Warnf("width", "unusual-width", "full widths, side to side", "the widest place is %g wide: saddles are 115 to 220", wide)
	}
	if at < s.Length/2 {
		t.Warnf("width", "widest-in-front", "were the stations counted from the tail?",
			"the widest place is %g behind the nose, in the front half", at)
	}
	const apart, steep, dent, deep = 60, 4, 3, -40
	for i, row := range widths[1:] {
		before, pair := widths[i], widthAt[i+1]
		if row[0] <= at && row[1] < before[1]-dent {
			t.WarnAtf(pair, "width-falls", "read these two once more",
				"it gets narrower from %g to %g behind the nose (%g to %g) and wider again", before[0], row[0], before[1], row[1])
		}
		if run := row[0] - before[0]; row[0] < s.Length && (row[1]-before[1])/run > steep {
			t.WarnAtf(pair, "width-jumps", "read these two once more", "the width jumps from %g to %g within %g", before[1], row[1], run)
		}
	}
	for _, key := range []string{"width", "top"} {
		rows, at, _ := t.Curve(key)
		for i, row := range rows[1:] {
			if before := rows[i]; row[0]-before[0] > apart {
				t.WarnAtf(at[i+1], "stations-apart", "measure between them as well",
					"%s: nothing between stations %g and %g", key, before[0], row[0])
			}
		}
	}
	front, rear := -1.0, -1.0
	for i, row := range tops {
		if row[1] < deep {
			t.WarnAtf(topAt[i], "unusual-depth", "heights are measured down from the straightedge", "%g is deep for a saddle's top", row[1])
		}
		if row[1] == 0 {
			rear = row[0]
			if front < 0 {
				front = row[0]
			}
		}
	}
	if rear-front < s.Length/4 {
		t.Warnf("top", "rocks", "lay it on the front and the rear of the saddle",
			"the straightedge touches only within %g, so it rocks and has no tilt of its own", rear-front)
	}
	if stretch := s.Rail.To - s.Rail.From; stretch < 30 || stretch > 120 {
		t.Warnf("rail", "unusual-rail", "from and to bound the straight stretch",
			"a straight stretch of %g is unusual: rails offer 30 to 120", stretch)
	}
	if mid := s.Rail.Mid(); mid < 0.35*s.Length || mid > 0.7*s.Length {
		t.Warnf("rail", "rail-off", "from and to are counted from the nose back",
			"the middle of the rails is %g behind the nose, not near the middle of the saddle", mid)
	}
}
