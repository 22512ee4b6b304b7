package carry

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"sync"

	"carryover/internal/locate"
	"carryover/internal/montecarlo"
)

// DrawPlan says how many draws to make.
type DrawPlan struct {
	Draws    int
	Seed     uint64
	Progress func(done int)
	Workers  int // 0: one for each core
}

// Drawn is what the draws say of one number, in its own unit (mm or radians). Draws that come out with other
// parts may not have it, and do not count.
type Drawn struct {
	Name        string
	Turns       bool
	Mean, Sigma float64
	Lo, Hi      float64 // of the interval that holds 95 % of the draws
	In          float64 // share of the draws that have it, 0 to 1
}

// Choice is how often one discrete choice came out as something else.
type Choice struct {
	Name   string // of the slot or setting
	Chosen string
	Other  float64 // share of the draws with something else, 0 to 1
	Next   string  // what came out most often instead; "" when nothing did
	NextIn float64 // share of the draws
}

// Draws is the outcome of carrying many drawn positions.
type Draws struct {
	N, Void  int // with an answer, and without
	Seed     uint64
	Settings []Drawn
	Misses   []Drawn // of each contact, mm
	Error    Drawn   // E
	Carried  float64 // share of the draws in which every primary contact is carried
	Choices  []Choice
}

// interval is the share of the draws between Lo and Hi.
const interval = 0.95

// Draw carries positions drawn from the source's readings, each adjusted and solved anew with every
// discrete choice free.
func (s *Solution) Draw(ctx context.Context, source *locate.Adjustment, plan DrawPlan) (*Draws, error) {
	posture := s.Position.Posture
	if _, err := source.Sampler(posture); err != nil {
		return nil, err
	}
	count := newTally(s)
	settings, misses := len(s.Settings), len(s.Contacts)
	var lock sync.Mutex
	var tallies []*tally
	sample, err := montecarlo.Run(ctx, montecarlo.Plan{Draws: plan.Draws, Seed: plan.Seed, Progress: plan.Progress,
		Workers: plan.Workers, Outputs: settings + misses + 1,
		Start: func() montecarlo.Draw {
			from, _ := source.Sampler(posture) // the same call as above
			own := newTally(s)
			lock.Lock()
			tallies = append(tallies, own)
			lock.Unlock()
			again := s.solver()
			return func(r *rand.Rand, out []float64) error {
				pos, err := from.Draw(r)
				if errors.Is(err, locate.ErrNoFit) {
					return errors.Join(montecarlo.ErrVoid, err)
				}
				if err != nil {
					return err
				}
				k, err := again(ctx, &pos)
				if err != nil {
					return err
				}
				s.match(k, out)
				own.add(k)
				return nil
			}
		}})
	if err != nil {
		return nil, err
	}
	for _, t := range tallies {
		count.merge(t)
	}
	d := &Draws{N: sample.N, Void: sample.Void, Seed: plan.Seed}
	drawn := func(j int, name string, turns bool) Drawn {
		lo, hi := sample.Interval(j, interval)
		return Drawn{name, turns, sample.Mean(j), sample.Sigma(j), lo, hi, float64(sample.Count(j)) / float64(sample.N)}
	}
	for i, set := range s.Settings {
		if sample.Count(i) > 0 {
			d.Settings = append(d.Settings, drawn(i, set.Name, set.Turns()))
		}
	}
	for i, c := range s.Contacts {
		if sample.Count(settings+i) > 0 {
			d.Misses = append(d.Misses, drawn(settings+i, string(c.Want.Name), false))
		}
	}
	d.Error = drawn(settings+misses, "error", false)
	d.Carried = float64(count.carried) / float64(count.n)
	d.Choices = count.choices()
	return d, nil
}

// match writes settings, misses and E of a draw in the order that s has them, NaN for what the draw's parts
// do not have: a lever's place on a bar that has its hood measured, say.
func (s *Solution) match(k *Solution, out []float64) {
	for i := range out {
		out[i] = math.NaN()
	}
	for i, set := range s.Settings {
		if j := sameOrFind(k.Settings, i, func(o *Setting) bool { return o.Name == set.Name }); j >= 0 {
			out[i] = k.Settings[j].Travel
		}
	}
	for i, c := range s.Contacts {
		if j := sameOrFind(k.Contacts, i, func(o *Carried) bool { return o.Want.Name == c.Want.Name }); j >= 0 {
			out[len(s.Settings)+i] = k.Contacts[j].Miss
		}
	}
	out[len(out)-1] = k.E
}

// sameOrFind is the index of what is looked for, most likely i; -1 when it is not there.
func sameOrFind[T any](list []T, i int, is func(*T) bool) int {
	if i < len(list) && is(&list[i]) {
		return i
	}
	for j := range list {
		if is(&list[j]) {
			return j
		}
	}
	return -1
}

// solver solves for other positions in the same posture with every choice free. It builds the two halves
// of the target once; only what is wanted differs from draw to draw.
func (s *Solution) solver() func(context.Context, *locate.Position) (*Solution, error) {
	saddle, hands := s.saddleHalf.copied(), s.handHalf.copied()
	return func(ctx context.Context, pos *locate.Position) (*Solution, error) {
		want, err := Want(pos, s.Source.Feet, s.Target, s.Options)
		if err != nil {
			return nil, errors.Join(montecarlo.ErrVoid, err)
		}
		n := &Solution{Target: s.Target, Position: pos, Source: s.Source, Options: s.Options, asked: want, saddleHalf: saddle, handHalf: hands}
		if err := n.search(ctx); err != nil {
			return nil, err
		}
		n.settle()
		return n, nil
	}
}

// copied is a half that can be aimed elsewhere without disturbing this one.
func (h *half) copied() *half {
	k := *h
	k.Arms, k.ways = nil, nil
	return &k
}

// choice is one discrete decision as a number that can be counted.
type choice struct {
	name string
	of   func(*Solution) int
	word func(int) string
}

// discrete lists the discrete decisions of a solution.
func (s *Solution) discrete() []choice {
	b := s.Target
	var list []choice
	// part is the word for an option of a slot, which a posture or another part may leave unused.
	part := func(id func(int) string) func(int) string {
		return func(i int) string {
			if i < 0 {
				return "none"
			}
			return id(i)
		}
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	add := func(name string, of func(*Solution) int, word func(int) string) {
		list = append(list, choice{name, of, word})
	}
	if len(b.Feet.Cranks) > 1 {
		add("crank", func(k *Solution) int { return slices.Index(b.Feet.Cranks, k.Want.Crank) },
			func(i int) string { return number(b.Feet.Cranks[i]) })
	}
	if b.Saddle.Open {
		add("saddle", func(k *Solution) int { return k.saddle.arm.saddle }, part(func(i int) string { return b.Saddle.Options[i].ID }))
	}
	if b.Bar.Open {
		add("bar", func(k *Solution) int { return k.hands.arm.bar }, part(func(i int) string { return b.Bar.Options[i].ID }))
	}
	if b.Bar.Lever.Open {
		add("lever", func(k *Solution) int { return k.hands.arm.lever }, part(func(i int) string { return b.Bar.Lever.Options[i].ID }))
	}
	if b.Stem != nil && b.Stem.Open {
		add("stem", func(k *Solution) int {
			i := 2 * k.hands.base.stem
			if k.hands.base.flip {
				i++
			}
			return i
		}, func(i int) string {
			id := b.Stem.Options[i/2].ID
			if i%2 == 1 {
				id += " flipped"
			}
			return id
		})
	}
	if b.Clipon != nil && b.Clipon.Open {
		add("clipon", func(k *Solution) int { return k.hands.arm.clipon }, part(func(i int) string { return b.Clipon.Options[i].ID }))
	}
	for i, set := range s.Settings {
		if set.Step <= 0 {
			continue
		}
		of := func(k *Solution) int {
			if j := sameOrFind(k.Settings, i, func(o *Setting) bool { return o.Name == set.Name }); j >= 0 {
				return int(math.Round(k.Settings[j].Mark() * 1000))
			}
			return math.MinInt
		}
		add(set.Name, of, part(func(i int) string { return number(float64(i) / 1000) }))
	}
	return list
}

// tally counts discrete choices. It grows with the number of different choices only.
type tally struct {
	of         *Solution
	list       []choice
	counts     []map[int]int
	n, carried int
}

func newTally(s *Solution) *tally {
	t := &tally{of: s, list: s.discrete()}
	for range t.list {
		t.counts = append(t.counts, map[int]int{})
	}
	return t
}

func (t *tally) add(k *Solution) {
	t.n++
	if k.Carried() {
		t.carried++
	}
	for i, c := range t.list {
		t.counts[i][c.of(k)]++
	}
}

func (t *tally) merge(o *tally) {
	t.n += o.n
	t.carried += o.carried
	for i := range t.counts {
		for v, n := range o.counts[i] {
			t.counts[i][v] += n
		}
	}
}

func (t *tally) choices() []Choice {
	var out []Choice
	for i, c := range t.list {
		chosen := c.of(t.of)
		k := Choice{Name: c.name, Chosen: c.word(chosen), Other: 1 - float64(t.counts[i][chosen])/float64(t.n)}
		next, most := 0, 0
		for v, n := range t.counts[i] {
			if v != chosen && (n > most || n == most && v < next) {
				next, most = v, n
			}
		}
		if most > 0 {
			k.Next, k.NextIn = c.word(next), float64(most)/float64(t.n)
		}
		out = append(out, k)
	}
	return out
}
