// Package bikefile reads bike and rider files, strictly and with all problems of a file at once, and finds the parts
// they name. What it returns is resolved: degrees have become radians, shorthands readings, ids parts.
package bikefile

import (
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// Folder is where a bike file lies: file: paths in it start there.
type Folder struct {
	Dir string // "" is the current directory, or the top of FS
	FS  fs.FS  // nil: the disk
}

// read reads a file of the folder; shown is the path for messages.
func (f Folder) read(name string) (src []byte, shown string, problems diag.List) {
	if f.FS == nil {
		shown = filepath.FromSlash(name)
		if !filepath.IsAbs(shown) {
			shown = filepath.Join(f.Dir, shown)
		}
		src, problems = tomltree.ReadFile(shown)
		return src, shown, problems
	}
	shown = path.Join(f.Dir, name)
	src, err := fs.ReadFile(f.FS, shown)
	if err != nil {
		return nil, shown, diag.List{{
			Code: "file-missing", Severity: diag.Error, Summary: "no such file", Span: &diag.Span{File: shown},
		}}
	}
	return src, shown, nil
}

// LoadBike reads a bike file from disk. The bike is nil exactly when the list holds an error.
func LoadBike(file string, lib *catalog.Library) (*bike.Bike, diag.List) {
	src, problems := tomltree.ReadFile(file)
	if problems != nil {
		return nil, problems
	}
	return ReadBike(file, src, Folder{Dir: filepath.Dir(file)}, lib)
}

// ReadBike reads a bike from the text of a file; name is what the user called it. The bike is nil exactly when the
// list holds an error.
func ReadBike(name string, src []byte, folder Folder, lib *catalog.Library) (*bike.Bike, diag.List) {
	root, problems := tomltree.Parse(name, src)
	if root == nil {
		return nil, problems
	}
	r := &reader{
		root: tomltree.NewTable(root, &problems), problems: &problems,
		folder: folder, lib: lib, b: &bike.Bike{File: name, Marks: map[string]float64{}},
	}
	r.bike()
	r.root.Finish()
	problems.Sort()
	if problems.HasErrors() {
		return nil, problems
	}
	return r.b, problems
}

// reader fills a bike from the tables of its file.
type reader struct {
	root     *tomltree.Table
	problems *diag.List
	folder   Folder
	lib      *catalog.Library
	b        *bike.Bike

	badAdjuster bool // one could not be read, so that a mark may be its
}

func (r *reader) bike() {
	partfile.CheckSchema(r.root)
	if kind := r.root.Node("kind"); kind != nil {
		r.root.Errorf("kind", "file-type", "name it in a bike file: part = \"file:PATH\"",
			"this is a part file, not a bike file")
	}
	r.b.Name, _ = r.root.String("name")
	if r.b.Name == "" {
		r.b.Name = strings.TrimSuffix(path.Base(filepath.ToSlash(r.b.File)), ".toml")
	}
	r.b.Record = partfile.ReadRecord(r.root)
	r.frame()
	r.feet()
	r.saddle()
	r.bar()
	r.stem()
	r.clipon()
	r.anchor()
	r.adjusters()
	r.b.Marks = r.marks(r.root)
	r.postures()
	r.b.Readings = r.readings(r.root)
	r.calibrations()
}

func (r *reader) frame() {
	f := &r.b.Frame
	if t, ok := r.root.Table("frame"); ok {
		f.BBHeight = partfile.Optional(t, "bb_height", tomltree.Plausible(100, 500))
		f.SeatAngle = radians(partfile.Optional(t, "seat_angle", tomltree.Between(40, 90)))
		f.HeadAngle = radians(partfile.Optional(t, "head_angle", tomltree.Between(40, 90)))
		f.Stack = partfile.Optional(t, "stack", tomltree.Plausible(200, 1000))
		f.Reach = partfile.Optional(t, "reach", tomltree.Plausible(100, 800))
		f.Cover = partfile.Optional(t, "cover", tomltree.Between(0, 150))
		if v, ok := t.Float("pitch", tomltree.Between(-10, 10)); ok {
			f.Pitch = plane.Rad(v)
		}
		f.FrontAxleX = partfile.Optional(t, "front_axle", tomltree.Plausible(200, 1500))
	}
	if t, ok := r.root.Table("steerer"); ok && t.Require("top") {
		f.SteererTop = partfile.Point(t, "top", 5000)
	}
}

func radians(deg *float64) *float64 {
	if deg == nil {
		return nil
	}
	v := plane.Rad(*deg)
	return &v
}

func (r *reader) feet() {
	if !r.root.Require("feet") {
		return
	}
	t, ok := r.root.Table("feet")
	if !ok {
		return
	}
	t.Require("crank")
	f := &r.b.Feet
	length := tomltree.Plausible(50, 300)
	f.Crank, _ = t.Float("crank", length)
	f.SoleHeight, _ = t.Float("sole_height", tomltree.Between(0, 100))
	f.NoSole = !t.Has("sole_height")
	f.QFactor = partfile.Optional(t, "q_factor", tomltree.Plausible(50, 400))
	f.Cranks, ok = t.Floats("cranks", -1, length)
	if ok && len(f.Cranks) == 0 {
		t.Errorf("cranks", "empty-list", "list the lengths, or leave cranks out when only one is fitted", "cranks is empty")
	}
	if len(f.Cranks) > 0 && f.Crank > 0 && !slices.Contains(f.Cranks, f.Crank) {
		t.Warnf("cranks", "crank-not-listed", fmt.Sprintf("add %s, unless it is to come off for good", num(f.Crank)),
			"the crank that is fitted, %s mm, is not one of cranks", num(f.Crank))
	}
}

func (r *reader) anchor() {
	r.b.AnchorSigma = 1
	t, ok := r.root.Table("anchor")
	if !ok {
		return
	}
	r.b.SaddleAnchor = partfile.Point(t, "saddle_clamp", 5000)
	r.b.BarAnchor = partfile.Point(t, "bar_clamp", 5000)
	if v, ok := t.Float("sigma", tomltree.Between(0.001, 100)); ok {
		r.b.AnchorSigma = v
	}
	if t.Has("bar_clamp") && r.root.Has("stem") {
		t.Errorf("bar_clamp", "bar-held-twice", "leave out one of the two",
			"the bar hangs on the [stem] and on anchor.bar_clamp: which of the two?")
	}
}

func (r *reader) postures() {
	all, ok := r.root.Table("posture")
	if !ok {
		return
	}
	for _, name := range all.Keys() {
		t, ok := all.Table(name)
		if !ok {
			continue
		}
		p := bike.Posture{Name: name, Weights: bike.DefaultWeights()}
		t.Require("hands")
		hands, _ := t.OneOf("hands", string(bike.Hood), string(bike.Drop), string(bike.Pad))
		p.Hands = bike.Contact(hands)
		r.support(t, &p)
		if w, ok := t.Table("weights"); ok {
			weight := func(key string, unit float64, into *float64) {
				if v, ok := w.Float(key, tomltree.Positive(), tomltree.Max(100)); ok {
					*into = v * unit
				}
			}
			weight("extension", 1, &p.Weights.Extension)
			weight("setback", 1, &p.Weights.Setback)
			weight("hands", 1, &p.Weights.Hands)
			weight("angle", plane.Deg(1), &p.Weights.Angle) // mm per degree to mm per radian
		}
		r.b.Postures = append(r.b.Postures, p)
	}
}

// What a support is uncertain by where the file does not say, mm: of a width, of a width made from the rider's bones, of a
// station.
const widthSigma, bonesSigma, stationSigma = 3, 4, 3

func (r *reader) support(t *tomltree.Table, p *bike.Posture) {
	const sitBones = "sit-bones"
	if r.b.Saddle.Empty() { // the mark stands at the support, however wide that is
		t.Node("support")
	} else {
		t.Require("support")
	}
	p.SupportSigma = widthSigma
	n := t.Node("support")
	switch {
	case n == nil:
	case n.Kind != tomltree.KindString:
		p.Support, _ = t.Float("support", tomltree.Plausible(20, 300))
		if s := single(r.b.Saddle.Slot); s != nil && p.Support > 0 && p.Support < s.Width(0) {
			t.Warnf("support", "support-at-nose", "give the full width of the saddle where it carries you",
				"support %s is narrower than this saddle's nose, %s mm: nobody sits there", num(p.Support), oneDecimal(s.Width(0)))
		}
	case n.Str == sitBones:
		p.SitBones, p.SupportSigma = true, bonesSigma
	case strings.HasPrefix(n.Str, "at:"):
		p.SupportSigma = stationSigma
		r.supportAt(t, p, n.Str)
	default:
		detail := `or "at:45", a place 45 mm behind the nose of this bike's saddle`
		if _, err := strconv.ParseFloat(n.Str, 64); err == nil {
			detail = "write the width without quotes"
		} else if near, ok := diag.Suggest(n.Str, []string{sitBones}); ok {
			detail = `did you mean "` + near + `"?`
		}
		t.Errorf("support", "value-choice", detail, `support must be "sit-bones" or a saddle width in mm, is %q`, n.Str)
	}
	if v, ok := t.Float("support_sigma", tomltree.Between(0, 100)); ok {
		p.SupportSigma = v
	}
}

// supportAt reads a support that is a station of this bike's own saddle.
func (r *reader) supportAt(t *tomltree.Table, p *bike.Posture, text string) {
	ref, err := saddle.ParseReference(text)
	if err != nil {
		t.Errorf("support", "reference", "", "support: %v", err)
		return
	}
	s := single(r.b.Saddle.Slot)
	if s == nil {
		if r.fits("saddle", "part") || r.fits("saddle", "parts") && len(r.b.Saddle.Options) == 0 {
			return // the part that is to say it could not be read, which has been reported
		}
		t.Errorf("support", "support-shape", "give the width there, in mm",
			"support %q is a place of this bike's saddle, and its shape is not given by one part", text)
		return
	}
	if _, err := s.Station(ref, 0); err != nil {
		t.Errorf("support", "reference", "", "support %q: %v", text, err)
		return
	}
	p.At, p.Support = &ref.MM, s.Width(ref.MM)
}

// fits reports whether a table of the file has the key.
func (r *reader) fits(table, key string) bool {
	t, ok := r.root.Table(table)
	return ok && t.Has(key)
}

// assume notes what the file left out.
func (r *reader) assume(text string) { r.b.Assumed = append(r.b.Assumed, text) }

// num writes a number in the shortest form that reads back the same.
func num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// oneDecimal writes a number as a person measures it: at most one decimal, for messages about computed numbers.
func oneDecimal(v float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
}
