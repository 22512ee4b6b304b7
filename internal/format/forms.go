package format

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

var inf = math.Inf(1)

// FilePrefix begins the name of a part that is a file.
const FilePrefix = "file:"

// IsPattern reports whether an id is a pattern that may stand for several.
func IsPattern(id string) bool { return strings.ContainsAny(id, "*?[") }

// partID is a catalogue id or a file. many is the key for a choice.
func partID(many string) *Form {
	return &Form{Pattern: `^(file:.*|[^*?\[]*)$`, Judge: func(id string) *Fault {
		if !IsPattern(id) || strings.HasPrefix(id, FilePrefix) {
			return nil
		}
		return &Fault{"part-pattern", fmt.Sprintf("one part is wanted, %q stands for several", tomltree.Shorten(id)),
			fmt.Sprintf("write %s = [%q] for a choice", many, tomltree.Shorten(id))}
	}}
}

// partName is the id of a part.
var partName = Form{Pattern: `^[^\x00-\x20*?\[\]/\\:]+$`, Judge: func(id string) *Fault {
	switch {
	case id == "":
		return &Fault{"part-id", "it is empty", ""}
	case strings.ContainsAny(id, "*?[]/\\:") || strings.ContainsFunc(id, func(r rune) bool { return r <= ' ' }):
		return &Fault{"part-id", fmt.Sprintf("%q holds a blank or one of * ? [ ] / \\ :", tomltree.Shorten(id)),
			"use letters, digits and hyphens"}
	}
	return nil
}}

// Settings are what the program calls the settings that are on no scale; an adjuster needs a name of its own.
var Settings = append(bike.SettingKeys(), "feet.crank")

var adjusterName = Form{Pattern: ".", Taken: Settings, Judge: func(name string) *Fault {
	switch {
	case name == "":
		return &Fault{"adjuster-name", "an adjuster needs a name", ""}
	case slices.Contains(Settings, name):
		return &Fault{"adjuster-name", fmt.Sprintf("%q is the name of a built-in setting", name),
			"give it a name of its own, as it is written on the machine"}
	}
	return nil
}}

// SitBones is the support that the rider's sit bones make.
const SitBones = "sit-bones"

var support = Form{Pattern: `^(sit-bones|at:.+)$`, Judge: func(text string) *Fault {
	if text == SitBones {
		return nil
	}
	if strings.HasPrefix(text, "at:") {
		return judgeReference(text)
	}
	f := &Fault{"value-choice", fmt.Sprintf(`a saddle width in mm, "sit-bones" or a place like "at:45" is wanted, not %q`,
		tomltree.Shorten(text)), ""}
	if near, ok := diag.Suggest(text, []string{SitBones}); ok {
		f.Mend = fmt.Sprintf("did you mean %q?", near)
	} else if _, err := written.Quantity(text); err == nil {
		f.Mend = "write the width without quotes"
	}
	return f
}}

var reference = Form{Pattern: `^(saddle\.)?` + references() + "$", Judge: func(text string) *Fault {
	return judgeReference(strings.TrimPrefix(text, "saddle."))
}}

func judgeReference(text string) *Fault {
	_, err := saddle.ParseReference(text)
	if err == nil {
		return nil
	}
	f := &Fault{Code: "reference", Text: err.Error()}
	if near, ok := diag.Suggest(text, saddle.ReferenceNames); ok {
		f.Mend = fmt.Sprintf("did you mean %q?", near)
	}
	return f
}

// place is a point that a tape can go to, above one that a straight or level tape can go to.
var place, above = placeOf(plainPlaces()), placeOf(plainPlaces()[1:])

func placeOf(names []string) Form {
	pattern := `^(` + strings.ReplaceAll(strings.Join(names, "|"), ".", `\.`) + `|saddle\.` + references() + ")$"
	return Form{Pattern: pattern, Judge: func(text string) *Fault {
		if slices.Contains(names, text) {
			return nil
		}
		if text == bike.PlaceNames[bike.AtFloor] {
			return &Fault{"floor-reading", "only a plumb line goes to the floor", `the floor is a line, not a point: use kind = "plumb"`}
		}
		if name, onSaddle := strings.CutPrefix(text, "saddle."); onSaddle {
			return judgeReference(name)
		}
		return &Fault{"point", fmt.Sprintf("%q is no point that a tape can go to", tomltree.Shorten(text)), pointHint(text)}
	}}
}

// plainPlaces are the points that are not on the saddle.
func plainPlaces() []string {
	return slices.DeleteFunc(slices.Clone(bike.PlaceNames), func(name string) bool { return name == bike.PlaceNames[bike.AtSaddle] })
}

func pointHint(text string) string {
	if _, err := saddle.ParseReference(text); err == nil {
		return fmt.Sprintf("write %q", "saddle."+text)
	}
	names := plainPlaces()
	for _, ref := range saddle.ReferenceNames {
		names = append(names, "saddle."+ref)
	}
	if near, ok := diag.Suggest(text, names); ok {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return "the points are " + strings.Join(names, ", ")
}

// references is the pattern of what may stand behind "saddle.".
func references() string {
	var plain []string
	for _, name := range saddle.ReferenceNames {
		if word, _, measured := strings.Cut(name, ":"); measured {
			name = word + ":.+"
		}
		plain = append(plain, name)
	}
	return "(" + strings.Join(plain, "|") + ")"
}
