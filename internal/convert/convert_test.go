package convert

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"

	"carryover/catalogs"
	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

func catalogSaddles(t testing.TB) []Saddle {
	t.Helper()
	parts, err := catalog.New(catalogs.Files).List(partfile.Saddle)
	require.NoError(t, err)
	var all []Saddle
	for _, p := range parts {
		all = append(all, Saddle{p.ID, p.Name, p.Saddle})
	}
	return all
}

func find(t testing.TB, id string) Saddle {
	t.Helper()
	p, err := catalog.New(catalogs.Files).Lookup(partfile.Saddle, id)
	require.NoError(t, err)
	return Saddle{p.ID, p.Name, p.Saddle}
}

// readings parses pairs of word and text.
func readings(t testing.TB, words ...string) []bike.Reading {
	t.Helper()
	var all []bike.Reading
	for i := 0; i < len(words); i += 2 {
		r, err := ParseReading(words[i], words[i+1])
		require.NoError(t, err)
		all = append(all, r)
	}
	return all
}

func reference(t testing.TB, list []Reference, name string) Reference {
	t.Helper()
	for _, r := range list {
		if r.Ref.String() == name {
			return r
		}
	}
	require.Fail(t, "no reference", name)
	return Reference{}
}

// A level saddle with a flat top makes the trade's numbers right-angled triangles.
func TestEveryReferenceFromHeightAndSetback(t *testing.T) {
	flat, err := saddle.New(280, [][2]float64{{0, 40}, {140, 80}, {280, 160}}, [][2]float64{{0, 0}, {280, 0}}, 5, saddle.Rail{})
	require.NoError(t, err)
	l, err := Locate(Request{Saddle: Saddle{ID: "flat", Shape: flat}, Support: 80, SitWidth: 160,
		Readings: readings(t, "plumb", "700@nose", "setback", "50", "tilt", "0")})
	require.NoError(t, err)
	for name, behind := range map[string]float64{"nose": 50, "mid": 190, "tail": 330, "widest": 330, "sit": 330, "width:80.0": 190} {
		r := reference(t, l.References, name)
		assert.InDelta(t, behind, r.Setback, 1e-6, name)
		assert.InDelta(t, 700, r.VerticalHeight, 1e-6, name)
		assert.InDelta(t, math.Hypot(behind, 700), r.SaddleHeight, 1e-6, name)
	}
	// A tilt known to 0.5° leaves the tail's height open by length · 0.5° beside the 2 mm of the plumb line.
	assert.InDelta(t, math.Hypot(2, 280*plane.Rad(0.5)), reference(t, l.References, "tail").SigmaVertical, 1e-6)
	assert.InDelta(t, 2, reference(t, l.References, "nose").SigmaSetback, 1e-9)
}

// For readings that fix a saddle exactly, the covariance of its pose is J⁻¹·S·J⁻ᵀ with J the derivatives of
// the readings; here J comes from gonum's finite differences of the tape rather than from the adjustment.
func TestUncertaintyAgainstFiniteDifferences(t *testing.T) {
	s := find(t, "waved-280")
	l, err := Locate(Request{Saddle: s, Readings: readings(t, "saddle-height", "742@mid~1", "setback", "55@nose~2", "saddle-height",
		"760@tail~1.5")})
	require.NoError(t, err)
	// The tilt is not read, so its assumption is a row of its own.
	rows := l.Adjustment.Observations
	measure := func(y, x []float64) {
		at := *l.Placement
		at.Poses[assembly.Saddle] = plane.Pose{Origin: plane.Point{X: x[0], Y: x[1]}, Turn: x[2]}
		for i, o := range rows {
			if o.Reading == nil {
				y[i] = x[o.Unknown]
				continue
			}
			y[i], _, _ = at.ReadingOf(*o.Reading)
		}
	}
	pose := l.Placement.Poses[assembly.Saddle]
	x := []float64{pose.Origin.X, pose.Origin.Y, pose.Turn}
	j := mat.NewDense(len(rows), 3, nil)
	fd.Jacobian(j, measure, x, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-4})
	w := mat.NewDiagDense(len(rows), nil)
	for i, o := range rows {
		w.SetDiag(i, 1/(o.Sigma*o.Sigma))
	}
	var wj, normal, cov mat.Dense
	wj.Mul(w, j)
	normal.Mul(j.T(), &wj)
	require.NoError(t, cov.Inverse(&normal))
	for i, got := range l.Adjustment.Search.Final.Cov {
		assert.InEpsilon(t, cov.At(i/3, i%3), got, 1e-4, "%d", i)
	}
	// And of a point: the tail's level place.
	r := reference(t, l.References, "tail")
	local := s.Shape.Point(280)
	g := mat.NewVecDense(3, nil)
	fd.Gradient(g.RawVector().Data, func(x []float64) float64 {
		return plane.Pose{Origin: plane.Point{X: x[0], Y: x[1]}, Turn: x[2]}.At(local).X
	}, x, &fd.Settings{Formula: fd.Central, Step: 1e-4})
	assert.InEpsilon(t, math.Sqrt(mat.Inner(g, &cov, g)), r.SigmaSetback, 1e-4)
}

// There and back: the readings taken on the second saddle, converted back to the first, are the first ones.
func TestThereAndBackForEveryPair(t *testing.T) {
	all := catalogSaddles(t)
	require.GreaterOrEqual(t, len(all), 20)
	seed := uint64(5)
	rng := rand.New(rand.NewPCG(seed, 1))
	pairs := 0
	for _, a := range all {
		for _, b := range all {
			pairs++
			support := 60 + 100*rng.Float64() // also wider than some saddles are
			tilt := 10*rng.Float64() - 5
			loaded := pairs%2 == 0
			q := Request{Saddle: a, Support: support, Readings: readings(t,
				"saddle-height", fmt.Sprint(700+80*rng.Float64(), "@mid"), "setback", fmt.Sprint(80*rng.Float64()), "tilt", fmt.Sprint(tilt))}
			there, err := Locate(q)
			require.NoError(t, err)
			s, err := there.Put(b, loaded)
			require.NoError(t, err)
			var nose, mid Reference
			for _, r := range s.References {
				switch r.Ref.String() {
				case "nose":
					nose = r.Reference
				case "mid":
					mid = r.Reference
				}
			}
			back, err := Locate(Request{Saddle: b, Support: support, Readings: readings(t,
				"saddle-height", fmt.Sprint(mid.SaddleHeight, "@mid"), "setback", fmt.Sprint(nose.Setback), "tilt", fmt.Sprint(tilt))})
			require.NoError(t, err)
			again, err := back.Put(a, loaded)
			require.NoError(t, err)
			for i, r := range there.References {
				got := again.References[i].Reference
				require.Equal(t, r.Ref, got.Ref)
				require.InDelta(t, 0, r.At().Distance(got.At()), 1e-6, "%s to %s and back, %s, seed %d", a.ID, b.ID, r.Ref, seed)
			}
		}
	}
	t.Logf("%d pairs", pairs)
}

// What a swap is for: the loaded contact stays where it was.
func TestSwapKeepsTheSupport(t *testing.T) {
	a, b := find(t, "classic-280"), find(t, "short-245")
	for _, loaded := range []bool{true, false} {
		l, err := Locate(Request{Saddle: a, Support: 122, Readings: readings(t, "saddle-height", "742", "setback", "55", "tilt", "-2")})
		require.NoError(t, err)
		alone, err := json.Marshal(l)
		require.NoError(t, err)
		s, err := l.Put(b, loaded)
		require.NoError(t, err)
		both, err := json.Marshal(l)
		require.NoError(t, err)
		for text, parts := range map[string][]string{string(alone): {a.ID}, string(both): {a.ID, b.ID}} {
			var v struct{ Versions []bike.Version }
			require.NoError(t, json.Unmarshal([]byte(text), &v))
			require.Len(t, v.Versions, len(parts))
			for i, id := range parts {
				assert.Equal(t, id, v.Versions[i].Part)
			}
		}
		contact := func(on *saddle.Shape, pose plane.Pose) plane.Point {
			at, _ := on.WidthStation(122)
			if loaded {
				return pose.At(on.Loaded(at))
			}
			return pose.At(on.Point(at))
		}
		was := contact(a.Shape, l.Placement.Poses[assembly.Saddle])
		now := contact(b.Shape, s.Placement.Poses[assembly.Saddle])
		assert.InDelta(t, 0, was.Distance(now), 1e-9)

		// Error says what keeping one reference does: move the second saddle so that it is kept and look.
		for _, r := range s.References {
			pose := s.Placement.Poses[assembly.Saddle]
			pose.Origin = pose.Origin.Add(r.From.At().Sub(r.At()))
			assert.InDelta(t, 0, contact(b.Shape, pose).Sub(was).Distance(plane.Point{X: r.ErrorForward, Y: r.ErrorUp}), 1e-9, r.From.Ref)
		}
		assert.Greater(t, s.Spread, 5.0, "a short saddle is not a classic one")
	}
}

func TestSwapOnTheSameSaddleLeavesNothingOpen(t *testing.T) {
	a := find(t, "flat-270")
	angle := plane.Rad(73)
	l, err := Locate(Request{Saddle: a, Support: 110, SeatAngle: &angle, Readings: readings(t, "seat-tube", "740", "setback", "60", "tilt",
		"1")})
	require.NoError(t, err)
	s, err := l.Put(a, true)
	require.NoError(t, err)
	assert.InDelta(t, 0, s.Spread, 1e-9)
	assert.InDelta(t, 740, l.SeatTube.Value, 1e-6)
	assert.InDelta(t, l.SeatTube.Value, s.SeatTube.Value, 1e-9)
	assert.InDelta(t, 3, l.SeatTube.Sigma, 1e-6, "of the only reading that fixes the height")
	assert.InDelta(t, l.SeatTube.Sigma, s.SeatTube.Sigma, 1e-9)
	assert.InDelta(t, 0, s.Post.Up, 1e-9)
	assert.InDelta(t, s.Post.From, s.Post.To, 1e-9)
	assert.Equal(t, a.Shape.Rail.From+(a.Shape.Rail.To-a.Shape.Rail.From)/2, s.Post.From, "no place was given")
	require.Len(t, l.Assumptions, 1)
	assert.Contains(t, l.Assumptions[0], "middle of its rails' stretch")
}

// Redundant readings check one another: three that agree make it surer, one that does not is set aside.
func TestRedundantReadings(t *testing.T) {
	s := find(t, "classic-280")
	few, err := Locate(Request{Saddle: s, Readings: readings(t, "saddle-height", "742", "setback", "55", "tilt", "-1")})
	require.NoError(t, err)
	r := few.References
	tail := reference(t, r, "tail")
	floor := 270.0
	more := readings(t, "saddle-height", "742", "setback", "55", "tilt", "-1",
		"line", fmt.Sprint(tail.SaddleHeight, "@tail"), "floor-height", fmt.Sprint(270+reference(t, r, "mid").VerticalHeight))
	many, err := Locate(Request{Saddle: s, BBHeight: &floor, Readings: more})
	require.NoError(t, err)
	assert.Less(t, reference(t, many.References, "mid").SigmaVertical, reference(t, r, "mid").SigmaVertical)
	assert.Empty(t, many.Adjustment.Suspects())

	more[0].Value += 30
	wrong, err := Locate(Request{Saddle: s, BBHeight: &floor, Readings: more})
	require.NoError(t, err)
	require.NotEmpty(t, wrong.Adjustment.Suspects())
	assert.Equal(t, 0, wrong.Adjustment.Suspects()[0])
}

func TestWhatIsMissingIsSaid(t *testing.T) {
	_, err := Locate(Request{Saddle: find(t, "classic-280"), Readings: readings(t, "setback", "55", "tilt", "0")})
	var missing *locate.MissingError
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "saddle.y", missing.Gaps[0].Name)
	assert.NotContains(t, err.Error(), "nose-to-bar")
	_, err = Locate(Request{Saddle: find(t, "classic-280"), Readings: readings(t, "seat-tube", "740", "setback", "50")})
	assert.ErrorContains(t, err, "seat angle")
	_, err = Locate(Request{Saddle: find(t, "classic-280"), Readings: readings(t, "floor-height", "990", "setback", "50")})
	assert.ErrorContains(t, err, "height of the BB")
	_, err = Locate(Request{Saddle: find(t, "classic-280"), Readings: readings(t, "saddle-height", "740@at:290", "setback", "50")})
	assert.ErrorContains(t, err, "behind the tail")
}

func TestParseReading(t *testing.T) {
	bb := bike.Place{Kind: bike.AtBB}
	on := func(k saddle.RefKind) bike.Place {
		return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}}
	}
	for _, c := range []struct {
		word, text string
		want       bike.Reading
	}{
		{"saddle-height", "742", bike.Reading{Kind: bike.Line, From: bb, To: on(saddle.Mid), Value: 742, Sigma: 2}},
		{"saddle-height", "742@tail~1.5", bike.Reading{Kind: bike.Line, From: bb, To: on(saddle.Tail), Value: 742, Sigma: 1.5}},
		{"setback", "-3", bike.Reading{Kind: bike.Level, From: on(saddle.Nose), To: bb, Value: -3, Sigma: 2}},
		{"vertical-height", "715.9@tail", bike.Reading{Kind: bike.Plumb, From: bb, To: on(saddle.Tail), Value: 715.9, Sigma: 2}},
		{"setback@tail", "29.2in", bike.Reading{Kind: bike.Level, From: on(saddle.Tail), To: bb, Value: 741.68, Sigma: 2}},
		{"setback@tail", "55 mm@nose~1", bike.Reading{Kind: bike.Level, From: on(saddle.Nose), To: bb, Value: 55, Sigma: 1}},
		{"tilt", "-1", bike.Reading{Kind: bike.Angle, Value: plane.Rad(-1), Sigma: plane.Rad(0.5)}},
		{"floor-height", "1010@nose", bike.Reading{Kind: bike.Plumb, From: bike.Place{Kind: bike.AtFloor}, To: on(saddle.Nose), Value: 1010,
			Sigma: 3}},
		{"plumb", "12@nose,tail", bike.Reading{Kind: bike.Plumb, From: on(saddle.Nose), To: on(saddle.Tail), Value: 12, Sigma: 2}},
		{"seat-tube", "735~2", bike.Reading{Kind: bike.SeatTube, Value: 735, Sigma: 2}},
	} {
		got, err := ParseReading(c.word, c.text)
		require.NoError(t, err, "%s %s", c.word, c.text)
		got.Written, got.Source = "", ""
		assert.Equal(t, c.want, got, "%s %s", c.word, c.text)
	}
	for _, c := range [][3]string{
		{"saddle-height", "74.2", "reads like centimetres: write 742"},
		{"saddle-height", "742@noise", "no place on a saddle"},
		{"saddle-height", "742@bb", "one place of the saddle"},
		{"saddle-height", "1,010", "a comma leaves it open"},
		{"vertical-height", "90", "from 100 to 1300 mm"},
		{"vertical-height", "742@nose,tail", "one place"},
		{"tilt", "3 mm", "not a number"},
		{"line", "-3@nose", "above 0"},
		{"floor-height", "98", "write 980"},
		{"saddle-height", "", "not a number"},
		{"saddle-height", "NaN", "not a number"},
		{"saddle-height", "742~0", "from 0.001"},
		{"tilt", "3@nose", "no place"},
		{"tilt", "90", "from -60 to 60"},
		{"line", "742@nose,nose", "to itself"},
		{"line", "742@a,b,c", "no place on a saddle"},
		{"line", "742@floor,nose", "use plumb"},
		{"width", "7", "no such reading"},
	} {
		_, err := ParseReading(c[0], c[1])
		assert.ErrorContains(t, err, c[2], "%s %s", c[0], c[1])
	}
	for _, c := range [][2]string{{"saddle-height", "1400"}, {"saddle-height", "7"}, {"tilt", "-90"}} {
		_, err := ParseReading(c[0], c[1])
		require.Error(t, err)
		assert.NotContains(t, err.Error(), "reads like", "%s %s", c[0], c[1])
	}
}

func TestTableIsAntisymmetric(t *testing.T) {
	all := catalogSaddles(t)
	rows := NewTable(all, all, 110, plane.Angle(plane.Rad(-3)), true).Rows
	for i := range all {
		assert.Zero(t, rows[i].Cells[i].Nose)
		for j := range all {
			assert.InDelta(t, -rows[j].Cells[i].Nose, rows[i].Cells[j].Nose, 1e-9)
			assert.InDelta(t, -rows[j].Cells[i].Top, rows[i].Cells[j].Top, 1e-9)
		}
	}
}

// A cell of the table is the swap that Put makes: the nose moves as its setback says, the straightedge across itself.
func TestTableAgainstPut(t *testing.T) {
	a, b, slim := find(t, "classic-280"), find(t, "short-245"), 190.0
	for _, width := range []float64{122, slim} {
		l, err := Locate(Request{Saddle: a, Support: width, Readings: readings(t, "saddle-height", "742", "setback", "55", "tilt", "-3")})
		require.NoError(t, err)
		s, err := l.Put(b, true)
		require.NoError(t, err)
		c := NewTable([]Saddle{a}, []Saddle{b}, width, l.Tilt, true).Rows[0].Cells[0]
		assert.InDelta(t, reference(t, l.References, "nose").Setback-s.References[0].Setback, c.Nose, 1e-9)
		assert.InDelta(t, s.Up, c.Top, 1e-9)
		assert.Equal(t, width == slim, c.Narrow)
	}
}

// The other saddle at another tilt: the support stays, and the clamp's centre, moved along the seat tube, lies on the rails of
// the other saddle at the station that is named.
func TestAnotherTiltAndThePost(t *testing.T) {
	a, b := find(t, "classic-280"), find(t, "short-245")
	angle, tilt, clamp := plane.Rad(73.5), plane.Rad(3), 150.0
	l, err := Locate(Request{Saddle: a, Support: 122, SeatAngle: &angle, ToTilt: &tilt, ClampAt: &clamp,
		Readings: readings(t, "saddle-height", "742", "setback", "55", "tilt", "-2")})
	require.NoError(t, err)
	s, err := l.Put(b, true)
	require.NoError(t, err)
	was, now := l.Placement.Poses[assembly.Saddle], s.Placement.Poses[assembly.Saddle]
	assert.Equal(t, tilt, now.Turn)
	from, _ := a.Shape.WidthStation(122)
	to, _ := b.Shape.WidthStation(122)
	assert.InDelta(t, 0, was.At(a.Shape.Loaded(from)).Distance(now.At(b.Shape.Loaded(to))), 1e-9)
	moved := was.At(a.Shape.RailPoint(150)).Add(plane.Direction(math.Pi - angle).Scale(s.Post.Up))
	assert.InDelta(t, 0, moved.Distance(now.At(b.Shape.RailPoint(s.Post.To))), 1e-9)
	assert.Empty(t, l.Assumptions, "the clamp's place was given")
}

// On a level saddle with an upright post the rails say it all: rails 5 mm nearer to the top want the post 5 mm
// further out.
func TestThePostOfLevelSaddles(t *testing.T) {
	flat := func(id string, rail float64) Saddle {
		s, err := saddle.New(280, [][2]float64{{0, 40}, {280, 160}}, [][2]float64{{0, 0}, {280, 0}}, 0, saddle.Rail{Height: rail, From: 100,
			To: 180})
		require.NoError(t, err)
		return Saddle{ID: id, Shape: s}
	}
	angle, clamp := plane.Rad(90), 110.0
	l, err := Locate(Request{Saddle: flat("deep", 50), Support: 100, SeatAngle: &angle, ClampAt: &clamp,
		Readings: readings(t, "vertical-height", "700", "setback", "50", "tilt", "0")})
	require.NoError(t, err)
	s, err := l.Put(flat("low", 45), false)
	require.NoError(t, err)
	assert.InDelta(t, 5, s.Post.Up, 1e-9)
	assert.InDelta(t, 110, s.Post.To, 1e-9)
	assert.Empty(t, l.Warnings)
	clamp = 90
	l, err = Locate(Request{Saddle: flat("deep", 50), Support: 100, SeatAngle: &angle, ClampAt: &clamp,
		Readings: readings(t, "vertical-height", "700", "setback", "50", "tilt", "0")})
	require.NoError(t, err)
	_, err = l.Put(flat("low", 45), false)
	require.NoError(t, err)
	require.Len(t, l.Warnings, 1)
	assert.Equal(t, "rail-stretch", l.Warnings[0].Code)
}

// What the readings leave open in a number of the other saddle, at its own tilt, against finite differences of the whole
// conversion over the readings: the root of the summed squares of derivative times sigma.
func TestUncertaintyAtAnotherTilt(t *testing.T) {
	a, b := find(t, "classic-280"), find(t, "short-245")
	angle := plane.Rad(73.5)
	base := []float64{742, 55, -2}
	for _, turned := range []bool{false, true} {
		put := func(v []float64) *Swap {
			q := Request{Saddle: a, Support: 122, SeatAngle: &angle, Readings: readings(t, "saddle-height", fmt.Sprint(v[0]), "setback",
				fmt.Sprint(v[1]), "tilt", fmt.Sprint(v[2]))}
			if tilt := plane.Rad(3); turned {
				q.ToTilt = &tilt
			}
			l, err := Locate(q)
			require.NoError(t, err)
			s, err := l.Put(b, true)
			require.NoError(t, err)
			return s
		}
		numbers := func(y, v []float64) {
			s := put(v)
			tail := s.References[2]
			require.Equal(t, saddle.Tail, tail.Ref.Kind)
			y[0], y[1], y[2], y[3] = tail.Setback, tail.VerticalHeight, tail.SaddleHeight, s.SeatTube.Value
		}
		j := mat.NewDense(4, 3, nil)
		fd.Jacobian(j, numbers, base, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-3})
		s := put(base)
		tail := s.References[2]
		for i, got := range []float64{tail.SigmaSetback, tail.SigmaVertical, tail.SigmaHeight, s.SeatTube.Sigma} {
			want := math.Hypot(math.Hypot(2*j.At(i, 0), 2*j.At(i, 1)), 0.5*j.At(i, 2))
			assert.InEpsilon(t, want, got, 1e-4, "number %d, turned %v", i, turned)
		}
	}
}

// The rows of a conversion are its references, those of the other saddle beside them where it has the place.
func TestRowsOfAConversion(t *testing.T) {
	angle := plane.Rad(73)
	l, err := Locate(Request{Saddle: find(t, "classic-280"), Support: 122, SeatAngle: &angle,
		Also:     []saddle.Reference{{Kind: saddle.ByStation, MM: 60}},
		Readings: readings(t, "saddle-height", "742", "setback", "55", "tilt", "0")})
	require.NoError(t, err)
	alone := l.CSV()
	require.Len(t, alone, len(l.References)+2, "a head, and the seat tube")
	assert.Len(t, alone[0], 7)
	s, err := l.Put(find(t, "short-245"), true)
	require.NoError(t, err)
	rows := l.CSV()
	number := func(row, column int) float64 {
		v, err := strconv.ParseFloat(rows[row][column], 64)
		require.NoError(t, err)
		return v
	}
	for i, r := range l.References {
		require.Len(t, rows[i+1], 12)
		assert.Equal(t, alone[i+1], rows[i+1][:7])
		assert.InDelta(t, r.VerticalHeight, number(i+1, 3), 5e-4)
		assert.InDelta(t, r.SaddleHeight, number(i+1, 5), 5e-4)
		if r.Ref.Kind == saddle.ByStation {
			assert.Empty(t, rows[i+1][7], "a station of one saddle is none of the other")
			continue
		}
		assert.InDelta(t, s.References[i].SaddleHeight, number(i+1, 9), 5e-4)
		assert.InDelta(t, s.References[i].ErrorUp, number(i+1, 11), 5e-4)
	}
	assert.InDelta(t, l.SeatTube.Value, number(len(rows)-1, 5), 5e-4)
	assert.InDelta(t, s.SeatTube.Value, number(len(rows)-1, 9), 5e-4)
	// The spread is the greatest distance between any two of the places.
	spread := 0.0
	for _, a := range s.References {
		for _, b := range s.References {
			spread = math.Max(spread, plane.Point{X: a.ErrorForward, Y: a.ErrorUp}.Distance(plane.Point{X: b.ErrorForward, Y: b.ErrorUp}))
		}
	}
	assert.InDelta(t, spread, s.Spread, 1e-12)
	text, err := json.Marshal(l)
	require.NoError(t, err)
	assert.Contains(t, string(text), `"index":3`, "readings are counted from 1")
	assert.NotContains(t, string(text), `"index":0`)
}

// Without sit bones the sit reference is where the support is, as in a bike file; a reading may go there.
func TestSitWithoutSitBones(t *testing.T) {
	q := Request{Saddle: find(t, "classic-280"), Support: 122, Also: []saddle.Reference{{Kind: saddle.Sit}},
		Readings: readings(t, "saddle-height", "742@sit", "setback", "55", "tilt", "0")}
	l, err := Locate(q)
	require.NoError(t, err)
	assert.InDelta(t, 742, reference(t, l.References, "sit").SaddleHeight, 1e-6)
	assert.Equal(t, reference(t, l.References, "width:122.0").Station, reference(t, l.References, "sit").Station)
	q.SitWidth = 110
	l, err = Locate(q)
	require.NoError(t, err)
	assert.Less(t, reference(t, l.References, "sit").Station, reference(t, l.References, "width:122.0").Station)
	q.SitWidth, q.Support = 0, 0
	_, err = Locate(q)
	assert.ErrorContains(t, err, "sit bones, or a support")
}

// --also: what a saddle has is there on both, what it has not is told.
func TestReferencesAskedFor(t *testing.T) {
	l, err := Locate(Request{Saddle: find(t, "classic-280"), Support: 122, Readings: readings(t, "saddle-height", "742", "setback", "55",
		"tilt", "0"),
		Also: []saddle.Reference{{Kind: saddle.ByWidth, MM: 80}, {Kind: saddle.Tail}, {Kind: saddle.ByWidth, MM: 290}}})
	require.NoError(t, err)
	assert.Len(t, l.References, 6, "nose, mid, tail, widest, support and width:80")
	at, _ := l.Shape.WidthStation(80)
	assert.Equal(t, at, reference(t, l.References, "width:80.0").Station)
	require.Len(t, l.Warnings, 1)
	assert.Contains(t, l.Warnings[0].Text, "nowhere 290 mm wide")
	s, err := l.Put(find(t, "short-245"), true)
	require.NoError(t, err)
	assert.Len(t, s.References, 6)
}

func FuzzParseReading(f *testing.F) {
	for _, s := range []string{"742@mid~1", "12@nose,tail", "@", "~", "1@width:", "1e999@at:1", "5@width:-1~2"} {
		for _, w := range Words {
			f.Add(w, s)
		}
	}
	s := find(f, "classic-280")
	f.Fuzz(func(t *testing.T, word, text string) {
		r, err := ParseReading(word, text)
		if err != nil {
			return
		}
		require.Greater(t, r.Sigma, 0.0)
		l, err := Locate(Request{Saddle: s, Readings: []bike.Reading{r}})
		if err == nil {
			require.NotEmpty(t, l.References)
		}
	})
}
