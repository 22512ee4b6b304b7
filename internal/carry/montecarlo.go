package carry

import (
	"cmp"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"sync"

	"carryover/internal/locate"
	"carryover/internal/montecarlo"
	"carryover/internal/plane"
)

// DrawPlan says how many draws to make.
type DrawPlan struct {
	Draws    int
	Seed     uint64
	Progress func(done int)
	Workers  int // 0: one for each core
}

// Drawn is what the draws say of one number. Draws that come out with other parts may not have it, and do not count.
type Drawn struct {
	Name        string
	Mean, Sigma plane.Quantity
	Lo, Hi      plane.Quantity // of the interval that holds 95 % of the draws
	In          float64        // share of the draws that have it, 0 to 1
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
	settings, misses := len(s.Settings), len(s.Contacts)
	count := newTally(s)
	var lock sync.Mutex
	sample, err := montecarlo.Run(ctx, montecarlo.Plan{Draws: plan.Draws, Seed: plan.Seed, Progress: plan.Progress,
		Workers: plan.Workers, Outputs: settings + misses + 1,
		Start: func() montecarlo.Draw {
			from, _ := source.Sampler(posture) // the same call as above
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
				decided := k.decisions()
				lock.Lock()
				defer lock.Unlock()
				count.add(decided, k.Carried())
				return nil
			}
		}})
	if err != nil {
		return nil, err
	}
	n := float64(sample.N)
	d := &Draws{N: sample.N, Void: sample.Void, Seed: plan.Seed, Carried: float64(count.carried) / n, Choices: count.choices(s, n)}
	drawn := func(j int, name string, of func(float64) plane.Quantity) Drawn {
		lo, hi := sample.Interval(j, interval)
		return Drawn{name, of(sample.Mean(j)), of(sample.Sigma(j)), of(lo), of(hi), float64(sample.Count(j)) / n}
	}
	for i, set := range s.Settings {
		if sample.Count(i) > 0 {
			d.Settings = append(d.Settings, drawn(i, set.Name, plane.QuantityOf(set.Turns(), 0).Of))
		}
	}
	for i, c := range s.Contacts {
		if sample.Count(settings+i) > 0 {
			d.Misses = append(d.Misses, drawn(settings+i, string(c.Want.Name), plane.Length))
		}
	}
	d.Error = drawn(settings+misses, "error", plane.Length)
	return d, nil
}

// match writes settings, misses and E of a draw in the order that s has them, NaN for what the draw's parts
// do not have: a lever's place on a bar that has its hood measured, say.
func (s *Solution) match(k *Solution, out []float64) {
	for i := range out {
		out[i] = math.NaN()
	}
	for i := range s.Settings {
		for j := range k.Settings {
			if k.Settings[j].Name == s.Settings[i].Name {
				out[i] = k.Settings[j].Travel
			}
		}
	}
	for i := range s.Contacts {
		for j := range k.Contacts {
			if k.Contacts[j].Want.Name == s.Contacts[i].Want.Name {
				out[len(s.Settings)+i] = k.Contacts[j].Miss
			}
		}
	}
	out[len(out)-1] = k.E
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
		n.search(ctx)
		n.settle()
		n.reset()
		return n, nil
	}
}

// copied is a half that can be aimed elsewhere without disturbing this one.
func (h *half) copied() *half {
	k := *h
	k.Arms, k.ways = nil, nil
	return &k
}

// none is the word for what other parts leave undecided.
const none = "none"

// decisions are the discrete decisions of a solution in words, by the name of the slot or setting.
func (s *Solution) decisions() map[string]string {
	number := func(v float64) string { return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64) }
	words := map[string]string{"crank": number(s.Want.Crank)}
	for _, p := range s.parts() {
		words[p.Slot] = p.ID
		if p.Flip {
			words[p.Slot] += " flipped"
		}
	}
	for _, set := range s.Settings {
		if set.Stepped() {
			words[set.Name] = number(set.Mark())
		}
	}
	return words
}

// tally counts discrete decisions.
type tally struct {
	carried int
	names   []string
	counts  []map[string]int // of each name, by the word
}

// newTally counts what there is to decide on the target of a solution.
func newTally(s *Solution) *tally {
	t := &tally{}
	if len(s.Target.Feet.Cranks) > 1 {
		t.names = append(t.names, "crank")
	}
	for _, at := range s.Target.Stocks() {
		if at.Open {
			t.names = append(t.names, at.Slot)
		}
	}
	for _, set := range s.Settings {
		if set.Stepped() {
			t.names = append(t.names, set.Name)
		}
	}
	for range t.names {
		t.counts = append(t.counts, map[string]int{})
	}
	return t
}

func (t *tally) add(decided map[string]string, carried bool) {
	if carried {
		t.carried++
	}
	for i, name := range t.names {
		t.counts[i][cmp.Or(decided[name], none)]++
	}
}

// choices compares n draws with what was chosen.
func (t *tally) choices(s *Solution, n float64) (list []Choice) {
	chosen := s.decisions()
	for i, name := range t.names {
		k := Choice{Name: name, Chosen: cmp.Or(chosen[name], none)}
		most := 0
		for word, count := range t.counts[i] {
			if word != k.Chosen && (count > most || count == most && word < k.Next) {
				k.Next, most = word, count
			}
		}
		k.Other, k.NextIn = 1-float64(t.counts[i][k.Chosen])/n, float64(most)/n
		list = append(list, k)
	}
	return list
}
