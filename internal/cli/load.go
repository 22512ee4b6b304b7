package cli

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/diag"
	"carryover/internal/locate"
)

// examplePrefix marks a file compiled in.
const examplePrefix = "example:"

// exampleNames lists the examples by name.
func exampleNames() []string {
	entries, _ := fs.ReadDir(catalogs.Examples, ".")
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".toml"))
	}
	slices.Sort(names) // studio before studio-set
	return names
}

// example returns the text of an example.
func example(name string) ([]byte, error) {
	src, err := fs.ReadFile(catalogs.Examples, name+".toml")
	if err != nil {
		hint := "there are " + strings.Join(exampleNames(), ", ")
		if s, ok := diag.Suggest(name, exampleNames()); ok {
			hint = fmt.Sprintf("did you mean example:%s?", s)
		}
		return nil, fmt.Errorf("there is no example %q; %s", name, hint)
	}
	return src, nil
}

// bike loads a bike from a path or example:NAME.
func (a *app) bike(path string) (*bike.Bike, error) {
	lib, err := a.library()
	if err != nil {
		return nil, err
	}
	var b *bike.Bike
	var problems diag.List
	if name, ok := strings.CutPrefix(path, examplePrefix); ok {
		src, err := example(name)
		if err != nil {
			return nil, err
		}
		b, problems = bikefile.ReadBike(path, src, bikefile.Folder{FS: catalogs.Examples}, lib)
	} else {
		b, problems = bikefile.LoadBike(path, lib)
	}
	if problems.HasErrors() {
		return nil, problems
	}
	a.warn(problems)
	b.File = path
	return b, nil
}

// target loads a bike to carry onto; what nothing on it holds in place is set by tape.
func (a *app) target(path string) (*bike.Bike, error) {
	b, err := a.bike(path)
	if err != nil {
		return nil, err
	}
	return b.SetByTape(), nil
}

// rider loads a rider; an empty path is no rider.
func (a *app) rider(path string) (*bike.Rider, error) {
	if path == "" {
		return nil, nil
	}
	var r *bike.Rider
	var problems diag.List
	if name, ok := strings.CutPrefix(path, examplePrefix); ok {
		src, err := example(name)
		if err != nil {
			return nil, err
		}
		r, problems = bikefile.ReadRider(path, src)
	} else {
		r, problems = bikefile.LoadRider(path)
	}
	if problems.HasErrors() {
		return nil, problems
	}
	a.warn(problems)
	return r, nil
}

// source loads a bike to carry from, with its rider, and adjusts its readings.
func (a *app) source(path string, rider *bike.Rider, o locate.Options) (*bike.Bike, *locate.Adjustment, error) {
	b, err := a.bike(path)
	if err != nil {
		return nil, nil, err
	}
	for i := range b.Postures {
		if b.Postures[i].SitBones {
			b.Postures[i].Support = rider.SitWidth()
		}
	}
	adjusted, err := locate.Adjust(b, rider, o)
	if err != nil {
		return nil, nil, err
	}
	return b, adjusted, adjusted.Err()
}

// postures returns the one asked for, or all.
func postures(b *bike.Bike, name string) ([]bike.Posture, error) {
	if name == "" {
		if len(b.Postures) == 0 {
			return nil, fmt.Errorf("%s has no posture: add [posture.road] with hands and support", b.File)
		}
		return b.Postures, nil
	}
	p, ok := b.Posture(name)
	if !ok {
		var names []string
		for _, p := range b.Postures {
			names = append(names, p.Name)
		}
		hint := "it has " + strings.Join(names, ", ")
		if s, ok := diag.Suggest(name, names); ok {
			hint = fmt.Sprintf("did you mean %q?", s)
		}
		return nil, usageError{fmt.Errorf("%s has no posture %q; %s", b.File, name, hint)}
	}
	return []bike.Posture{p}, nil
}

// visibleLines makes every line of a message safe to print.
func visibleLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = diag.Visible(l)
	}
	return strings.Join(lines, "\n")
}
