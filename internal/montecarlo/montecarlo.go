// Package montecarlo propagates distributions through a computation by drawing, as JCGM 101:2008
// (Supplement 1 to the GUM) describes: mean, standard uncertainty and coverage intervals of every
// output. The draws are kept, 8 bytes for each output of each, and depend on the seed only, not on how
// many cores share the work.
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
	"sync/atomic"

	"gonum.org/v1/gonum/floats"
)

// Draw makes one draw with the random numbers of r and writes the outputs into out, NaN for one that this draw does not
// have: it then counts for the others only. It is used by one goroutine at a time. An error wrapping ErrVoid drops the draw
// and counts it; any other ends the run.
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

// MaxDraws bounds a run: a million settle the second digit of a standard uncertainty (JCGM 101:2008, 7.2.1), and this many
// need 80 MB for each output.
const MaxDraws = 10_000_000

// block is the number of draws that share a stream of random numbers: the unit that workers take.
const block = 500

// Sample is every draw.
type Sample struct {
	N, Void int         // draws with an answer, and without
	columns [][]float64 // of each output the draws that have it, rising
}

// Run draws. Draw k always gets the same random numbers, whichever worker makes it. A cancelled context
// ends the run with its error.
func Run(ctx context.Context, p Plan) (*Sample, error) {
	if p.Draws < 2 || p.Draws > MaxDraws {
		return nil, fmt.Errorf("the number of draws is from 2 to %d, not %d", MaxDraws, p.Draws)
	}
	s := &Sample{columns: make([][]float64, p.Outputs)}
	for j := range s.columns {
		s.columns[j] = make([]float64, p.Draws)
	}
	voids, err := p.share(ctx, s.columns)
	if err != nil {
		return nil, err
	}
	s.Void, s.N = voids, p.Draws-voids
	if s.N < 2 {
		return nil, fmt.Errorf("%d of %d draws have no answer", s.Void, p.Draws)
	}
	for j, c := range s.columns {
		s.columns[j] = slices.DeleteFunc(c, math.IsNaN)
		slices.Sort(s.columns[j])
	}
	return s, nil
}

// share has workers draw every block into its own place of the columns; it returns how many draws have no answer.
func (p *Plan) share(ctx context.Context, columns [][]float64) (voids int, err error) {
	workers := p.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	blocks := (p.Draws + block - 1) / block
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var next atomic.Int64
	var running sync.WaitGroup
	var lock sync.Mutex
	done := 0
	for range min(workers, blocks) {
		running.Go(func() {
			d, out := p.Start(), make([]float64, p.Outputs)
			for k := int(next.Add(1)) - 1; k < blocks; k = int(next.Add(1)) - 1 {
				from, to := k*block, min((k+1)*block, p.Draws)
				v, err := fill(ctx, d, rand.New(rand.NewPCG(p.Seed, uint64(k))), columns, from, to, out)
				if err != nil {
					cancel(err)
					return
				}
				lock.Lock()
				voids, done = voids+v, done+to-from
				if p.Progress != nil {
					p.Progress(done)
				}
				lock.Unlock()
			}
		})
	}
	running.Wait()
	return voids, context.Cause(ctx)
}

// fill makes the draws from one to another. A draw can take long: the context is looked at before each.
func fill(ctx context.Context, d Draw, r *rand.Rand, columns [][]float64, from, to int, out []float64) (voids int, err error) {
	for i := from; i < to; i++ {
		if err := ctx.Err(); err != nil {
			return voids, err
		}
		switch err := d(r, out); {
		case errors.Is(err, ErrVoid):
			voids++
			for j := range out {
				out[j] = math.NaN()
			}
		case err != nil:
			return voids, err
		}
		for j, v := range out {
			columns[j][i] = v
		}
	}
	return voids, nil
}

// Mean returns the mean of output j.
func (s *Sample) Mean(j int) float64 { return floats.Sum(s.columns[j]) / float64(s.Count(j)) }

// Sigma returns the standard deviation of output j, 0 when fewer than two draws have it.
func (s *Sample) Sigma(j int) float64 {
	if s.Count(j) < 2 {
		return 0
	}
	mean, squares, rest := s.Mean(j), 0.0, 0.0 // in two passes, corrected (Chan, Golub and LeVeque 1983)
	for _, v := range s.columns[j] {
		squares, rest = squares+(v-mean)*(v-mean), rest+v-mean
	}
	n := float64(s.Count(j))
	return math.Sqrt((squares - rest*rest/n) / (n - 1))
}

// Count returns how many draws have output j.
func (s *Sample) Count(j int) int { return len(s.columns[j]) }

// quantile returns the value that a share p (0 to 1) of the draws of output j do not exceed; NaN when no draw has it.
func (s *Sample) quantile(j int, p float64) float64 {
	n, x := s.Count(j), s.columns[j]
	if n == 0 {
		return math.NaN()
	}
	i := min(max(int(math.Ceil(p*float64(n)))-1, 0), n-1)
	if i == 0 {
		return x[0]
	}
	t := float64(i+1) - p*float64(n)
	return t*x[i-1] + (1-t)*x[i]
}

// Interval returns the probabilistically symmetric interval that holds a share p of output j.
func (s *Sample) Interval(j int, p float64) (lo, hi float64) {
	return s.quantile(j, (1-p)/2), s.quantile(j, (1+p)/2)
}
