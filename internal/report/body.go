package report

import (
	"errors"
	"fmt"
	"io"
	"math"

	"carryover/internal/body"
	"carryover/internal/plane"
)

// Body is the outcome of `carryover body`, as JSON. Lengths mm, angles degrees; a flexion of 0 is straight.
type Body struct {
	Schema   int           `json:"schema"`
	Bike     string        `json:"bike"`
	To       string        `json:"to,omitempty"`
	Rider    string        `json:"rider"`
	Lengths  []BodyLength  `json:"lengths"`
	Foot     BodyPitch     `json:"foot"`
	Elbow    float64       `json:"elbow_assumed"`
	Postures []BodyPosture `json:"postures"`
	Notes    []string      `json:"notes"`
}

// BodyLength is one length of the body: measured, estimated from the stature by the source, or assumed.
type BodyLength struct {
	Name   string  `json:"name"`
	Length float64 `json:"length"`
	Origin string  `json:"origin"`
	Source string  `json:"source,omitempty"`
}

// BodyPitch is how the foot turns: mean + swing·cos(crank - peak) against the level, toes up positive.
type BodyPitch struct {
	Mean  float64 `json:"mean"`
	Swing float64 `json:"swing"`
	Peak  float64 `json:"peak"`
}

// BodyPosture is one posture: the source first, then what each difference of the target makes of it.
type BodyPosture struct {
	Posture string      `json:"posture"`
	Stages  []BodyStage `json:"stages"`
}

// BodyStage is a body on a bike. What cannot be closed is null, and impossible says why.
type BodyStage struct {
	Cause      string       `json:"cause"`
	Impossible []string     `json:"impossible"`
	Crank      float64      `json:"crank"`
	Numbers    *BodyNumbers `json:"numbers"`
	Turn       []BodyLeg    `json:"turn"`
}

// BodyNumbers is what a turn comes to.
type BodyNumbers struct {
	KneeLowest   float64  `json:"knee_at_lowest"`
	KneeHighest  float64  `json:"knee_at_highest"`
	KneeLeast    float64  `json:"knee_least"`
	KneeMost     float64  `json:"knee_most"`
	HipLeast     *float64 `json:"hip_least"`
	HipLeastAt   *float64 `json:"hip_least_at"`
	AnkleLeast   float64  `json:"ankle_least"`
	AnkleMost    float64  `json:"ankle_most"`
	KneeAhead    float64  `json:"knee_ahead"`
	Trunk        *float64 `json:"trunk"`
	Shoulder     *float64 `json:"shoulder"`
	Elbow        *float64 `json:"elbow"`
	ElbowAssumed bool     `json:"elbow_is_assumed"`
	HandsApart   *float64 `json:"hands_apart"`
	DropsApart   *float64 `json:"drops_apart"`
	QFactor      *float64 `json:"q_factor"`
	ArmLost      *float64 `json:"reach_lost_arms"`
	DropsLost    *float64 `json:"reach_lost_drops"`
	LegLost      *float64 `json:"way_longer_legs"`
	KneeAcross   *float64 `json:"knee_at_lowest_across"`
}

// BodyLeg is the leg at one crank angle from straight up.
type BodyLeg struct {
	Crank float64  `json:"crank"`
	Foot  float64  `json:"foot"`
	Ankle float64  `json:"ankle"`
	Knee  float64  `json:"knee"`
	Hip   *float64 `json:"hip"`
	KneeX float64  `json:"knee_x"`
	KneeY float64  `json:"knee_y"`
}

var bodyNotes = []string{
	"These numbers describe geometry. They are no medical claim and no advice.",
	"Joint angles are those of the side view. Across the bike the way from hip to ankle is longer; where Q-factor and hips are known, the knee flexion that it leaves with the pedal lowest is given beside it.",
	"The hip is taken straight above the loaded saddle contact and still; a rider's rocks.",
	"The foot follows the stated pitch whatever the saddle does. Real ankles give way, so a change of the knee worked out here is an upper bound, about twice what riders show (Ferrer-Roca et al. 2014).",
}

// NewBody is a rider's body; turnStep is how far apart, in degrees, the places of the turn are listed, 0 for none.
func NewBody(bike, to, rider string, s *body.Segments, h body.Habits) Body {
	b := Body{Schema: 1, Bike: bike, To: to, Rider: rider, Elbow: plane.Deg(h.Elbow), Postures: []BodyPosture{}, Notes: bodyNotes,
		Foot: BodyPitch{plane.Deg(h.Pitch.Mean), plane.Deg(h.Pitch.Swing), plane.Deg(h.Pitch.Peak)}}
	for _, l := range s.List() {
		b.Lengths = append(b.Lengths, BodyLength{l.Name, l.MM, l.Origin.String(), l.Source})
	}
	return b
}

// NewBodyPosture is one posture with its stages; the whole turn is listed every step degrees, 0 for not at all.
func NewBodyPosture(name string, s *body.Segments, stages []body.Stage, step float64) (BodyPosture, error) {
	p := BodyPosture{Posture: name}
	for _, st := range stages {
		b := BodyStage{Cause: st.Cause, Crank: st.Fit.Crank, Impossible: []string{}, Turn: []BodyLeg{}}
		var reach *body.ReachError
		if st.Err != nil {
			if !errors.As(st.Err, &reach) {
				return p, st.Err
			}
			b.Impossible = append(b.Impossible, st.Err.Error())
		}
		if n := st.Numbers; n != nil {
			b.Numbers = bodyNumbers(n, s, st.Fit.Widths)
			if n.UpperError != nil {
				b.Impossible = append(b.Impossible, n.UpperError.Error())
			}
			for c := 0.0; step > 0 && c < 360; c += step {
				l, err := s.Leg(st.Fit, plane.Rad(c))
				if err != nil {
					return p, err
				}
				b.Turn = append(b.Turn, BodyLeg{c, plane.Deg(l.Pitch), plane.Deg(l.AnkleOpening), plane.Deg(l.KneeFlexion), finite(plane.Deg(n.HipAt(l))), l.Knee.X, l.Knee.Y})
			}
		}
		p.Stages = append(p.Stages, b)
	}
	return p, nil
}

// finite is a number, or null for NaN.
func finite(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

// positive is a number, or null for one that is not known.
func positive(v float64) *float64 {
	if v <= 0 {
		return nil
	}
	return &v
}

func bodyNumbers(n *body.Numbers, s *body.Segments, w body.Laterals) *BodyNumbers {
	b := &BodyNumbers{KneeLowest: plane.Deg(n.KneeLowest), KneeHighest: plane.Deg(n.KneeHighest), KneeLeast: plane.Deg(n.KneeLeast),
		KneeMost: plane.Deg(n.KneeMost), HipLeast: finite(plane.Deg(n.HipLeast)), HipLeastAt: finite(plane.Deg(n.HipLeastAt)),
		AnkleLeast: plane.Deg(n.AnkleLeast), AnkleMost: plane.Deg(n.AnkleMost), KneeAhead: n.KneeAhead,
		HandsApart: positive(w.Hands), DropsApart: positive(w.Drops), QFactor: positive(w.QFactor)}
	if w.QFactor > 0 && s.Hips.MM > 0 {
		b.LegLost, b.KneeAcross = finite(n.LegLost), finite(plane.Deg(n.KneeAcross))
	}
	if u := n.Upper; u != nil {
		b.Trunk, b.Shoulder, b.Elbow = finite(plane.Deg(u.Trunk)), finite(plane.Deg(u.ShoulderOpening)), finite(plane.Deg(u.ElbowOpening))
		b.ElbowAssumed = u.ElbowAssumed
		if s.Shoulders.MM > 0 && w.Hands > 0 {
			b.ArmLost = finite(u.ArmLost)
		}
		if s.Shoulders.MM > 0 && w.Drops > 0 {
			b.DropsLost = finite(body.ReachLost(u.Arm, w.Drops, s.Shoulders.MM))
		}
	}
	return b
}

// bodyRow is one line of the table of numbers.
type bodyRow struct {
	name string
	unit string
	of   func(*BodyNumbers) *float64
}

var bodyRows = []bodyRow{
	{"knee flexion, pedal lowest", "°", func(n *BodyNumbers) *float64 { return &n.KneeLowest }},
	{"  least of the turn", "°", func(n *BodyNumbers) *float64 { return &n.KneeLeast }},
	{"knee flexion, pedal highest", "°", func(n *BodyNumbers) *float64 { return &n.KneeHighest }},
	{"  most of the turn", "°", func(n *BodyNumbers) *float64 { return &n.KneeMost }},
	{"hip opening, least", "°", func(n *BodyNumbers) *float64 { return n.HipLeast }},
	{"knee ahead of pedal, crank level", " mm", func(n *BodyNumbers) *float64 { return &n.KneeAhead }},
	{"ankle opening, least", "°", func(n *BodyNumbers) *float64 { return &n.AnkleLeast }},
	{"ankle opening, most", "°", func(n *BodyNumbers) *float64 { return &n.AnkleMost }},
	{"trunk against the level", "°", func(n *BodyNumbers) *float64 { return n.Trunk }},
	{"shoulder opening", "°", func(n *BodyNumbers) *float64 { return n.Shoulder }},
	{"elbow opening", "°", func(n *BodyNumbers) *float64 { return n.Elbow }},
	{"hands apart", " mm", func(n *BodyNumbers) *float64 { return n.HandsApart }},
	{"  so reach lost", " mm", func(n *BodyNumbers) *float64 { return n.ArmLost }},
	{"apart in the drops, with flare", " mm", func(n *BodyNumbers) *float64 { return n.DropsApart }},
	{"  so reach lost", " mm", func(n *BodyNumbers) *float64 { return n.DropsLost }},
	{"Q-factor", " mm", func(n *BodyNumbers) *float64 { return n.QFactor }},
	{"  so longer from hip to ankle", " mm", func(n *BodyNumbers) *float64 { return n.LegLost }},
	{"  so knee flexion, pedal lowest", "°", func(n *BodyNumbers) *float64 { return n.KneeAcross }},
}

// BodyText writes a body for a person.
func BodyText(w io.Writer, b Body, bold bool) error {
	p := &page{bold: bold}
	p.para("Bike   ", titled(b.Bike, ""))
	if b.To != "" {
		p.para("To     ", titled(b.To, ""))
	}
	p.para("Rider  ", titled(b.Rider, ""))
	p.heading("Lengths, mm")
	for _, l := range b.Lengths {
		source := ""
		if l.Source != "" {
			source = ": " + l.Source
		}
		p.para(left(l.Name, 20)+right(num(l.Length, 0), 6)+"  ", l.Origin+source)
	}
	p.para("", fmt.Sprintf("foot: sole at %s° + %s°·cos(crank - %s°), toes up positive, crank counted from the top (assumed, common practice)",
		num(b.Foot.Mean, 1), num(b.Foot.Swing, 1), num(b.Foot.Peak, 0)))
	for _, posture := range b.Postures {
		p.bodyPosture(posture, b.Elbow)
	}
	p.line("")
	p.bodyLateral()
	for _, n := range b.Notes {
		p.para("", n)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

func (p *page) bodyLateral() {
	p.para("", "Across the bike: a limb whose ends lie w apart sideways shows sqrt(limb² - w²) in the side view. For the arms w is half of hands' less shoulders' width; "+
		"for the legs it is half the Q-factor and 55 mm to the middle of the foot, less half the hips' width. Arms count when shoulder_width is given.")
}

func (p *page) bodyPosture(b BodyPosture, elbow float64) {
	p.heading("Posture " + name(b.Posture, 40))
	for i, st := range b.Stages {
		for _, why := range st.Impossible {
			where := "on the bike"
			if i > 0 {
				where = "with " + st.Cause
			}
			p.para("! ", "impossible body "+where+": "+why)
		}
	}
	first, last := b.Stages[0], b.Stages[len(b.Stages)-1]
	if first.Numbers == nil {
		return
	}
	compare := len(b.Stages) > 1 && last.Numbers != nil
	head := left("", 34) + right("bike", 12)
	if compare {
		head += right("to", 12) + right("change", 12)
	}
	p.line(head)
	for _, row := range bodyRows {
		v := row.of(first.Numbers)
		if v == nil {
			continue
		}
		text := left(row.name, 34) + right(num(*v, 1)+row.unit, 12)
		if compare {
			if t := row.of(last.Numbers); t != nil {
				text += right(num(*t, 1)+row.unit, 12) + right(signed(*t-*v, 1)+row.unit, 12)
			}
		}
		p.line(text)
	}
	if first.Numbers.ElbowAssumed {
		p.para("", fmt.Sprintf("the elbow's %s° are assumed: over hoods and drops hip and hand leave it open", num(elbow, 0)))
	}
	p.bodySteps(b)
	p.bodyTurn(first, last, compare)
}

// bodySteps says what each difference makes.
func (p *page) bodySteps(b BodyPosture) {
	for i := 1; i < len(b.Stages); i++ {
		was, is := b.Stages[i-1].Numbers, b.Stages[i].Numbers
		if was == nil || is == nil {
			continue
		}
		text := fmt.Sprintf("knee %s° lowest, %s° highest", signed(is.KneeLowest-was.KneeLowest, 1), signed(is.KneeHighest-was.KneeHighest, 1))
		if was.HipLeast != nil && is.HipLeast != nil {
			text += fmt.Sprintf("; hip %s°; trunk %s°", signed(*is.HipLeast-*was.HipLeast, 1), signed(*is.Trunk-*was.Trunk, 1))
		}
		p.para("- ", b.Stages[i].Cause+": "+text)
	}
}

// bodyTurn lists the whole turn.
func (p *page) bodyTurn(first, last BodyStage, compare bool) {
	if len(first.Turn) == 0 {
		return
	}
	p.line("")
	head := right("crank", 6) + right("foot", 8) + right("ankle", 8) + right("knee", 8) + right("hip", 8)
	if compare {
		head += right("to: ankle", 14) + right("knee", 8) + right("hip", 8)
	}
	p.line(head)
	opening := func(v *float64) string {
		if v == nil {
			return ""
		}
		return num(*v, 1)
	}
	for i, l := range first.Turn {
		text := right(num(l.Crank, 0)+"°", 6) + right(num(l.Foot, 1), 8) + right(num(l.Ankle, 1), 8) + right(num(l.Knee, 1), 8) + right(opening(l.Hip), 8)
		if compare && i < len(last.Turn) {
			t := last.Turn[i]
			text += right(num(t.Ankle, 1), 14) + right(num(t.Knee, 1), 8) + right(opening(t.Hip), 8)
		}
		p.line(text)
	}
}

// BodyShort is the body of a carry in a few lines, one posture's stages from source to target.
func BodyShort(b BodyPosture) []string {
	first, last := b.Stages[0], b.Stages[len(b.Stages)-1]
	var lines []string
	for _, st := range []BodyStage{first, last} {
		for _, why := range st.Impossible {
			lines = append(lines, "impossible body: "+why)
		}
	}
	if first.Numbers == nil || last.Numbers == nil {
		return lines
	}
	for _, i := range []int{0, 2, 4, 8} { // knee lowest and highest, hip, trunk
		row := bodyRows[i]
		v, t := row.of(first.Numbers), row.of(last.Numbers)
		if v != nil && t != nil {
			lines = append(lines, fmt.Sprintf("%s%8s -> %8s  (%s%s)", left(row.name, 34), num(*v, 1)+row.unit, num(*t, 1)+row.unit, signed(*t-*v, 1), row.unit))
		}
	}
	return append(lines, "geometry, no medical claim; the whole turn: carryover body FROM TO --rider FILE")
}

// bodyShort is the section of a carry about the body.
func (p *page) bodyShort(b *BodyPosture) {
	if b == nil {
		return
	}
	p.heading("Body")
	for _, text := range BodyShort(*b) {
		if columns(text) <= Columns {
			p.line(text)
		} else {
			p.para("", text)
		}
	}
}
