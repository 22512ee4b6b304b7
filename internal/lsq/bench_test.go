package lsq

import (
	"math/rand/v2"
	"testing"
)

func BenchmarkSolve30x9(b *testing.B) {
	p, ws := newTapeNetwork(4, true).measure(rand.New(rand.NewPCG(1, 1))), new(Workspace)
	b.ReportAllocs()
	for b.Loop() {
		s, err := Solve(p, ws)
		if err != nil {
			b.Fatal(err)
		}
		s.Redundancy()
		s.Normalized()
	}
}

// As in a Monte Carlo draw: started at the solution of the undisturbed values.
func BenchmarkFit30x9WarmStart(b *testing.B) {
	net := newTapeNetwork(4, true)
	p, ws := net.measure(rand.New(rand.NewPCG(1, 1))), new(Workspace)
	p.Start, p.Tolerance = net.truth, 1e-4
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Minimum(p, ws); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBlunders30x9(b *testing.B) {
	p, ws := newTapeNetwork(4, true).measure(rand.New(rand.NewPCG(1, 1))), new(Workspace)
	p.Values[3] += 40
	p.Values[11] -= 60
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Robust(p, nil, 0.001, ws); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSolve1000x20(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	sigmas := make([]float64, 1000)
	for i := range sigmas {
		sigmas[i] = 1
	}
	p, ws := linear(normals(r, 20000), normals(r, 1000), sigmas, 20), new(Workspace)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Solve(p, ws); err != nil {
			b.Fatal(err)
		}
	}
}
