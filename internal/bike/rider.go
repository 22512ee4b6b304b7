package bike

// Rider is a rider file: what carries them on a saddle and, for the body view, how long their parts are.
type Rider struct {
	File, Name string
	Record     Record
	SitBones   float64 // spacing, mm
	Margin     float64 // mm, added on both bones together
	Body       BodySizes
}

// SitWidth is the saddle width that carries the sit bones, mm; 0 when the spacing is unknown.
func (r *Rider) SitWidth() float64 {
	if r == nil || r.SitBones == 0 {
		return 0
	}
	return r.SitBones + r.Margin
}

// BodySizes are lengths of the body, mm; nil: not given. Segment lengths run joint to joint.
type BodySizes struct {
	Height                        *float64
	Thigh, Shank                  *float64
	FootLength, AnkleHeight       *float64 // AnkleHeight: ankle joint above the sole
	BallToAnkle                   *float64 // along the sole, pedal axle to ankle
	Trunk, UpperArm, Forearm      *float64
	ShoulderWidth, HipAboveSaddle *float64 // HipAboveSaddle: hip joint above the loaded saddle
}
