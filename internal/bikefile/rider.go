package bikefile

import (
	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/format"
)

// ReadRider reads a rider from the text of a file; name is what the user called it. The rider is nil exactly when
// the list holds an error.
func ReadRider(name string, src []byte) (*bike.Rider, diag.List) {
	var problems diag.List
	t := format.Document(name, src, &format.Rider, &problems, true)
	if t == nil {
		return nil, problems
	}
	problems.Sort()
	if problems.HasErrors() {
		return nil, problems
	}
	return &bike.Rider{
		File: name, Name: called(t, name), Record: record(t), SitBones: t.Number("sit_bones"), Margin: t.Number("margin"),
		Body: bike.BodySizes{
			Height: t.Optional("height"), Thigh: t.Optional("thigh"), Shank: t.Optional("shank"),
			FootLength: t.Optional("foot_length"), AnkleHeight: t.Optional("ankle_height"), BallToAnkle: t.Optional("ball_to_ankle"),
			Trunk: t.Optional("trunk"), UpperArm: t.Optional("upper_arm"), Forearm: t.Optional("forearm"),
			ShoulderWidth: t.Optional("shoulder_width"), HipAboveSaddle: t.Optional("hip_above_saddle"),
		},
	}, problems
}
