package bikefile

import (
	"path"
	"path/filepath"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/tomltree"
)

// usualMargin is what a saddle wants to be wider than the sit bones are apart, mm: common practice.
const usualMargin = 20

// LoadRider reads a rider file from disk. The rider is nil exactly when the list holds an error.
func LoadRider(file string) (*bike.Rider, diag.List) {
	src, problems := tomltree.ReadFile(file)
	if problems != nil {
		return nil, problems
	}
	return ReadRider(file, src)
}

// ReadRider reads a rider from the text of a file; name is what the user called it. The rider is nil exactly when
// the list holds an error.
func ReadRider(name string, src []byte) (*bike.Rider, diag.List) {
	root, problems := tomltree.Parse(name, src)
	if root == nil {
		return nil, problems
	}
	t := tomltree.NewTable(root, &problems)
	partfile.CheckSchema(t)
	r := &bike.Rider{File: name, Margin: usualMargin}
	r.Record = partfile.ReadRecord(t)
	r.Name, _ = t.String("name")
	if r.Name == "" {
		r.Name = strings.TrimSuffix(path.Base(filepath.ToSlash(name)), ".toml")
	}
	if v, ok := t.Float("sit_bones", tomltree.Plausible(50, 200)); ok {
		r.SitBones = v
	}
	if v, ok := t.Float("margin", tomltree.Between(0, 80)); ok {
		r.Margin = v
	}
	b := &r.Body
	for _, size := range []struct {
		key    string
		into   **float64
		lo, hi float64
	}{
		{"height", &b.Height, 1000, 2500},
		{"inseam", &b.Inseam, 400, 1300},
		{"thigh", &b.Thigh, 200, 700},
		{"shank", &b.Shank, 200, 700},
		{"foot_length", &b.FootLength, 150, 400},
		{"ankle_height", &b.AnkleHeight, 30, 200},
		{"ball_to_ankle", &b.BallToAnkle, 50, 300},
		{"trunk", &b.Trunk, 250, 900},
		{"upper_arm", &b.UpperArm, 150, 500},
		{"forearm", &b.Forearm, 150, 600},
		{"shoulder_width", &b.ShoulderWidth, 200, 700},
	} {
		*size.into = partfile.Optional(t, size.key, tomltree.Plausible(size.lo, size.hi))
	}
	b.HipAboveSeat = partfile.Optional(t, "hip_above_saddle", tomltree.Between(0, 250))
	t.Finish()
	problems.Sort()
	if problems.HasErrors() {
		return nil, problems
	}
	return r, problems
}
