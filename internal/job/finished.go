package job

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/carry"
	"carryover/internal/cockpit"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// Finished is the file of TO as it will stand once it is set up as c says, with the day it is set up: what was chosen and set
// is written, what is stated is kept, with its comments and order. path is where it will lie.
//
// The readings that were taken before are taken out. Those that the finished bike should show stand at the end as comments, to
// be filled in. Where anchors and marks do not say where everything is they are what the bike is read back by.
func (f *Files) Finished(c *Carry, q Asked, day, path string) ([]byte, error) {
	if q.To == "" {
		q.To = q.From
	}
	src, _, err := f.read(q.To)
	if err != nil {
		return nil, err
	}
	was, err := f.Bike(q.To)
	if err != nil {
		return nil, err
	}
	lib, err := f.Library()
	if err != nil {
		return nil, err
	}
	for _, taped := range []bool{false, true} {
		w := finisher{Carry: c, q: q, was: was, from: filepath.Dir(q.To), to: filepath.Dir(path), taped: taped}
		var text, expected []byte
		if text, expected, err = w.write(src, day, path); err != nil {
			return nil, err
		}
		check := text
		if taped {
			check = slices.Concat(text, expected)
		}
		b, problems := bikefile.ReadBike(path, check, bikefile.Folder{Dir: w.to}, lib)
		if err = problems.Err(); err == nil {
			err = c.same(b)
		}
		if err == nil {
			return text, nil
		}
	}
	return nil, fmt.Errorf("%s cannot be written as it will stand: %w", q.To, err)
}

// same says why a bike read back has not the contacts that were got; nil: it has.
func (c *Carry) same(b *bike.Bike) error {
	const mm, rad = 0.5, 0.2 * math.Pi / 180 // what rounding leaves
	s, err := NewSource(b, c.Rider, locate.Options{})
	if err != nil {
		return err
	}
	for _, r := range c.Results {
		list, err := s.Postures(r.Position.Posture.Name)
		if err != nil {
			return err
		}
		for i, got := range []struct {
			name bike.Contact
			at   plane.Point
			turn float64
		}{{bike.Sit, list[0].Position.Sit.At, list[0].Position.Sit.Angle},
			{r.Position.Posture.Hands, list[0].Position.Hands.At, list[0].Position.Hands.Angle}} {
			want, pitch := r.Contacts[i].Got, r.Target.Frame.Pitch
			turned := !r.Position.NoAngle && math.Abs(want.Angle+pitch-got.turn) > rad
			if want.At.Turn(pitch).Sub(got.at).Norm() > mm || turned {
				return fmt.Errorf("posture %s: read back, its %s would be elsewhere", r.Position.Posture.Name, got.name)
			}
		}
	}
	return nil
}

// finisher writes one file.
type finisher struct {
	*Carry
	q        Asked
	was      *bike.Bike // TO as its file describes it
	from, to string     // the folders of TO's file and of the one that is written
	taped    bool       // only what is still to be read will say where everything is
	e        *tomltree.Edit
}

// write is the file, and the readings that it holds as comments as they will be without the # in front.
func (w *finisher) write(src []byte, day, path string) (text, expected []byte, err error) {
	e, problems := tomltree.NewEdit(w.q.To, src)
	if e == nil {
		return nil, nil, problems
	}
	w.e = e
	e.Set("date", day, "")
	e.Set("notes", tomltree.Quote(w.notes(day)), "")
	if crank := w.Results[0].Want.Crank; crank != w.was.Feet.Crank {
		e.Set("crank", tomltree.Float(crank), "was "+format.Num(w.was.Feet.Crank), "feet")
	}
	if list := e.Root.Get("reading"); list != nil {
		e.Remove(list)
	}
	w.paths(e.Root)
	w.parts()
	if err := w.settings(); err != nil {
		return nil, nil, err
	}
	if n := e.Root.Get("marks"); n != nil && e.Headed(n) {
		e.Note(n, "set "+day)
	}
	w.stands()
	w.postures()
	lines, readings := w.head(path), w.readings()
	for _, l := range readings {
		lines = append(lines, strings.TrimSuffix("# "+l, "# "))
	}
	return e.Bytes(lines...), []byte(strings.Join(readings, "\n")), nil
}

// notes are the file's own and whose position the bike carries.
func (w *finisher) notes(day string) string {
	var names []string
	for _, r := range w.Results {
		names = append(names, r.Position.Posture.Name)
	}
	note := fmt.Sprintf("%s: carries the position of %s (%s), posture %s", day, w.Bike.Name, w.Bike.File, strings.Join(names, " and "))
	if !w.Carried() {
		note += ", as near as it comes"
	}
	note += "."
	switch old := w.was.Record.Notes; {
	case old == "" || old == note:
		return note
	case strings.HasSuffix(old, note):
		return old
	default:
		return old + "\n" + note
	}
}

// paths makes the part files that are named be found from the folder that is written to.
func (w *finisher) paths(n *tomltree.Node) {
	for _, k := range n.Children {
		if k.Kind == tomltree.KindString && strings.HasPrefix(k.Str, format.FilePrefix) && w.named(k.Str) != k.Str {
			w.e.Replace(k, tomltree.Quote(w.named(k.Str)))
		}
		w.paths(k)
	}
}

// named is a part of TO's file as the file that is written names it.
func (w *finisher) named(id string) string {
	if strings.HasPrefix(w.q.To, ExamplePrefix) {
		return id
	}
	return w.rebased(id, w.from)
}

// rebased is a part that is named from a folder.
func (w *finisher) rebased(id, dir string) string {
	name, isFile := strings.CutPrefix(id, format.FilePrefix)
	name = filepath.FromSlash(name)
	if !isFile || filepath.IsAbs(name) {
		return id
	}
	here, errHere := filepath.Abs(w.to)
	there, errThere := filepath.Abs(filepath.Join(dir, name))
	rel, err := filepath.Rel(here, there)
	if errHere != nil || errThere != nil || err != nil {
		return id
	}
	return format.FilePrefix + filepath.ToSlash(rel)
}

// parts writes what is fitted: what was exchanged, and what was chosen for open slots.
func (w *finisher) parts() {
	t := w.Target
	gone := map[partfile.Kind][]string{partfile.Saddle: {"stretch", "sag", "clamp_at"}, // what was the former part's
		partfile.Clipon: {"tilt", "hole", "stack", "extension", "spacing"}}
	for kind := range w.q.Exchange {
		slot := t.Stocks()[kind]
		table, one, many := keysOf(slot.Slot)
		w.drop(table, append(gone[kind], many)...)
		w.e.Set(one, tomltree.Quote(w.rebased(slot.At(0).ID, ".")), "", table)
	}
	for _, p := range w.Results[0].Parts {
		table, one, many := keysOf(p.Slot)
		n := w.e.Root.Find(table + "." + many)
		if n == nil {
			continue
		}
		w.e.Rename(n, one)
		w.e.Replace(n, tomltree.Quote(w.named(p.ID)))
		w.e.Note(n, "of "+w.e.Text(n))
		if p.Flip && w.was.Stem.Flip == nil {
			w.e.Set("flip", "true", "", "stem")
		}
	}
}

// keysOf are the table of a slot and its keys there, for one part and for a choice.
func keysOf(slot string) (table, one, many string) {
	if slot == "lever" {
		return "bar", "lever", "levers"
	}
	return slot, "part", "parts"
}

// drop takes keys of a table out.
func (w *finisher) drop(table string, keys ...string) {
	for _, key := range keys {
		if n := w.e.Root.Find(table + "." + key); n != nil {
			w.e.Remove(n)
		}
	}
}

// put writes a number of a table that is set; what it could be set to stays as a comment.
func (w *finisher) put(path string, value float64) {
	table, key, _ := strings.Cut(path, ".")
	note := ""
	if n := w.e.Root.Find(path); n != nil && (n.Kind == tomltree.KindArray || n.Kind == tomltree.KindTable && !w.e.Headed(n)) {
		note = "of " + w.e.Text(n)
	}
	w.e.Set(key, decimals(value, 2), note, table)
}

// decimals is a number with so many decimals at most, as a file has it.
func decimals(v float64, most int) string {
	p := math.Pow10(most)
	return tomltree.Float(math.Round(v*p)/p + 0) // no minus in front of 0
}

// settings writes marks and what has no scale. What two postures set differently cannot stand in one file.
func (w *finisher) settings() error {
	const apartMM, apartRad = 0.5, 0.1 * math.Pi / 180
	done := map[string]carry.Setting{}
	var list []carry.Setting
	for _, idle := range []bool{false, true} {
		for _, r := range w.Results {
			for _, set := range r.Settings {
				if r.Idle(set.Settable) != idle || set.Sets == bike.SetsGap {
					continue
				}
				first, again := done[set.Name]
				apart := map[bool]float64{true: apartRad, false: apartMM}[set.Turns()]
				switch {
				case !again:
					done[set.Name], list = set, append(list, set)
				case !idle && math.Abs(first.Travel-set.Travel) > apart:
					return fmt.Errorf("%s stands differently in the postures of %s, so no one file holds both: name one with --posture",
						set.Called, w.Bike.File)
				}
			}
		}
	}
	for _, set := range list {
		w.set(set, w.Results[0])
	}
	return nil
}

// set writes one setting: a mark on its scale, or a number in the table of its part.
func (w *finisher) set(set carry.Setting, r *Result) {
	if set.Adjuster < 0 {
		v := set.Zero + set.Travel
		if set.Turns() {
			v = plane.Deg(v)
		}
		if set.Sets == bike.SetsSpacing { // the part's own, before its clamps are moved out
			v -= w.Target.Widening(r.clipon())
		}
		w.put(set.Name, v)
		return
	}
	a := &r.Target.Adjusters[set.Adjuster]
	ofFile := slices.ContainsFunc(w.was.Adjusters, func(o bike.Adjuster) bool { return o.Name == a.Name })
	if n := w.e.Root.Get("marks"); a.NoScale && n != nil && n.Get(a.Name) != nil { // where it stood, taped by somebody
		w.e.Remove(n.Get(a.Name))
	}
	if _, marked := w.was.Marks[a.Name]; !ofFile || a.NoScale || a.FromHere || a.NoRange || r.Idle(set.Settable) && !marked {
		return
	}
	per := math.Abs(a.Unit)
	if set.Turns() {
		per = plane.Deg(per)
	}
	mark := set.Mark()
	if a.Step == 0 { // to a hundredth of a mm or degree
		p := math.Pow10(max(0, int(math.Ceil(math.Log10(per/0.01)-1e-9))))
		mark = plane.Clamp(math.Round(mark*p)/p, a.Lo, a.Hi)
	}
	w.e.Set(a.Name, decimals(mark, 6), "", "marks")
}

// clipon is the one that is fitted.
func (r *Result) clipon() *cockpit.Clipon { return r.Placement.Layout.Clipon }

// stands writes where clamps, fixed angles and the sag were found to be by the readings that are taken out.
func (w *finisher) stands() {
	t, was := w.Target, w.was
	if st := w.Results[0].Standing; st != nil {
		t = st.Bike
	}
	const same = 0.005
	angle := func(path string, now, filed bike.Setting, by bike.Moves) {
		d := plane.Deg(now.Lo - filed.Lo)
		if len(was.Moving(by)) == 0 && now.Given && !now.Free && !filed.Free && (filed.Given || !w.taped) && math.Abs(d) > same {
			w.put(path, plane.Deg(now.Lo))
		}
	}
	angle(bike.SetsSaddleTilt.Key(), t.Saddle.Tilt, was.Saddle.Tilt, bike.MovesSaddleTilt)
	if w.e.Root.Get("bar") != nil {
		angle(bike.SetsRotation.Key(), t.Bar.Rotation, was.Bar.Rotation, bike.MovesBarRotation)
	}
	if sag := w.Target.Saddle.Sag; sag != nil && was.Saddle.Sag == nil && t.Saddle.Empty() && *sag != 0 {
		w.put("saddle.sag", *sag)
	}
	anchor := func(key string, now, filed *plane.Point, by bike.Moves, shaped bool) {
		on := was.Moving(by)
		marked := len(on) > 0 && !slices.ContainsFunc(on, func(i int) bool {
			return i >= len(t.Adjusters) || t.Adjusters[i].FromHere || t.Adjusters[i].NoRange
		})
		switch {
		case now == nil, filed == nil && (w.taped || !marked || !shaped), filed != nil && now.Sub(*filed).Norm() <= same:
			return
		}
		w.e.Set(key, "["+decimals(now.X, 2)+", "+decimals(now.Y, 2)+"]", "by the readings before", "anchor")
	}
	anchor("saddle_clamp", t.SaddleAnchor, was.SaddleAnchor, bike.MovesSaddle, !t.Saddle.Empty())
	if t.Stem == nil {
		anchor("bar_clamp", t.BarAnchor, was.BarAnchor, bike.MovesBar, !t.Bar.Empty())
	}
}

// postures writes those that were carried, so that the finished bike can be carried from.
func (w *finisher) postures() {
	for _, r := range w.Results {
		p := r.Position.Posture
		w.e.Set("hands", tomltree.Quote(string(p.Hands)), "", "posture", p.Name)
		if p.Support > 0 {
			w.e.Set("support", decimals(p.Support, 2), "", "posture", p.Name)
		}
		if p.SupportSigma != bikefile.WidthSigma {
			w.e.Set("support_sigma", decimals(p.SupportSigma, 2), "", "posture", p.Name)
		}
		if k := p.Weights; k != bike.DefaultWeights() {
			w.e.Set("weights", fmt.Sprintf("{ extension = %s, setback = %s, hands = %s, angle = %s }", tomltree.Float(k.Extension),
				tomltree.Float(k.Setback), tomltree.Float(k.Hands), decimals(plane.Rad(k.Angle), 6)), "", "posture", p.Name)
		}
	}
}

// head are the lines above what the finished bike should read.
func (w *finisher) head(path string) []string {
	then := "carryover confirm " + w.q.From + " " + path
	if w.q.Posture != "" {
		then += " --posture " + w.q.Posture
	}
	until := ""
	if w.taped {
		until = " (until then nothing says where all of it is)"
	}
	lines := []string{"", "# What it should read once finished, with nobody on it. Put what the tape says in place of each number,",
		"# take the # away in front" + until + ", then: " + then}
	var parts []string
	for _, v := range w.Versions() {
		if v.Bike == w.Target.File {
			parts = append(parts, fmt.Sprintf("%s %s (%s)", v.Slot, v.Part, v.Version))
		}
	}
	if len(parts) > 0 {
		lines = append(lines, "# By the versions of its shapes: "+strings.Join(parts, ", "))
	}
	for i, l := range lines {
		lines[i] = diag.Visible(l)
	}
	return lines
}

// readings are the lines of what the finished bike should read.
func (w *finisher) readings() (lines []string) {
	told := map[bike.Reading]bool{}
	tell := func(c carry.Check, as map[bike.Body]float64) {
		c.Reading.Written = ""
		if told[c.Reading] {
			return
		}
		told[c.Reading] = true
		value, sigma, unit := c.Value.Shown(), c.Value.Of(c.SigmaTotal).Shown(), " mm"
		if c.Value.Turns() {
			unit = "°"
		}
		lines = append(lines, "", "[[reading]]")
		kind := ""
		for _, k := range bikefile.Keys(c.Reading) {
			lines = append(lines, k[0]+" = "+tomltree.Quote(k[1]))
			if k[0] == "kind" {
				kind = k[1]
			}
		}
		note := "expected"
		if sigma = math.Round(sigma*10) / 10; sigma > 0 {
			note += ", ± " + format.Num(sigma) + unit
		}
		if d := plane.Deg(as[c.Reading.Of]); c.Reading.Kind == bike.Angle && math.Abs(d) >= 0.05 {
			note += fmt.Sprintf(", %s to match exactly", decimals(value+d, 1))
		}
		if key := format.Reading(kind); key.How != "" {
			note += "; " + key.How
		}
		lines = append(lines, fmt.Sprintf("%-24s # %s", "value = "+decimals(value, 1), note))
	}
	for _, r := range w.Results {
		lacks := func(i int) float64 { return r.Contacts[i].Want.Angle - r.Contacts[i].Got.Angle }
		as := map[bike.Body]float64{bike.SaddleBody: lacks(0), bike.HoodBody: lacks(1), bike.PadBody: lacks(1)}
		for _, c := range r.Checks {
			tell(c, as)
		}
		for _, k := range r.Contacts[2:] { // what goes along, where no part gives it
			if _, own := r.Target.Bar.Arms[k.Want.Name]; own && w.taped {
				seat, end := r.Target.Seat(saddle.Nose), k.Want.Name.Place()
				for _, reading := range []bike.Reading{{Kind: bike.Level, From: seat, To: end}, {Kind: bike.Plumb, From: end, To: seat}} {
					if v, _, err := r.Placement.ReadingOf(reading); err == nil {
						tell(carry.Check{Reading: reading, Foretold: carry.Foretold{Value: reading.Quantity().Of(v)}}, nil)
					}
				}
			}
		}
	}
	return lines
}
