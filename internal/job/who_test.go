package job

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
)

const trial = `schema = 1
kind = "saddle"
id = "trial-260"
name = "A saddle of the shop"
length = 260.0
width = [[0.0, 40.0], [60.0, 55.0], [130.0, %.1f], [200.0, 146.0], [260.0, 70.0]]
top = [[0.0, -4.0], [50.0, 0.0], [130.0, %.1f], [210.0, 0.0], [260.0, -3.0]]
sag = %.1f
rail = { height = 46.0, from = 90.0, to = 160.0 }
`

// client is an invented client on the trial saddle as it really is, read without a mistake, and where they really sit and hold.
type client struct {
	toml       string
	sit, hands plane.Point
}

// invented makes one by plain geometry: the saddle's place, the bar's and the readings that follow.
func invented(rng *rand.Rand, real *partfile.Part) client {
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	s := real.Saddle
	nose, tilt, support := plane.Point{X: -in(20, 80), Y: in(640, 760)}, in(-3, 2), in(105, 140)
	hood, hoodAngle := plane.Point{X: in(480, 600), Y: in(560, 680)}, in(-2, 12)
	at := func(station, height float64) plane.Point { // N + R(t)·(-s, h), design.md section 3
		sin, cos := math.Sincos(plane.Rad(tilt))
		return plane.Point{X: nose.X - station*cos - height*sin, Y: nose.Y - station*sin + height*cos}
	}
	station := 0.0
	for _, step := range [2]float64{1, 0.001} { // to the most forward place that is as wide
		for s.Width(station+step) < support {
			station += step
		}
	}
	tip, mid := at(0, s.Top(0)), at(130, s.Top(130))
	return client{sit: at(station, s.Top(station)-s.Sag), hands: hood, toml: fmt.Sprintf(`schema = 1
name = "Client"
[feet]
crank = 170.0
sole_height = 24.0
[saddle]
part = "trial-260"
[bar]
part = "compact-420"
lever = "lever-mid"
lever_at = 4.0
[posture.road]
hands = "hood"
support = %.4f
[[reading]]
kind = "saddle-height"
value = %.4f
[[reading]]
kind = "setback"
value = %.4f
[[reading]]
kind = "saddle-tilt"
value = %.4f
[[reading]]
kind = "reach"
value = %.4f
[[reading]]
kind = "drop"
value = %.4f
[[reading]]
kind = "hood-angle"
value = %.4f
`, support, mid.Norm(), -tip.X, tilt, hood.X-tip.X, mid.Y-hood.Y, hoodAngle)}
}

// A saddle's shape is corrected after two hundred clients were recorded on it. Located with the shape as it really is each sits
// where they really sit; what is told to move is the difference to that, and who rides something else is not named.
func TestACorrectedShapeOverAFolderOfClients(t *testing.T) {
	clients := 200
	if testing.Short() {
		clients = 20
	}
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	write("parts/trial-260.toml", fmt.Sprintf(trial, 80.0, -5.0, 6.0))
	corrected := write("corrected.toml", fmt.Sprintf(trial, 86.0, -2.5, 8.0))
	real, problems := partfile.Load(corrected)
	require.Empty(t, problems)
	rng := rand.New(rand.NewPCG(13, 200))
	truth := map[string]client{}
	for i := range clients {
		c := invented(rng, real)
		truth[write(fmt.Sprintf("clients/%c/%03d.toml", 'a'+rune(i%5), i), c.toml)] = c
	}
	road, err := Example("road")
	require.NoError(t, err)
	write("clients/other.toml", string(road))
	write("clients/part.toml", fmt.Sprintf(trial, 80.0, -5.0, 6.0))
	write("clients/rider.toml", "schema = 1\nsit_bones = 110.0\n")
	bad := write("clients/bad.toml", "schema = \n")

	f := &Files{CatalogDir: filepath.Join(dir, "parts")}
	w, err := f.Who(context.Background(), "trial-260", corrected, Asked{To: "example:studio"}, []string{filepath.Join(dir, "clients")})
	require.NoError(t, err)
	assert.Equal(t, clients+1, w.Looked)
	require.Len(t, w.Clients, clients)
	require.Len(t, w.Broken, 1)
	assert.Equal(t, bad, w.Broken[0].File)
	assert.NotEqual(t, w.Was.Version, w.Is.Version)
	last := math.Inf(1)
	for _, c := range w.Clients {
		require.Empty(t, c.Problem)
		require.Len(t, c.Moves, 1)
		assert.LessOrEqual(t, c.Most(), last, "those that move most come first")
		last = c.Most()
		k, m := truth[c.File], c.Moves[0]
		was, err := f.Source(c.File, nil, locate.Options{})
		require.NoError(t, err)
		stands, err := was.Postures("")
		require.NoError(t, err)
		moved := k.sit.Sub(stands[0].Position.Sit.At)
		assert.Greater(t, moved.Norm(), 1.0, "a wrong shape matters")
		assert.InDelta(t, moved.X, m.Seat.X, 0.01)
		assert.InDelta(t, moved.Y, m.Seat.Y, 0.01)
		moved = k.hands.Sub(stands[0].Position.Hands.At)
		assert.InDelta(t, moved.X, m.Hands.X, 0.01)
		assert.InDelta(t, moved.Y, m.Hands.Y, 0.01)
		assert.NotEmpty(t, m.Setting)
	}
}

// Two hundred invented clients read from their files and carried, one after the other: an iteration is all of them.
func BenchmarkTwoHundredCarries(b *testing.B) {
	dir := b.TempDir()
	require.NoError(b, os.WriteFile(filepath.Join(dir, "trial-260.toml"), fmt.Appendf(nil, trial, 86.0, -2.5, 8.0), 0o600))
	real, problems := partfile.Load(filepath.Join(dir, "trial-260.toml"))
	require.Empty(b, problems)
	rng := rand.New(rand.NewPCG(13, 200))
	var files []string
	for i := range 200 {
		files = append(files, filepath.Join(b.TempDir(), fmt.Sprintf("%03d.toml", i)))
		require.NoError(b, os.WriteFile(files[i], []byte(invented(rng, real).toml), 0o600))
	}
	for b.Loop() {
		f := &Files{CatalogDir: dir}
		for _, file := range files {
			if _, err := f.Carry(context.Background(), Asked{From: file, To: "example:studio"}); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// A part is known by its id, by the path of its file, from wherever it is named; a stretched saddle is stretched as far in its
// other shape; a shape of the user's own is held against the built-in one of that id.
func TestWhoUsesAPart(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	bikeOn := func(part string) string {
		return "schema = 1\n[feet]\ncrank = 170.0\n[saddle]\n" + part + "\n[posture.road]\nhands = \"hood\"\nsupport = 122.0\n" +
			"[[reading]]\nkind = \"saddle-height\"\nvalue = 738.0\n"
	}
	plain, err := os.ReadFile("../../catalogs/saddles/short-250.toml")
	require.NoError(t, err)
	mine := write("mine.toml", string(plain)+"# a remark changes no version\n")
	write("byfile.toml", bikeOn(`part = "file:mine.toml"`))
	write("choice.toml", bikeOn(`parts = ["short-*"]`))
	write("byid.toml", bikeOn(`part = "short-250"`))
	write("long.toml", bikeOn("part = \"short-250\"\nstretch = { length = 260.0 }"))
	write("other.toml", bikeOn(`part = "classic-280"`))
	f, ctx := &Files{}, context.Background()
	w, err := f.Who(ctx, mine, "", Asked{}, []string{dir})
	require.NoError(t, err)
	var files []string
	for _, c := range w.Clients {
		files = append(files, filepath.Base(c.File))
		assert.Equal(t, filepath.Base(c.File) == "choice.toml", c.Choice)
		assert.NotEmpty(t, c.Problem, "nothing says where the saddle is")
	}
	assert.ElementsMatch(t, []string{"byfile.toml", "choice.toml", "byid.toml", "long.toml"}, files)
	assert.Equal(t, w.Was.Version, w.Is.Version)

	other, _, err := f.Part(partfile.Saddle, "classic-280")
	require.NoError(t, err)
	c, err := f.with(other, func(_, id string) bool { return id == "short-250" }).Bike(filepath.Join(dir, "long.toml"))
	require.NoError(t, err)
	_, wide := other.Saddle.Widest()
	_, now := c.Saddle.Only().Widest()
	assert.Equal(t, [2]float64{260, wide}, [2]float64{c.Saddle.Only().Length, now})
}
