package lsq

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// JCGM 100:2008 (GUM), H.3: calibration line of a thermometer about 20 degrees.
func TestGUMH3CalibrationLine(t *testing.T) {
	at := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	p := Problem{Start: []float64{0, 0}, Sigmas: make([]float64, len(at)),
		Values: []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160},
		Model: func(x, f, jac []float64) {
			for i, temp := range at {
				f[i] = x[0] + x[1]*(temp-20)
				jac[2*i], jac[2*i+1] = 1, temp-20
			}
		}}
	for i := range p.Sigmas {
		p.Sigmas[i] = 1
	}
	s := solved(t, p)
	s0 := s.s0()
	assert.InDelta(t, -0.1712038, s.X[0], 6e-8)
	assert.InDelta(t, 0.0021827, s.X[1], 6e-8)
	assert.InDelta(t, 0.0028776, s0*s.Sigma(0), 6e-8)
	assert.InDelta(t, 0.00066794, s0*s.Sigma(1), 6e-9)
	assert.InDelta(t, -0.93043, s.Cov[1]/(s.Sigma(0)*s.Sigma(1)), 6e-6)
	assert.InDelta(t, 0.0034976, s0, 6e-8)
	assert.InDelta(t, 1.10096583e-4, s.Chi2, 6e-13)
	b30 := []float64{1, 10}
	assert.InDelta(t, -0.1493768, s.X[0]+10*s.X[1], 6e-8)
	assert.InDelta(t, 0.0041386, s0*s.Propagate(b30), 6e-8)
}

// JCGM 100:2008, H.2: resistance and reactance from simultaneous readings. The
// covariance of the means is that of the GUM, the rest is propagation.
func TestGUMH2Propagation(t *testing.T) {
	rows := [3][]float64{
		{5.007, 4.994, 5.005, 4.990, 4.999},                     // V
		{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}, // A
		{1.0456, 1.0438, 1.0468, 1.0428, 1.0433},                // rad
	}
	s := &Solution{X: make([]float64, 3), Cov: make([]float64, 9)}
	for a := range rows {
		for _, v := range rows[a] {
			s.X[a] += v / 5
		}
	}
	for a := range rows {
		for b := range rows {
			for k := range 5 {
				s.Cov[3*a+b] += (rows[a][k] - s.X[a]) * (rows[b][k] - s.X[b]) / 20
			}
		}
	}
	v, i, phi := s.X[0], s.X[1], s.X[2]
	z := v / i
	sin, cos := math.Sincos(phi)
	dR := []float64{cos / i, -z * cos / i, -z * sin}
	dX := []float64{sin / i, -z * sin / i, z * cos}
	dZ := []float64{1 / i, -z / i, 0}
	assert.InDelta(t, 127.732170, z*cos, 6e-7)
	assert.InDelta(t, 219.846512, z*sin, 6e-7)
	assert.InDelta(t, 0.07107, s.Propagate(dR), 6e-6)
	assert.InDelta(t, 0.29558, s.Propagate(dX), 6e-6)
	assert.InDelta(t, 0.23634, s.Propagate(dZ), 6e-6)
	correlation := func(a, b []float64) float64 {
		return s.Covariance(a, b) / (s.Propagate(a) * s.Propagate(b))
	}
	assert.InDelta(t, -0.588, correlation(dR, dX), 6e-4)
	assert.InDelta(t, -0.485, correlation(dR, dZ), 6e-4)
	assert.InDelta(t, 0.993, correlation(dX, dZ), 6e-4)
}

// Printed tables of the chi-square and normal distributions, from memory; the
// outlier constants are those of Baarda (1968), from memory too.
func TestQuantilesAgainstTables(t *testing.T) {
	for _, row := range []struct {
		p    float64
		dof  int
		want float64
	}{
		{0.95, 1, 3.841}, {0.95, 2, 5.991}, {0.95, 5, 11.070}, {0.95, 10, 18.307}, {0.95, 20, 31.410}, {0.95, 30, 43.773},
		{0.99, 1, 6.635}, {0.99, 5, 15.086}, {0.99, 10, 23.209}, {0.99, 30, 50.892},
		{0.05, 10, 3.940}, {0.05, 20, 10.851}, {0.999, 1, 10.828}, {0.999, 10, 29.588},
	} {
		s := Solution{Chi2: row.want, DOF: row.dof}
		assert.InDelta(t, 1-row.p, s.PValue(), 3e-5, "%g, %d", row.p, row.dof)
	}
	assert.InDelta(t, 1.9600, CriticalW(0.05), 6e-5)
	assert.InDelta(t, 2.5758, CriticalW(0.01), 6e-5)
	assert.InDelta(t, 3.2905, CriticalW(0.001), 6e-5)
	s := solved(t, ghilaniLevelling())
	for i, r := range s.Redundancy() {
		assert.InDelta(t, 4.1321*s.sigmas[i]/math.Sqrt(r), detectable(s, i, 0.001, 0.8), 1e-4*s.sigmas[i]/math.Sqrt(r))
	}
}
