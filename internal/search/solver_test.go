package search

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

var record = flag.Bool("record", false, "solve all halves of testdata/solver.json with cbc again")

const recorded, solverSeed, solverCases = "testdata/solver.json", 20261127, 24

// wide is a random half with a shop of straight parts: hundreds of thousands of choices.
func wide(i int) *Side {
	r := rand.New(rand.NewPCG(solverSeed, uint64(i)))
	place := point(r, 150)
	m := plane.Metric{Line: plane.Direction(between(r, 0, 7)), Along: between(r, 1, 3), Across: 1}
	s := &Side{Wish: Wish{Place: place, Metric: m}}
	for range 30 {
		s.Bases = append(s.Bases, Base{At: point(r, 60)})
	}
	for range i % 3 {
		s.Slides = append(s.Slides, Travel{Slide: plane.Slide{Dir: plane.Direction(between(r, 0, 7)), Lo: -10, Hi: between(r, 0, 20)}})
	}
	for range 1 + i%2 {
		s.Racks = append(s.Racks, Rack{Dir: plane.Direction(between(r, 0, 7)), First: -30, Step: between(r, 2, 7), Count: 12})
	}
	for range 40 {
		a := Arm{At: point(r, 60), Square: between(r, 0, 100)}
		if r.IntN(2) == 0 {
			a.Own = Travel{Slide: plane.Slide{Dir: plane.Direction(between(r, 0, 7)), Hi: between(r, 0, 20)}}
		}
		s.Arms = append(s.Arms, a)
	}
	return s
}

// program is a half as a mixed-integer program in the LP format that general solvers read: one base, one arm with its own travel,
// steps that are whole numbers, travels within their stops. q stands for the squared miss in the plane that the metric makes flat;
// cuts are the misses at which a plane touches q.
func (s *Side) program(cuts []plane.Point) string {
	var place [2]strings.Builder // Σ what moves the contact, less the miss = the place wanted, in flat coordinates
	want := s.Wish.Metric.Flat(s.Wish.Place)
	move := func(by plane.Point, name string) {
		by = s.Wish.Metric.Flat(by)
		fmt.Fprintf(&place[0], " %+.12g %s\n", by.X, name)
		fmt.Fprintf(&place[1], " %+.12g %s\n", by.Y, name)
	}
	var cost, oneBase, oneArm, only, bounds, binary, general strings.Builder
	for i, b := range s.Bases {
		move(b.At, fmt.Sprintf("b%d", i))
		fmt.Fprintf(&oneBase, " + b%d\n", i)
		fmt.Fprintf(&binary, " b%d\n", i)
	}
	for i, a := range s.Arms {
		move(a.At, fmt.Sprintf("a%d", i))
		fmt.Fprintf(&oneArm, " + a%d\n", i)
		fmt.Fprintf(&binary, " a%d\n", i)
		fmt.Fprintf(&cost, " %+.12g a%d\n", a.Square, i)
		if a.Own.Hi > 0 {
			move(a.Own.Dir, fmt.Sprintf("o%d", i))
			fmt.Fprintf(&only, " o%d - %.12g a%[1]d <= 0\n", i, a.Own.Hi)
		}
	}
	for i, t := range s.Slides {
		move(t.Dir, fmt.Sprintf("t%d", i))
		fmt.Fprintf(&bounds, " %.12g <= t%d <= %.12g\n", t.Lo, i, t.Hi)
	}
	for i, k := range s.Racks {
		move(k.Dir.Scale(k.Step), fmt.Sprintf("s%d", i))
		want = want.Sub(s.Wish.Metric.Flat(k.Dir.Scale(k.First)))
		fmt.Fprintf(&bounds, " 0 <= s%d <= %d\n", i, k.Count-1)
		fmt.Fprintf(&general, " s%d\n", i)
	}
	for i, p := range cuts {
		fmt.Fprintf(&only, " cut%d: q %+.12g u %+.12g v >= %.12g\n", i, -2*p.X, -2*p.Y, -p.Dot(p))
	}
	return fmt.Sprintf("Minimize\n q\n%sSubject To\n base: %s = 1\n arm: %s = 1\n x: %s - u = %.12g\n y: %s - v = %.12g\n%s"+
		"Bounds\n u free\n v free\n%sBinaries\n%sGenerals\n%sEnd\n", &cost, &oneBase, &oneArm, &place[0], want.X, &place[1], want.Y,
		&only, &bounds, &binary, &general)
}

// solved is E² of a half by cbc: planes are added where its answer lies until q is worth what it says (outer approximation, Duran and
// Grossmann 1986, doi 10.1007/BF02592064).
func (s *Side) solved(t *testing.T) float64 {
	file, answer := filepath.Join(t.TempDir(), "half.lp"), filepath.Join(t.TempDir(), "answer")
	for cuts := []plane.Point{{}}; ; {
		require.NoError(t, os.WriteFile(file, []byte(s.program(cuts)), 0o600))
		out, err := exec.Command("cbc", file, "ratioGap", "0", "allowableGap", "0", "solve", "solution", answer).CombinedOutput()
		require.NoError(t, err, "%s", out)
		text, err := os.ReadFile(answer)
		require.NoError(t, err)
		require.True(t, strings.HasPrefix(string(text), "Optimal"), "%s", text)
		x := map[string]float64{}
		for _, line := range strings.Split(string(text), "\n")[1:] {
			if w := strings.Fields(strings.TrimPrefix(line, "**")); len(w) >= 3 {
				x[w[1]], err = strconv.ParseFloat(w[2], 64)
				require.NoError(t, err)
			}
		}
		miss := plane.Point{X: x["u"], Y: x["v"]}
		if x["q"] >= miss.Dot(miss)-1e-7*(10+miss.Dot(miss)) {
			total := x["q"]
			for i, a := range s.Arms {
				total += a.Square * math.Round(x[fmt.Sprintf("a%d", i)])
			}
			return total
		}
		cuts = append(cuts, miss)
		require.Less(t, len(cuts), 200)
	}
}

// A general solver finds the same least E over wide halves: its results are recorded, and the first is solved again where it is
// installed (Debian: coinor-cbc, 2.10.8 when recorded).
func TestAMixedIntegerSolverAgrees(t *testing.T) {
	if _, err := exec.LookPath("cbc"); err == nil {
		again, theirs := 1, make([]float64, solverCases)
		if *record {
			again = solverCases
		}
		for i := range again {
			theirs[i] = wide(i).solved(t)
			got, _, _ := wide(i).Best(context.Background())
			assert.InDelta(t, theirs[i], got.Square, 2e-5*(1+theirs[i]), "half %d", i)
		}
		if *record {
			text, err := json.MarshalIndent(theirs, "", " ")
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(recorded, append(text, '\n'), 0o644))
		}
	}
	var theirs []float64
	text, err := os.ReadFile(recorded)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &theirs))
	require.Len(t, theirs, solverCases)
	for i, e := range theirs {
		got, _, proven := wide(i).Best(context.Background())
		require.True(t, proven)
		assert.InDelta(t, e, got.Square, 2e-5*(1+e), "half %d", i)
	}
}
