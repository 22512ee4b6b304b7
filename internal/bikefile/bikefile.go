// Package bikefile reads bike and rider files, strictly and with all problems of a file at once, and finds the parts
// they name. What it returns is resolved: degrees have become radians, shorthands readings, ids parts. Here is judged what
// takes more than one key; each key by itself is judged by the table in package format.
package bikefile

import (
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

// Folder is where a bike file lies: file: paths in it start there.
type Folder struct {
	Dir string // "" is the current directory, or the top of FS
	FS  fs.FS  // nil: the disk
	// Instead is a part to take for one that the file names; nil, or what it gives for others: as it is named.
	Instead func(kind partfile.Kind, id string) *partfile.Part
}

// read reads a file of the folder; shown is the path for messages.
func (f Folder) read(name string) (src []byte, shown string, problems diag.List) {
	switch {
	case f.FS != nil:
		shown = path.Join(f.Dir, name)
	case filepath.IsAbs(filepath.FromSlash(name)):
		shown = filepath.FromSlash(name)
	default:
		shown = filepath.Join(f.Dir, filepath.FromSlash(name))
	}
	src, problems = tomltree.ReadFrom(f.FS, shown)
	return src, shown, problems
}

// ReadBike reads a bike from the text of a file; name is what the user called it. The bike is nil exactly when the
// list holds an error.
func ReadBike(name string, src []byte, folder Folder, lib *catalog.Library) (*bike.Bike, diag.List) {
	var problems diag.List
	root := format.Document(name, src, &format.Bike, &problems, true)
	if root == nil {
		return nil, problems
	}
	r := &reader{root: root, problems: &problems, folder: folder, lib: lib, b: &bike.Bike{File: name, Marks: map[string]float64{}}}
	r.bike()
	problems.Sort()
	if problems.HasErrors() {
		return nil, problems
	}
	return r.b, problems
}

// reader fills a bike from the tables of its file.
type reader struct {
	root     *format.Table
	problems *diag.List
	folder   Folder
	lib      *catalog.Library
	b        *bike.Bike

	badAdjuster bool // one could not be read, so that a mark may be its
}

func (r *reader) bike() {
	r.b.Name, r.b.Record = called(r.root, r.b.File), record(r.root)
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

// called is the name that a file gives, else that of the file.
func called(t *format.Table, file string) string {
	if name := t.String("name"); name != "" {
		return name
	}
	return strings.TrimSuffix(path.Base(filepath.ToSlash(file)), ".toml")
}

func record(t *format.Table) bike.Record {
	return bike.Record{Date: t.String("date"), Fitter: t.String("fitter"), Notes: t.String("notes")}
}

func (r *reader) frame() {
	if t, ok := r.root.Table("frame"); ok {
		r.b.Frame = bike.Frame{
			BBHeight: t.Optional("bb_height"), SeatAngle: t.Optional("seat_angle"), HeadAngle: t.Optional("head_angle"),
			Stack: t.Optional("stack"), Reach: t.Optional("reach"), Cover: t.Optional("cover"), FrontAxleX: t.Optional("front_axle"),
			Pitch: t.Number("pitch"),
		}
	}
	if t, ok := r.root.Table("steerer"); ok {
		r.b.Frame.SteererTop = t.Point("top")
	}
}

func (r *reader) feet() {
	t, ok := r.root.Table("feet")
	if !ok {
		return
	}
	f := bike.Feet{Crank: t.Number("crank"), SoleHeight: t.Number("sole_height"), NoSole: !t.Has("sole_height"),
		QFactor: t.Optional("q_factor")}
	f.Cranks, _ = t.Floats("cranks")
	if len(f.Cranks) > 0 && f.Crank > 0 && !slices.Contains(f.Cranks, f.Crank) {
		t.Warnf("cranks", "crank-not-listed", fmt.Sprintf("add %s, unless it is to come off for good", format.Num(f.Crank)),
			"the crank that is fitted, %s mm, is not one of cranks", format.Num(f.Crank))
	}
	r.b.Feet = f
}

func (r *reader) anchor() {
	r.b.AnchorSigma = format.Bike.Keys.Find("anchor.sigma").Else
	t, ok := r.root.Table("anchor")
	if !ok {
		return
	}
	r.b.SaddleAnchor, r.b.BarAnchor = t.Point("saddle_clamp"), t.Point("bar_clamp")
	r.b.AnchorSigma = t.Number("sigma")
	for _, key := range []string{"saddle_clamp", "bar_clamp"} {
		const least, most = 30, 100 // mm from the BB: no clamp is as near, but one in centimetres
		if at := t.Point(key); at != nil && at.Y > least/2 && at.Norm() > least && at.Norm() < most {
			t.Warnf(key, "centimetres", fmt.Sprintf("if it was read in centimetres, write [%s, %s]", written.Short(10*at.X), written.Short(10*at.Y)),
				"%s lies %.0f mm from the bottom bracket, where no clamp is", key, at.Norm())
		}
	}
	if t.Has("bar_clamp") && r.root.Has("stem") {
		t.Errorf("bar_clamp", "bar-held-twice", "leave out one of the two",
			"the bar hangs on the [stem] and on anchor.bar_clamp: which of the two?")
	}
}

func (r *reader) postures() {
	all, _ := r.root.Tables("posture")
	for _, t := range all {
		p := bike.Posture{Name: t.Key(), Hands: bike.Contact(t.String("hands")), Weights: bike.DefaultWeights()}
		r.support(t, &p)
		if w, ok := t.Table("weights"); ok {
			d := p.Weights
			p.Weights = bike.Weights{Extension: w.Or("extension", d.Extension), Setback: w.Or("setback", d.Setback), Hands: w.Or("hands", d.Hands),
				Angle: plane.Deg(w.Or("angle", plane.Rad(d.Angle)))} // mm per degree to mm per radian
		}
		r.b.Postures = append(r.b.Postures, p)
	}
}

// WidthSigma is what a support is uncertain by where the file does not say, mm; the others are that of a width made from the
// rider's bones, and of a station.
const WidthSigma, bonesSigma, stationSigma = 3, 4, 3

func (r *reader) support(t *format.Table, p *bike.Posture) {
	usual := float64(WidthSigma)
	width, isWidth := t.Float("support")
	switch text := t.String("support"); {
	case !t.Has("support"):
		if r.shaped() { // else the mark stands at the support, however wide that is
			t.Errorf("", "missing-key", "", "missing key %q in %s", "support", t.Name())
		}
	case isWidth:
		p.Support = width
		if s := single(r.b.Saddle.Slot); s != nil && width < s.Width(0) {
			t.Warnf("support", "support-at-nose", "give the full width of the saddle where it carries you",
				"support %s is narrower than this saddle's nose, %s mm: nobody sits there", format.Num(width), written.Short(s.Width(0)))
		}
	case text == format.SitBones:
		p.SitBones, usual = true, bonesSigma
	case text != "":
		usual = stationSigma
		r.supportAt(t, p, text)
	}
	p.SupportSigma = t.Or("support_sigma", usual)
}

// supportAt reads a support that is a station of this bike's own saddle.
func (r *reader) supportAt(t *format.Table, p *bike.Posture, text string) {
	ref, _ := saddle.ParseReference(text) // judged by its form
	s := single(r.b.Saddle.Slot)
	if s == nil {
		if r.b.Saddle.Open || !r.shaped() { // else the part that says it could not be read, which has been reported
			t.Errorf("support", "support-shape", "give the width there, in mm",
				"support %q is a place of this bike's saddle, and its shape is not given by one part", text)
		}
		return
	}
	if _, err := s.Station(ref, 0); err != nil {
		t.Errorf("support", "reference", "", "support %q: %v", text, err)
		return
	}
	p.At, p.Support = &ref.MM, s.Width(ref.MM)
}

// shaped reports whether the file names the saddle's part, or several to choose from.
func (r *reader) shaped() bool { return r.root.Has("saddle.part") || r.root.Has("saddle.parts") }

// assume notes what the file left out.
func (r *reader) assume(text string) { r.b.Assumed = append(r.b.Assumed, text) }
