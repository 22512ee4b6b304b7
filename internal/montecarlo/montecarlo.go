// Package montecarlo propagates distributions through a computation by drawing, as JCGM 101:2008
// (Supplement 1 to the GUM) describes: mean, standard uncertainty and coverage intervals of every
// output. Memory does not grow with the number of draws, and the result depends on the
// seed only, not on how many cores share the work.
package montecarlo

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
)

// Draw makes one draw with the random numbers of r and writes the outputs into out, NaN for one that this
// draw does not have: it then counts for the others only. It is used by one goroutine at a time. An error wrapping ErrVoid drops the draw and counts it; any other ends the run.
type Draw func(r *rand.Rand, out []float64) error

// ErrVoid is what a Draw wraps when its random inputs have no answer.
var ErrVoid = errors.New("montecarlo: this draw has no answer")

// Plan says what to draw.
type Plan struct {
	Draws   int
	Seed    uint64
	Outputs int
	// Start returns a Draw with buffers of its own; it is called once for each worker.
	Start func() Draw
	// Progress, when not nil, is told from time to time how many draws are done; calls do not overlap.
	Progress func(done int)
	Workers  int // 0: one for each core
}

// MaxDraws bounds a run: beyond it the last digit shown does not change.
const MaxDraws = 100_000_000

// block is the number of draws that share a stream of random numbers: the unit that workers take.
const block = 500

// Run draws. Draw k always gets the same random numbers, whichever worker makes it. A cancelled context
// ends the run with its error.
func Run(ctx context.Context, p Plan) (*Sample, error) {
	if p.Draws < 2 || p.Draws > MaxDraws {
		return nil, fmt.Errorf("the number of draws is from 2 to %d, not %d", MaxDraws, p.Draws)
	}
	start := p.Start
	p.Start = func() Draw { // a draw can take long: a block of them must not outlive the context
		d := start()
		return func(r *rand.Rand, out []float64) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return d(r, out)
		}
	}
	first := p.Start()
	total, err := p.pilot(first)
	if err != nil {
		return nil, err
	}
	if err := p.share(ctx, first, total); err != nil {
		return nil, err
	}
	if total.N < 2 {
		return nil, fmt.Errorf("%d of %d draws have no answer", total.Void, p.Draws)
	}
	return total, nil
}

// pilot makes the first block, which shows where the outputs lie and so sets the classes of the histograms.
func (p *Plan) pilot(draw Draw) (*Sample, error) {
	count := min(block, p.Draws)
	rows := make([]float64, 0, count*p.Outputs)
	out, r, voids := make([]float64, p.Outputs), stream(p.Seed, 0), 0
	for range count {
		switch err := draw(r, out); {
		case errors.Is(err, ErrVoid):
			voids++
		case err != nil:
			return nil, err
		default:
			rows = append(rows, out...)
		}
	}
	s := newSample(p.Outputs, rows)
	s.Void = voids
	return s, nil
}

// part is one block drawn.
type part struct {
	index int
	s     *Sample
	err   error
}

// share has workers draw every block after the first and adds them to total in their order, so that
// rounding does not depend on the workers either. The first worker goes on with the pilot's Draw.
func (p *Plan) share(ctx context.Context, first Draw, total *Sample) error {
	blocks := (p.Draws + block - 1) / block
	workers := p.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, max(1, blocks-1))
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	next, parts, spare := make(chan int), make(chan part, workers), make(chan *Sample, 4*workers)
	for range 4 * workers {
		spare <- total.empty()
	}
	go func() {
		defer close(next)
		for k := 1; k < blocks; k++ {
			select {
			case next <- k:
			case <-ctx.Done():
				return
			}
		}
	}()
	var running sync.WaitGroup
	for w := range workers {
		running.Go(func() {
			d := first
			if w > 0 {
				d = p.Start()
			}
			p.work(ctx, d, next, spare, parts)
		})
	}
	go func() { running.Wait(); close(parts) }()

	waiting := map[int]*Sample{}
	var failed error
	done := 1
	for q := range parts {
		if q.err != nil {
			failed = q.err
			cancel()
			break
		}
		waiting[q.index] = q.s
		for s, ok := waiting[done]; ok; s, ok = waiting[done] {
			delete(waiting, done)
			total.merge(s)
			s.reset()
			spare <- s
			done++
			if p.Progress != nil {
				p.Progress(min(p.Draws, done*block))
			}
		}
	}
	running.Wait()
	if failed == nil && done < blocks {
		failed = ctx.Err()
	}
	return failed
}

// work draws blocks until none is left. It takes a spare sample before it takes a block: blocks are handed
// out in order, so whoever holds the block that is to be added up next also holds what it needs to draw it,
// however many later blocks wait with samples of theirs.
func (p *Plan) work(ctx context.Context, d Draw, next <-chan int, spare <-chan *Sample, parts chan<- part) {
	values := make([]float64, p.Outputs)
	for {
		var s *Sample
		select {
		case s = <-spare:
		case <-ctx.Done():
			return
		}
		k, ok := <-next
		if !ok {
			return
		}
		err := s.fill(d, stream(p.Seed, uint64(k)), min(block, p.Draws-k*block), values)
		select {
		case parts <- part{k, s, err}:
		case <-ctx.Done():
			return
		}
		if err != nil {
			return
		}
	}
}

// stream is the random numbers of one block.
func stream(seed, k uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, k)) }

// Sample is what is known of the outputs after some draws.
type Sample struct {
	N, Void int // draws with an answer, and without
	outputs []output
}

// classes of a histogram. They are equally wide in asinh of the distance from the centre in standard
// deviations: fine in the middle, and wide enough for any tail.
const (
	classes = 4096
	reach   = 14.0 // asinh(6e5)
)

type output struct {
	centre, scale float64 // of the histogram
	n             int
	mean, m2      float64 // Welford's running mean and sum of squares
	min, max      float64
	count         [classes]int32
}

// newSample starts a sample with pilot draws (n x outputs).
func newSample(outputs int, pilot []float64) *Sample {
	s := &Sample{outputs: make([]output, outputs)}
	if outputs > 0 {
		s.N = len(pilot) / outputs
	}
	column := make([]float64, 0, s.N)
	for j := range s.outputs {
		o := &s.outputs[j]
		o.clear()
		column = column[:0]
		for i := range s.N {
			if v := pilot[i*outputs+j]; !math.IsNaN(v) {
				column = append(column, v)
				o.moments(v)
			}
		}
		n := len(column)
		o.centre, o.scale = o.mean, math.Sqrt(o.m2/math.Max(1, float64(n-1)))
		if n > 0 { // median and quartiles: a heavy tail must not widen the classes
			slices.Sort(column)
			if wide := (column[3*n/4] - column[n/4]) / 1.349; wide > 0 {
				o.centre, o.scale = column[n/2], wide
			}
		}
		if tiny := 1e-12 * math.Max(1e-3, math.Abs(o.mean)); o.scale < tiny {
			o.scale = tiny // constant as far as the pilot tells
		}
		for _, v := range column {
			o.count[o.class(v)]++
		}
	}
	return s
}

// empty is a sample without draws that can be merged into s.
func (s *Sample) empty() *Sample {
	e := &Sample{outputs: make([]output, len(s.outputs))}
	for j := range e.outputs {
		e.outputs[j].centre, e.outputs[j].scale = s.outputs[j].centre, s.outputs[j].scale
	}
	e.reset()
	return e
}

func (s *Sample) reset() {
	s.N, s.Void = 0, 0
	for j := range s.outputs {
		s.outputs[j].clear()
	}
}

func (o *output) clear() {
	o.n, o.mean, o.m2, o.min, o.max = 0, 0, 0, math.Inf(1), math.Inf(-1)
	clear(o.count[:])
}

func (o *output) moments(v float64) {
	o.n++
	d := v - o.mean
	o.mean += d / float64(o.n)
	o.m2 += d * (v - o.mean)
	o.min, o.max = math.Min(o.min, v), math.Max(o.max, v)
}

func (o *output) class(v float64) int {
	u := math.Asinh((v-o.centre)/o.scale)/(2*reach) + 0.5
	return int(math.Min(math.Max(u*classes, 0), classes-1))
}

// edge is the lower edge of class k.
func (o *output) edge(k int) float64 {
	return o.centre + o.scale*math.Sinh((float64(k)/classes-0.5)*2*reach)
}

func (s *Sample) fill(draw Draw, r *rand.Rand, count int, values []float64) error {
	for range count {
		switch err := draw(r, values); {
		case errors.Is(err, ErrVoid):
			s.Void++
			continue
		case err != nil:
			return err
		}
		s.N++
		for j, v := range values {
			if math.IsNaN(v) {
				continue
			}
			o := &s.outputs[j]
			o.moments(v)
			o.count[o.class(v)]++
		}
	}
	return nil
}

// merge adds the draws of t: means and squares after Chan, Golub and LeVeque (1979).
func (s *Sample) merge(t *Sample) {
	s.N += t.N
	s.Void += t.Void
	for j := range s.outputs {
		a, b := &s.outputs[j], &t.outputs[j]
		if b.n == 0 {
			continue
		}
		n := float64(a.n + b.n)
		d := b.mean - a.mean
		a.m2 += b.m2 + d*d*float64(a.n)*float64(b.n)/n
		a.mean += d * float64(b.n) / n
		a.n += b.n
		a.min, a.max = math.Min(a.min, b.min), math.Max(a.max, b.max)
		for k, c := range b.count {
			a.count[k] += c
		}
	}
}

// Mean returns the mean of output j.
func (s *Sample) Mean(j int) float64 { return s.outputs[j].mean }

// Sigma returns the standard deviation of output j.
func (s *Sample) Sigma(j int) float64 {
	o := &s.outputs[j]
	return math.Sqrt(o.m2 / math.Max(1, float64(o.n-1)))
}

// Count returns how many draws have output j.
func (s *Sample) Count(j int) int { return s.outputs[j].n }

// Quantile returns the value that a share p (0 to 1) of the draws of output j do not exceed, to about a
// hundredth of a standard deviation; NaN when no draw has it.
func (s *Sample) Quantile(j int, p float64) float64 {
	o := &s.outputs[j]
	if o.n == 0 {
		return math.NaN()
	}
	want, below := p*float64(o.n), 0.0
	for k := range o.count {
		c := float64(o.count[k])
		if c > 0 && below+c >= want {
			lo, hi := math.Max(o.min, o.edge(k)), math.Min(o.max, o.edge(k+1))
			return lo + (hi-lo)*math.Max(0, want-below)/c
		}
		below += c
	}
	return o.max
}

// Interval returns the probabilistically symmetric interval that holds a share p of output j.
func (s *Sample) Interval(j int, p float64) (lo, hi float64) {
	return s.Quantile(j, (1-p)/2), s.Quantile(j, (1+p)/2)
}

// Shortest returns the shortest interval that holds a share p of output j, searched over 201 places.
func (s *Sample) Shortest(j int, p float64) (lo, hi float64) {
	lo, hi = s.Interval(j, p)
	const steps = 200
	for k := range steps + 1 {
		from := (1 - p) * float64(k) / steps
		if a, b := s.Quantile(j, from), s.Quantile(j, from+p); b-a < hi-lo {
			lo, hi = a, b
		}
	}
	return lo, hi
}
