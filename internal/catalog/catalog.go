// Package catalog finds parts by kind and id: those compiled in, one file each named after its id, and a user's own.
// Only what is asked for is read.
package catalog

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"

	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/tomltree"
)

// Library is the parts that can be found by id.
type Library struct {
	builtin fs.FS
	read    sync.Map // built-in parts by the path of their file, once they were asked for
	own     map[partfile.Kind]map[string]*partfile.Part
	broken  map[string]diag.List // what is wrong with the user's own parts that cannot be read, by id
}

// New is a library of the parts in builtin: one folder per kind (saddles, bars, ...), one file ID.toml per part.
func New(builtin fs.FS) *Library {
	return &Library{builtin: builtin, own: make(map[partfile.Kind]map[string]*partfile.Part), broken: map[string]diag.List{}}
}

func folder(k partfile.Kind) string { return k.String() + "s" }

// AddDir adds a user's own parts: every *.toml of the directory and of the directories in it. An id that is built in
// is replaced, with a warning; an id given twice by the user is an error. Parts of files with errors are left out, and stop only who
// asks for them: the errors come back as warnings.
func (l *Library) AddDir(dir string) diag.List {
	files, problems := partFiles(dir)
	for _, file := range files {
		var p *partfile.Part
		src, found := tomltree.ReadFile(file)
		if found == nil {
			p, found = partfile.Read(file, src)
		}
		if p != nil {
			found = append(found, l.add(p)...)
		}
		if found.HasErrors() {
			id := idOf(file, src)
			l.broken[id] = slices.Clone(found)
			found[0].Summary += fmt.Sprintf("; %q is left out", id)
			for i := range found {
				found[i].Severity = diag.Warning
			}
		}
		problems = append(problems, found...)
	}
	problems.Sort()
	return problems
}

// idOf is the id of a part whose file cannot be read: what it says, else the name of the file.
func idOf(file string, src []byte) string {
	if m := regexp.MustCompile(`(?m)^[ \t]*id[ \t]*=[ \t]*"([^"]*)"`).FindSubmatch(src); m != nil {
		return string(m[1])
	}
	return strings.TrimSuffix(filepath.Base(file), ".toml")
}

// Files lists the files of the user's own parts, in no order.
func (l *Library) Files() []string {
	var files []string
	for _, parts := range l.own {
		for _, p := range parts {
			files = append(files, p.File)
		}
	}
	return files
}

func (l *Library) add(p *partfile.Part) diag.List {
	span := &diag.Span{File: p.File}
	if old := l.own[p.Kind][p.ID]; old != nil {
		return diag.List{{
			Code: "part-twice", Severity: diag.Error, Span: span, Detail: "give one of the two another id",
			Summary: fmt.Sprintf("%s %q is already given by %s", p.Kind, p.ID, old.File),
		}}
	}
	if l.own[p.Kind] == nil {
		l.own[p.Kind] = make(map[string]*partfile.Part)
	}
	l.own[p.Kind][p.ID] = p
	if l.readBuiltin(p.Kind, p.ID) == nil {
		return nil
	}
	return diag.List{{
		Code: "part-shadowed", Severity: diag.Warning, Span: span, Detail: "give it another id to keep both",
		Summary: fmt.Sprintf("%s %q stands in for the built-in one of that id", p.Kind, p.ID),
	}}
}

// partFiles lists the TOML files of a directory and of the directories right in it, sorted.
func partFiles(dir string) (files []string, problems diag.List) {
	err := fs.WalkDir(os.DirFS(dir), ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && strings.Contains(name, "/"):
			return fs.SkipDir
		case !e.IsDir() && strings.HasSuffix(name, ".toml"):
			files = append(files, filepath.Join(dir, filepath.FromSlash(name)))
		}
		return nil
	})
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		err = pe.Err
	}
	if err != nil {
		return nil, diag.List{{
			Code: "catalog-dir", Severity: diag.Error, Span: &diag.Span{File: dir},
			Summary: "the catalogue directory cannot be read: " + err.Error(),
		}}
	}
	slices.Sort(files)
	return files, nil
}

// readBuiltin is the text of a built-in part, nil when there is none of that kind and id.
func (l *Library) readBuiltin(k partfile.Kind, id string) []byte {
	if id == "" || strings.ContainsAny(id, `/\`) {
		return nil
	}
	src, err := fs.ReadFile(l.builtin, path.Join(folder(k), id+".toml"))
	if err != nil {
		return nil
	}
	return src
}

func (l *Library) has(k partfile.Kind, id string) bool {
	return l.own[k][id] != nil || l.readBuiltin(k, id) != nil
}

// MissingError says that no part, or none of the kind, has the id.
type MissingError struct {
	What string // the kind, or "part"
	ID   string
	Hint string // how to mend it
}

func (e *MissingError) Error() string {
	return fmt.Sprintf("the catalogue has no %s %q", e.What, e.ID)
}

// Lookup finds a part. The error is a *MissingError when there is none; a diag.List when a part of the library is
// broken, which for the built-in ones the tests rule out.
func (l *Library) Lookup(k partfile.Kind, id string) (*partfile.Part, error) {
	if found := l.broken[id]; found != nil {
		return nil, found
	}
	if p := l.own[k][id]; p != nil {
		return p, nil
	}
	p, err := l.Builtin(k, id)
	if p == nil && err == nil {
		err = &MissingError{What: k.String(), ID: id, Hint: l.hint(k, id)}
	}
	return p, err
}

// Builtin is the built-in part of that kind and id, whether the user has one of that id or not; nil: there is none.
func (l *Library) Builtin(k partfile.Kind, id string) (*partfile.Part, error) {
	file := path.Join("catalogs", folder(k), id+".toml")
	if p, ok := l.read.Load(file); ok {
		return p.(*partfile.Part), nil
	}
	src := l.readBuiltin(k, id)
	if src == nil {
		return nil, nil
	}
	p, problems := partfile.Read(file, src)
	if problems.HasErrors() {
		return nil, problems
	}
	l.read.Store(file, p)
	return p, nil
}

// hint guesses what was meant by an id that is not there.
func (l *Library) hint(k partfile.Kind, id string) string {
	for other, name := range partfile.KindNames {
		if o := partfile.Kind(other); o != k && l.has(o, id) {
			return fmt.Sprintf("%s is a %s, not a %s", id, name, k)
		}
	}
	if strings.HasSuffix(id, ".toml") {
		return fmt.Sprintf("for a file write %q", "file:"+id)
	}
	if near, ok := diag.Suggest(id, l.IDs(k)); ok {
		return fmt.Sprintf("did you mean %q? %s", near, ownParts)
	}
	return "`carryover catalog list` shows the ids; for a file of your own write \"file:PATH\"; " + ownParts
}

// ownParts is how parts of the user's own are found.
const ownParts = "--catalog DIR adds parts of your own"

// IDs are the ids of a kind whose parts can be read, sorted.
func (l *Library) IDs(k partfile.Kind) []string {
	files, _ := fs.Glob(l.builtin, folder(k)+"/*.toml") // the pattern is well formed
	ids := make([]string, 0, len(files)+len(l.own[k]))
	for _, f := range files {
		ids = append(ids, strings.TrimSuffix(path.Base(f), ".toml"))
	}
	for id := range l.own[k] {
		ids = append(ids, id)
	}
	ids = slices.DeleteFunc(ids, func(id string) bool { return l.broken[id] != nil })
	slices.Sort(ids)
	return slices.Compact(ids)
}

// Glob lists the ids of a kind that match the pattern (as path.Match), sorted; none when the pattern is malformed.
func (l *Library) Glob(k partfile.Kind, pattern string) []string {
	return slices.DeleteFunc(l.IDs(k), func(id string) bool {
		ok, err := path.Match(pattern, id)
		return err != nil || !ok
	})
}

// List is every part of a kind, sorted by id.
func (l *Library) List(k partfile.Kind) ([]*partfile.Part, error) {
	var parts []*partfile.Part
	for _, id := range l.IDs(k) {
		p, err := l.Lookup(k, id)
		if err != nil {
			return nil, err
		}
		parts = append(parts, p)
	}
	return parts, nil
}

// Find is the part of that id, whatever its kind. An id of several kinds gives the first in the order of the kinds.
func (l *Library) Find(id string) (*partfile.Part, error) {
	var all []string
	for k := range partfile.KindNames {
		kind := partfile.Kind(k)
		if l.has(kind, id) {
			return l.Lookup(kind, id)
		}
		all = append(all, l.IDs(kind)...)
	}
	hint := ownParts
	if near, ok := diag.Suggest(id, all); ok {
		hint = fmt.Sprintf("did you mean %q? %s", near, ownParts)
	}
	return nil, &MissingError{What: "part", ID: id, Hint: hint}
}
