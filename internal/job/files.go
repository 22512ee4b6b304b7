// Package job loads what a command works on in one place - bikes, a rider, postures - and holds everything that follows
// from carrying one bike's postures to another, for whoever tells, draws or writes it.
package job

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/carry"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/tomltree"
)

// ExamplePrefix marks a file compiled in.
const ExamplePrefix = "example:"

// Files finds parts, bikes and riders: compiled in, in files, and the parts of a folder of the user's own.
type Files struct {
	FS         fs.FS                                                           // where paths lead; nil: the disk
	CatalogDir string                                                          // "": none
	Warn       func(diag.List)                                                 // told what is odd about a file that can be used; nil: nobody
	instead    func(file string, kind partfile.Kind, id string) *partfile.Part // of the part that a file names; nil: nothing is
	library    *catalog.Library
	bought     *carry.Shop // its parts, once they were asked for
}

func (f *Files) warn(l diag.List) {
	if f.Warn != nil && len(l) > 0 {
		f.Warn(l)
	}
}

// Library is the parts.
func (f *Files) Library() (*catalog.Library, error) {
	if f.library != nil {
		return f.library, nil
	}
	lib := catalog.New(catalogs.Files)
	if f.CatalogDir != "" {
		if problems := lib.AddDir(f.CatalogDir); problems.HasErrors() {
			return nil, problems
		} else {
			f.warn(problems)
		}
	}
	f.library = lib
	return lib, nil
}

// PartFiles are the part files of the user's own that have been read.
func (f *Files) PartFiles() []string {
	if f.library == nil {
		return nil
	}
	return f.library.Files()
}

// Examples lists the examples by name.
func Examples() []string {
	entries, _ := fs.ReadDir(catalogs.Examples, ".")
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".toml"))
	}
	slices.Sort(names) // studio before studio-set
	return names
}

// Example returns the text of an example.
func Example(name string) ([]byte, error) {
	src, err := fs.ReadFile(catalogs.Examples, name+".toml")
	if err != nil {
		hint := "there are " + strings.Join(Examples(), ", ")
		if s, ok := diag.Suggest(name, Examples()); ok {
			hint = fmt.Sprintf("did you mean example:%s?", s)
		}
		return nil, fmt.Errorf("there is no example %q; %s", name, hint)
	}
	return src, nil
}

// ExampleFile is one example: what to call it on the command line and what it holds.
type ExampleFile struct {
	Name         string   `json:"name"`
	Kind         string   `json:"kind"`
	Title        string   `json:"title"`
	Postures     []string `json:"postures,omitempty"`
	Readings     int      `json:"readings"`
	Adjusters    int      `json:"adjusters"`
	Calibrations int      `json:"calibrations"` // how many standings a frame whose scales are not known was measured at
}

// ListExamples reads every example for what it holds.
func (f *Files) ListExamples() ([]ExampleFile, error) {
	lib, err := f.Library()
	if err != nil {
		return nil, err
	}
	var files []ExampleFile
	for _, name := range Examples() {
		src, err := Example(name)
		if err != nil {
			return nil, err
		}
		e := ExampleFile{Name: ExamplePrefix + name, Kind: "bike"}
		if b, problems := bikefile.ReadBike(name, src, bikefile.Folder{FS: catalogs.Examples}, lib); !problems.HasErrors() {
			e.Title, e.Readings, e.Adjusters, e.Calibrations = b.Name, len(b.Readings), len(b.Adjusters), len(b.Calibrations)
			for _, p := range b.Postures {
				e.Postures = append(e.Postures, p.Name)
			}
		} else if r, problems := bikefile.ReadRider(name, src); !problems.HasErrors() {
			e.Title, e.Kind = r.Name, "rider"
		} else {
			return nil, problems
		}
		files = append(files, e)
	}
	return files, nil
}

// read is the text of a file or an example, and where the part files lie that it names.
func (f *Files) read(path string) (src []byte, folder bikefile.Folder, err error) {
	if name, ok := strings.CutPrefix(path, ExamplePrefix); ok {
		src, err = Example(name)
		return src, bikefile.Folder{FS: catalogs.Examples}, err
	}
	if folder = (bikefile.Folder{FS: f.FS}); f.FS == nil {
		folder.Dir = filepath.Dir(path)
	}
	src, problems := tomltree.ReadFrom(f.FS, path)
	return src, folder, problems.Err()
}

// Bike loads a bike from a path or example:NAME.
func (f *Files) Bike(path string) (*bike.Bike, error) {
	lib, err := f.Library()
	if err != nil {
		return nil, err
	}
	src, folder, err := f.read(path)
	if err != nil {
		return nil, err
	}
	if f.instead != nil {
		folder.Instead = func(kind partfile.Kind, id string) *partfile.Part { return f.instead(path, kind, id) }
	}
	b, problems := bikefile.ReadBike(path, src, folder, lib)
	if problems.HasErrors() {
		return nil, problems
	}
	f.warn(problems)
	b.File = path
	return b, nil
}

// Rider loads a rider; an empty path is no rider.
func (f *Files) Rider(path string) (*bike.Rider, error) {
	if path == "" {
		return nil, nil
	}
	src, _, err := f.read(path)
	if err != nil {
		return nil, err
	}
	r, problems := bikefile.ReadRider(path, src)
	if problems.HasErrors() {
		return nil, problems
	}
	f.warn(problems)
	return r, nil
}

// Source is a bike with its readings adjusted: where everything on it is.
type Source struct {
	Bike     *bike.Bike
	Rider    *bike.Rider // nil: none given
	Adjusted *locate.Adjustment
}

// Source loads a bike with readings and adjusts them.
func (f *Files) Source(path string, rider *bike.Rider, o locate.Options) (*Source, error) {
	b, err := f.Bike(path)
	if err != nil {
		return nil, err
	}
	return NewSource(b, rider, o)
}

// supported puts the rider's width where a posture is carried by the sit bones.
func supported(b *bike.Bike, rider *bike.Rider) {
	for i := range b.Postures {
		if b.Postures[i].SitBones {
			b.Postures[i].Support = rider.SitWidth()
		}
	}
}

// NewSource adjusts the readings of a bike.
func NewSource(b *bike.Bike, rider *bike.Rider, o locate.Options) (*Source, error) {
	supported(b, rider)
	adjusted, err := locate.Adjust(b, rider, o)
	if err != nil {
		return nil, err
	}
	return &Source{Bike: b, Rider: rider, Adjusted: adjusted}, adjusted.Err()
}

// NoPostureError is a posture asked for that a bike does not have.
type NoPostureError struct{ text string }

func (e *NoPostureError) Error() string { return e.text }

// Posture is a posture asked for, with where the rider touches the bike in it; Err says why that is not known.
type Posture struct {
	bike.Posture
	Position *locate.Position
	Err      error
}

// Postures returns the posture asked for, or all for "". It fails when none of them can be used.
func (s *Source) Postures(name string) ([]Posture, error) {
	asked := s.Bike.Postures
	if name != "" {
		p, ok := s.Bike.Posture(name)
		if !ok {
			return nil, s.noPosture(name)
		}
		asked = []bike.Posture{p}
	}
	if len(asked) == 0 {
		return nil, fmt.Errorf("%s has no posture: add [posture.road] with hands and support", s.Bike.File)
	}
	return s.placed(asked)
}

// Every is the posture asked for, or all for ""; it fails when one of them cannot be used.
func (s *Source) Every(name string) ([]Posture, error) {
	list, err := s.Postures(name)
	for _, p := range list {
		if err == nil {
			err = p.Err
		}
	}
	return list, err
}

// alike is a pair of bikes of which what neither states of the saddles' give and of what lies under the foot counts as the same.
func alike(from, to *bike.Bike) (*bike.Bike, *bike.Bike, error) {
	from, to, err := locate.ShareSag(from, to)
	if err == nil {
		from, err = locate.ShareSole(from, to)
	}
	return from, to, err
}

// AsItStands is a bike in no posture, as its readings have it: Name is "", and who would sit on it where is not known. The
// hands are the first that its readings place.
func (s *Source) AsItStands(string) ([]Posture, error) {
	middle := 0.0
	if shape := s.Adjusted.Placement.Shape; shape != nil {
		middle = shape.Length / 2
	}
	var err error
	for _, hands := range []bike.Contact{bike.Hood, bike.Pad, bike.Drop} {
		p := bike.Posture{Hands: hands}
		if s.Adjusted.Placement.Shape != nil {
			p.At = &middle
		}
		var list []Posture
		if list, err = s.placed([]bike.Posture{p}); err == nil {
			return list, nil
		}
	}
	return nil, err
}

// placed are postures with where the rider touches the bike. It fails when none of them can be used.
func (s *Source) placed(asked []bike.Posture) ([]Posture, error) {
	var list []Posture
	var fails []error
	for _, p := range asked {
		k := Posture{Posture: p}
		if at, err := s.Adjusted.Position(p); err != nil {
			k.Err = err
			fails = append(fails, err)
		} else {
			k.Position = &at
		}
		list = append(list, k)
	}
	if len(fails) == len(list) {
		return nil, all(fails)
	}
	return list, nil
}

// all is one error for several that stop everything; the same text is said once.
func all(fails []error) error {
	var list []error
	for _, err := range fails {
		if !slices.ContainsFunc(list, func(e error) bool { return e.Error() == err.Error() }) {
			list = append(list, err)
		}
	}
	if len(list) == 1 {
		return list[0]
	}
	return errors.Join(list...)
}

func (s *Source) noPosture(name string) error {
	var names []string
	for _, p := range s.Bike.Postures {
		names = append(names, p.Name)
	}
	hint := "it has " + strings.Join(names, ", ")
	switch near, ok := diag.Suggest(name, names); {
	case len(names) == 0:
		hint = "it has none"
	case ok:
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	return &NoPostureError{fmt.Sprintf("%s has no posture %q; %s", s.Bike.File, name, hint)}
}
