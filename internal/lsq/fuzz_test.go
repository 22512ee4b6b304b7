package lsq

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// FuzzSolve builds a small model from bytes and asks that a Solution never
// holds NaN or infinity and keeps its own sums.
func FuzzSolve(f *testing.F) {
	f.Add(uint8(2), uint8(4), uint8(0), []byte("0123456789abcdef0123456789abcdef"))
	f.Add(uint8(3), uint8(2), uint8(1), []byte{0, 0, 0, 0, 0xf0, 0x3f, 1, 2, 0xf0, 0x7f})
	f.Add(uint8(1), uint8(9), uint8(2), []byte{})
	f.Add(uint8(5), uint8(9), uint8(3), []byte("\xff\xff\x00\x10zzzzzzzzzzzzzzzzzzzzzzz"))
	// More suspects than there were degrees of freedom, once.
	f.Add(byte('z'), byte('\x03'), byte('j'), []byte("0000000000000000000000"))
	f.Fuzz(func(t *testing.T, nn, mm, kind uint8, data []byte) {
		n, m := int(nn%6), int(mm%12)
		next := func() float64 {
			if len(data) < 2 {
				return 1
			}
			// The top bytes of a float64 reach every magnitude.
			bits := uint64(binary.BigEndian.Uint16(data)) << 48
			if kind&4 != 0 {
				bits = math.Float64bits(float64(int16(binary.BigEndian.Uint16(data))) / 256)
			}
			data = data[2:]
			return math.Float64frombits(bits)
		}
		take := func(k int) []float64 {
			v := make([]float64, k)
			for i := range v {
				v[i] = next()
			}
			return v
		}
		p := Problem{Start: take(n), Values: take(m), Sigmas: take(m), MaxIterations: 40}
		a := take(m * n)
		for i := range p.Sigmas {
			if kind&8 != 0 {
				p.Sigmas[i] = math.Abs(p.Sigmas[i]) + 0.01
			}
		}
		p.Model = func(x, f, jac []float64) {
			for i := range f {
				f[i] = 0
				for j, v := range x {
					c := a[i*n+j]
					switch kind % 4 {
					case 0:
						f[i] += c * v
						jac[i*n+j] = c
					case 1:
						f[i] += math.Sin(c * v)
						jac[i*n+j] = c * math.Cos(c*v)
					case 2:
						f[i] += math.Exp(c * v)
						jac[i*n+j] = c * math.Exp(c*v)
					default:
						f[i] += math.Sqrt(c * v)
						jac[i*n+j] = c / (2 * math.Sqrt(c*v))
					}
				}
			}
		}
		s, err := Robust(p, nil, 0.01, nil)
		if err != nil {
			return
		}
		for _, fit := range []*Solution{s.All, s.Final} {
			for _, v := range [][]float64{fit.X, fit.Fitted, fit.Residuals, fit.Cov, {fit.Chi2, fit.PValue()}, fit.Redundancy(), fit.Normalized()} {
				assert.True(t, finite(v), "%v", v)
			}
			for _, d := range fit.Free {
				assert.InDelta(t, 1, sumSquares(d), 1e-9)
			}
			assert.Equal(t, n, fit.Rank+len(fit.Free))
			assert.GreaterOrEqual(t, fit.DOF, 0)
			for i := range m {
				assert.True(t, fit.Propagate(fit.Row(i)) >= 0)
			}
		}
		assert.LessOrEqual(t, len(s.Suspects), max(0, s.All.DOF))
	})
}
