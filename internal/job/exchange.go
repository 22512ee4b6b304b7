package job

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/format"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
)

// Exchange names the parts to fit instead of what is fitted: catalogue ids or paths of part files, by kind.
type Exchange map[partfile.Kind]string

// Part finds a part of a kind by catalogue id or by the path of its file.
func (f *Files) Part(kind partfile.Kind, name string) (*partfile.Part, string, error) {
	return f.part(name, func(lib *catalog.Library) (*partfile.Part, error) { return lib.Lookup(kind, name) }, kind)
}

// AnyPart finds a part of whatever kind.
func (f *Files) AnyPart(name string) (*partfile.Part, string, error) {
	return f.part(name, func(lib *catalog.Library) (*partfile.Part, error) { return lib.Find(name) })
}

func (f *Files) part(name string, find func(*catalog.Library) (*partfile.Part, error), want ...partfile.Kind) (*partfile.Part, string,
	error) {
	path, isFile := strings.CutPrefix(name, format.FilePrefix)
	if !isFile && !strings.HasSuffix(name, ".toml") {
		lib, err := f.Library()
		if err != nil {
			return nil, "", err
		}
		p, err := find(lib)
		var missing *catalog.MissingError
		if errors.As(err, &missing) {
			err = fmt.Errorf("%w; %s, and a path ending in .toml names one file", err, missing.Hint)
		}
		return p, name, err
	}
	p, problems := partfile.Load(path)
	if problems.HasErrors() {
		return nil, "", problems
	}
	f.warn(problems)
	if len(want) > 0 && p.Kind != want[0] {
		return nil, "", fmt.Errorf("%s is a %s, not a %s", path, p.Kind, want[0])
	}
	return p, format.FilePrefix + path, nil
}

// As far as a part that is newly clamped may be turned either way, radians: more than any rider wants.
var loosened = plane.Rad(15)

// Exchanged is the bike with other parts fitted, to be carried to: what is not exchanged stays where it stands, what is
// can be set anew. A saddle that no adjuster moves is set by tape; a bar that none moves stays in its clamp.
func (f *Files) Exchanged(b *bike.Bike, rider *bike.Rider, parts Exchange) (*bike.Bike, error) {
	var posture bike.Posture
	if len(b.Postures) > 0 {
		posture = b.Postures[0]
	}
	stand, err := locate.Stand(b, rider, posture)
	if err != nil {
		return nil, err
	}
	c := *stand.Bike
	_, saddle := parts[partfile.Saddle]
	hold(&c, b, stand, !saddle)
	c.Readings, c.Calibrations, c.Assumed = nil, nil, slices.Clone(c.Assumed)
	var kinds, ids []string
	for _, kind := range []partfile.Kind{partfile.Saddle, partfile.Stem, partfile.Bar, partfile.Lever, partfile.Clipon} {
		name, ok := parts[kind]
		if !ok {
			continue
		}
		p, id, err := f.Part(kind, name)
		if err != nil {
			return nil, err
		}
		if err := fit(&c, b, p, id); err != nil {
			return nil, err
		}
		kinds, ids = append(kinds, kind.Called()), append(ids, name)
	}
	c.Name += ", other " + strings.Join(kinds, " and ")
	c.File += " with " + strings.Join(ids, ", ")
	return c.SetByTape(), nil
}

// hold keeps what no adjuster of the file moves where it stands: the bar, and the saddle when asked.
func hold(c, was *bike.Bike, stand *locate.Standing, saddle bool) {
	c.Adjusters = slices.DeleteFunc(slices.Clone(c.Adjusters), func(a bike.Adjuster) bool {
		return !slices.ContainsFunc(was.Adjusters, func(o bike.Adjuster) bool { return o.Name == a.Name })
	})
	if stand.Adjusted == nil {
		return
	}
	poses := stand.Adjusted.Placement.Poses
	if shape := c.Saddle.Only(); saddle && shape != nil && was.SaddleAnchor == nil && len(was.Moving(bike.MovesSaddle)) == 0 {
		if !c.Saddle.ClampAt.Given {
			c.Saddle.ClampAt = bike.Fixed(shape.Rail.Mid())
		}
		c.Saddle.ClampAt = bike.Fixed(c.Saddle.ClampAt.Mid())
		clamp := poses[assembly.Saddle].At(shape.RailPoint(c.Saddle.ClampAt.Lo))
		c.SaddleAnchor, c.Saddle.Tilt = &clamp, bike.Fixed(poses[assembly.Saddle].Turn)
	}
	if !c.Bar.Empty() && was.BarAnchor == nil && was.Stem == nil && len(was.Moving(bike.MovesBar)) == 0 {
		clamp := poses[assembly.Bar].Origin
		c.BarAnchor, c.Bar.Rotation = &clamp, bike.Fixed(poses[assembly.Bar].Turn)
	}
}

// fit puts one part in the place of what is fitted on c; was is the bike as its file describes it.
func fit(c, was *bike.Bike, p *partfile.Part, id string) error {
	switch p.Kind {
	case partfile.Saddle:
		c.Saddle.Slot, c.Saddle.Arm, c.Saddle.Sag = slot(p, id, p.Saddle), nil, nil
		c.Saddle.ClampAt = free(p.Saddle.Rail.From, p.Saddle.Rail.To)
		c.Saddle.Tilt = turnable(c, bike.MovesSaddleTilt, c.Saddle.Tilt)
		if len(was.Moving(bike.MovesSaddle)) == 0 {
			c.SaddleAnchor = nil
		}
	case partfile.Stem:
		if c.Stem == nil {
			return fmt.Errorf("%s has no [stem], so another one has no place: give [stem] with frame stack, reach and head_angle", was.File)
		}
		stem := *c.Stem
		stem.Slot = slot(p, id, p.Stem)
		c.Stem = &stem
	case partfile.Bar:
		c.Bar.Slot, c.Bar.Arms = slot(p, id, p.Bar), nil
		c.Bar.Rotation = turnable(c, bike.MovesBarRotation, c.Bar.Rotation)
	case partfile.Lever:
		c.Bar.Lever = slot(p, id, p.Lever)
		c.Bar.Rotation = turnable(c, bike.MovesBarRotation, c.Bar.Rotation)
	case partfile.Clipon:
		c.Clipon = &bike.CliponFit{Slot: slot(p, id, p.Clipon)}
	}
	return nil
}

func slot[T any](p *partfile.Part, id string, shape *T) bike.Slot[T] {
	return bike.Slot[T]{Options: []bike.Option[T]{{ID: id, Name: p.Name, Sigma: p.Sigma, Part: shape}}}
}

func free(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }

// turnable lets what has no adjuster be turned either way from where it stands.
func turnable(c *bike.Bike, by bike.Moves, now bike.Setting) bike.Setting {
	if len(c.Moving(by)) > 0 || now.Free {
		return now
	}
	at := 0.0
	if now.Given {
		at = now.Lo
	}
	return free(math.Max(at-loosened, -math.Pi/3), math.Min(at+loosened, math.Pi/3))
}
