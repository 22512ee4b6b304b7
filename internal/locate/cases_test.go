package locate_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/biketest"
	"carryover/internal/catalog"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// expected is what another implementation of the model makes of a pair of bikes: where the contacts are wanted, which
// travels bring them there.
type expected struct {
	E        float64
	Contacts map[string]struct{ Want [3]float64 }
	Settings map[string]struct {
		Travel, Move float64
		Angle        bool
		Mark         *json.RawMessage
	}
}

// Targets as they stand: the travels that another implementation found bring the contacts of what Stand hands out to where
// they are wanted, and each moves by what it says. (The files of testdata/standing are of the sample cases with answers.)
func TestStandingBikesOfTheSampleCases(t *testing.T) {
	dirs, err := filepath.Glob("testdata/standing/*")
	require.NoError(t, err)
	require.NotEmpty(t, dirs)
	lib := catalog.New(catalogs.Files)
	for _, dir := range dirs {
		t.Run(filepath.Base(dir), func(t *testing.T) {
			text, err := os.ReadFile(filepath.Join(dir, "expect.json"))
			require.NoError(t, err)
			var want expected
			require.NoError(t, json.Unmarshal(text, &want))
			require.InDelta(t, 0, want.E, 1e-6)
			load := func(name string) *bike.Bike {
				text, err := os.ReadFile(filepath.Join(dir, name))
				require.NoError(t, err)
				b, problems := bikefile.ReadBike(name, text, bikefile.Folder{Dir: dir}, lib)
				require.False(t, problems.HasErrors(), "%v", problems)
				return b
			}
			from, to, err := locate.ShareSag(load("from.toml"), load("to.toml"))
			require.NoError(t, err)
			var rider *bike.Rider
			if text, err := os.ReadFile(filepath.Join(dir, "rider.toml")); err == nil {
				rider, _ = bikefile.ReadRider("rider.toml", text)
			}
			p := from.Postures[0]
			if p.SitBones {
				p.Support = rider.SitWidth()
			}
			a, err := locate.Adjust(from, rider, locate.Options{})
			require.NoError(t, err)
			pos, err := a.Position(p)
			require.NoError(t, err)
			s, err := locate.Stand(to, rider, pos.Posture)
			require.NoError(t, err)
			b := s.Bike
			for name, set := range want.Settings {
				back := func(v float64) float64 { return v }
				if set.Angle {
					back = plane.Rad
				}
				switch name {
				case "saddle.tilt":
					b.Saddle.Tilt = bike.Fixed(back(set.Travel))
				case "bar.rotation":
					b.Bar.Rotation = bike.Fixed(back(set.Travel))
				}
				for i := range b.Adjusters {
					k := &b.Adjusters[i]
					if k.Name != name {
						continue
					}
					now, marked := b.Marks[name]
					assert.Equal(t, marked, !k.FromHere)
					assert.InDelta(t, back(set.Move), back(set.Travel)-k.Travel(now), 0.01, name)
					b.Marks[name] = back(set.Travel) / k.Unit
					if k.FromHere && k.Moves.Turns() { // its travel counts from the angle at which it stands
						b.Marks[name] += b.Saddle.Tilt.Mid() / k.Unit
					}
				}
			}
			sit, hands := biketest.Standing(b, pos.Posture)
			for name, got := range map[string]struct{ x, y, angle float64 }{
				"sit": {sit.At.X, sit.At.Y, sit.Angle}, string(p.Hands): {hands.At.X, hands.At.Y, hands.Angle},
			} {
				at := want.Contacts[name].Want
				assert.InDelta(t, 0, math.Hypot(got.x-at[0], got.y-at[1]), 0.02, "%s: %v, wanted at %v", name, got, at)
				assert.InDelta(t, at[2], plane.Deg(got.angle), 0.01, name)
			}
		})
	}
}
