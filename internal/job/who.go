package job

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/format"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
)

// Who is which bikes use a part, and what another shape of it makes of each. Lengths mm, angles degrees.
type Who struct {
	Schema  int       `json:"schema"`
	Kind    string    `json:"kind"`
	Part    string    `json:"part"`
	Was     *Shaped   `json:"was"` // nil: there is one shape alone
	Is      *Shaped   `json:"is"`
	To      string    `json:"to,omitempty"`
	Looked  int       `json:"looked"` // how many bikes were read
	Clients []*Client `json:"clients"`
	Broken  []Broken  `json:"broken"`
}

// Shaped is one shape of a part, and where it was found.
type Shaped struct {
	File    string `json:"file"`
	Version string `json:"version"`
	part    *partfile.Part
}

// Broken is a file that cannot be read.
type Broken struct {
	File string `json:"file"`
	Why  string `json:"why"`
	Err  error  `json:"-"`
}

// Client is a bike that uses the part.
type Client struct {
	File    string  `json:"file"`
	Name    string  `json:"name"`
	Choice  bool    `json:"choice"` // it is one of several to choose from
	Moves   []Moved `json:"moves"`
	Problem string  `json:"problem,omitempty"` // why it cannot be told what moves
}

// Moved is what the other shape does to one posture: from the same readings and marks, where seat and hands are found to be,
// is less was; and the setting of the other bike that changes most, in the unit of a tape or a level.
type Moved struct {
	Posture string         `json:"posture"`
	Seat    Offset         `json:"seat"`
	Hands   Offset         `json:"hands"`
	Setting string         `json:"setting,omitempty"`
	By      plane.Quantity `json:"by,omitempty"`
}

// Offset is how far a contact moves.
type Offset struct {
	X     float64     `json:"x"`
	Y     float64     `json:"y"`
	Angle plane.Angle `json:"angle"`
}

// MM is how far it is.
func (o Offset) MM() float64 { return math.Hypot(o.X, o.Y) }

// Most is the largest move of a client's contacts, mm.
func (c *Client) Most() (mm float64) {
	for _, m := range c.Moves {
		mm = max(mm, m.Seat.MM(), m.Hands.MM())
	}
	return mm
}

// Who finds the bikes among the files, and in the folders among them, that use a part. Where there are two shapes of it, each
// bike is located with both, and with q.To carried there with both: the part and the one instead of it; of a part of the user's
// own that has the id of a built-in one, the built-in one and the own.
func (f *Files) Who(ctx context.Context, name, instead string, q Asked, paths []string) (*Who, error) {
	p, id, err := f.AnyPart(name)
	if err != nil {
		return nil, err
	}
	lib, err := f.Library()
	if err != nil {
		return nil, err
	}
	w := &Who{Schema: 1, Kind: p.Kind.String(), Part: name, To: q.To, Clients: []*Client{}, Broken: []Broken{}}
	shaped := func(p *partfile.Part) *Shaped { return &Shaped{p.File, bike.VersionOf(p.Shape()), p} }
	if instead != "" {
		other, _, err := f.Part(p.Kind, instead)
		if err != nil {
			return nil, err
		}
		w.Was, w.Is = shaped(p), shaped(other)
	} else if built, err := lib.Builtin(p.Kind, p.ID); err == nil && built != nil && built.File != p.File {
		w.Was, w.Is = shaped(built), shaped(p)
	}
	named := func(file, option string) bool { return option == id || option == p.ID || sameFile(file, option, id) }
	var both [2]shape
	var lost error // why there is none to carry to, which every client is told
	if w.Was != nil {
		for i, part := range [2]*partfile.Part{w.Was.part, w.Is.part} {
			both[i].files = f.with(part, named)
			if q.To != "" && lost == nil {
				both[i].to, lost = both[i].files.Bike(q.To)
			}
		}
	}
	files, err := InFolders(paths)
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		b, err := f.Bike(file)
		if err != nil {
			w.Broken = append(w.Broken, Broken{file, err.Error(), err})
			continue
		}
		w.Looked++
		slot := b.Stocks()[p.Kind]
		if !slices.ContainsFunc(slot.IDs(), func(id string) bool { return named(file, id) }) {
			continue
		}
		c := &Client{File: file, Name: b.Name, Choice: slot.Open, Moves: []Moved{}}
		if w.Was != nil {
			if c.Moves, err = moves(ctx, both, file, q); cmp.Or(lost, err) != nil {
				c.Moves, c.Problem = []Moved{}, cmp.Or(lost, err).Error()
			}
		}
		w.Clients = append(w.Clients, c)
	}
	slices.SortStableFunc(w.Clients, func(a, b *Client) int { return cmp.Compare(b.Most(), a.Most()) })
	return w, nil
}

// InFolders are the files named, and of folders the bikes in them and below; riders and parts among them are none.
func InFolders(paths []string) (files []string, err error) {
	for _, path := range paths {
		info, err := os.Stat(path)
		if strings.HasPrefix(path, ExamplePrefix) || err != nil || !info.IsDir() {
			files = append(files, path) // what cannot be read is told where it is read
			continue
		}
		err = filepath.WalkDir(path, func(name string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() || filepath.Ext(name) != ".toml" {
				return err
			}
			if src, err := os.ReadFile(name); err != nil || format.Is(&format.Bike, src) { // what cannot be read is told later
				files = append(files, name)
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return files, nil
}

// PartPath is where the part file lies that a bike's file names; ok is false where it names none.
func PartPath(file, id string) (path string, ok bool) {
	path, ok = strings.CutPrefix(id, format.FilePrefix)
	if path = filepath.FromSlash(path); !filepath.IsAbs(path) {
		path = filepath.Join(filepath.Dir(file), path)
	}
	return path, ok
}

// sameFile reports whether a part that a bike's file names is the file of another name.
func sameFile(file, option, id string) bool {
	a, isFile := PartPath(file, option)
	other, also := strings.CutPrefix(id, format.FilePrefix)
	if !isFile || !also {
		return false
	}
	one, err := os.Stat(a)
	two, errTwo := os.Stat(other)
	return err == nil && errTwo == nil && os.SameFile(one, two)
}

// shape is one shape of a part: the files as with it, and with that the bike that is carried to; nil: none.
type shape struct {
	files *Files
	to    *bike.Bike
}

// with are the files as they are read with a part wherever one of the names stands for it.
func (f *Files) with(p *partfile.Part, named func(file, option string) bool) *Files {
	g := *f
	g.Warn = nil // of a bike that was read before
	g.instead = func(file string, kind partfile.Kind, option string) *partfile.Part {
		if kind != p.Kind || !named(file, option) {
			return nil
		}
		return p
	}
	return &g
}

// moves locates a bike with both shapes, and where there is one to carry to carries it there with both.
func moves(ctx context.Context, both [2]shape, file string, q Asked) ([]Moved, error) {
	var postures [2][]Posture
	var carried [2]*Carry
	for i, k := range both {
		from, err := k.files.Bike(file)
		if err != nil {
			return nil, err
		}
		to := k.to
		if to != nil {
			if from, to, err = alike(from, to); err != nil {
				return nil, err
			}
		}
		s, err := NewSource(from, q.Rider, locate.Options{})
		if err != nil {
			return nil, err
		}
		if postures[i], err = s.Postures(""); err != nil {
			return nil, err
		}
		if to != nil {
			if carried[i], err = s.Carry(ctx, to, q, nil); err != nil {
				return nil, err
			}
		}
	}
	var err error
	list := []Moved{}
	for i, was := range postures[0] {
		is := postures[1][i]
		if was.Err != nil || is.Err != nil {
			return nil, errors.Join(was.Err, is.Err)
		}
		m := Moved{Posture: was.Name, Seat: offset(was.Position.Sit, is.Position.Sit), Hands: offset(was.Position.Hands, is.Position.Hands)}
		if carried[0] != nil {
			if m.Setting, m.By, err = changed(carried, was.Name); err != nil {
				return nil, err
			}
		}
		list = append(list, m)
	}
	return list, nil
}

func offset(was, is assembly.Contact) Offset {
	d := is.At.Sub(was.At)
	return Offset{d.X, d.Y, plane.Angle(is.Angle - was.Angle)}
}

// changed is the setting that differs most between two carries of a posture, mm counting as degrees do when ways are compared.
func changed(carried [2]*Carry, posture string) (name string, by plane.Quantity, err error) {
	var results [2]*Result
	for i, c := range carried {
		for _, r := range c.Results {
			if r.Position.Posture.Name == posture {
				results[i] = r
			}
		}
		if results[i] == nil {
			return "", by, fmt.Errorf("posture %s cannot be carried to %s", posture, c.Target.File)
		}
	}
	most := 0.0
	for _, is := range results[1].Settings {
		for _, was := range results[0].Settings {
			if d := is.Travel - was.Travel; was.Name == is.Name && math.Abs(d)*is.Weight > most {
				most = math.Abs(d) * is.Weight
				name = is.Called
				by = of(&is, d)
			}
		}
	}
	return name, by, nil
}
