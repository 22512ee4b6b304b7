package written

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An inch is 25.4 mm exactly (international yard and pound agreement of 1959, common knowledge).
func TestLengths(t *testing.T) {
	for text, want := range map[string]float64{
		"742": 742, " 742 mm ": 742, "742mm": 742, "74.2 cm": 742, "74,2cm": 742, "29.2in": 741.68, "29.2 inches": 741.68, `29.2"`: 741.68,
		"29.2″": 741.68, "0.742 m": 742, "742,5": 742.5, "-3": -3, "−3,5 mm": -3.5, "1e3": 1000, "742\u00a0mm": 742, "0,742 m": 742,
		"29 1/4 in": 742.95, `29 1/4"`: 742.95, "1/2 in": 12.7, "-2 1/2": -2.5,
		"29.2 IN": 741.68, "-0,125 in": -3.175, "5 ft 10": 1778, `5'10"`: 1778, "5 ft": 1524, "5 feet 10 1/2 in": 1790.7,
	} {
		got, err := Length(text)
		require.NoError(t, err, "%q", text)
		assert.InDelta(t, want, got, 1e-9, "%q", text)
	}
	for text, says := range map[string]string{
		"": "not a number", "NaN": "not a number", "Inf": "not a number", "mm": "not a number", "742 km": "not a number", "3°": "not a number",
		"1,010.5": "not a number", "1,010": "write 1010 or 1.010", "74 2": "not a number", "7,4,2": "not a number",
		"1/0": "not a number", "5 ft 12": "feet and inches", "5 ft x": "not a number", "29 1/4 1/2": "not a number", "1/-2": "not a number",
	} {
		_, err := Length(text)
		assert.ErrorContains(t, err, says, "%q", text)
	}
}

func TestAngles(t *testing.T) {
	for text, want := range map[string]float64{"-1.5": -1.5, "-1,5°": -1.5, "2 deg": 2, "73.5 Degrees": 73.5} {
		got, err := Degrees(text)
		require.NoError(t, err, "%q", text)
		assert.InDelta(t, want, got, 1e-9, "%q", text)
	}
	_, err := Degrees("3 mm")
	assert.ErrorContains(t, err, "not a number")
}

func TestSeveral(t *testing.T) {
	for text, want := range map[string][]float64{
		"0 30": {0, 30}, "0; 30": {0, 30}, "[0, 30]": {0, 30}, "0 to 30": {0, 30}, "29 1/4 in; 30 in": {742.95, 762}, "165 170 172,5": {165,
			170, 172.5},
		"16,5 17,5": {16.5, 17.5}, "29 1/4": {29.25}, "100 mm, 180 mm": {100, 180}, "100mm 180mm": {100, 180}, "": nil,
	} {
		got, err := Several(text, Length)
		assert.NoError(t, err, text)
		assert.InDeltaSlice(t, want, got, 1e-9, text)
	}
	_, err := Several("0 3o", Length)
	assert.ErrorContains(t, err, `"3o" is not a number`)
	v, err := Quantity("3°")
	assert.NoError(t, err)
	assert.Equal(t, 3.0, v)
}

func FuzzLength(f *testing.F) {
	for _, s := range []string{"29.2in", `7"`, "1,5 cm", "−2", "1e999", "1,000 mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if v, err := Length(text); err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Fatalf("%q became %g", text, v)
		}
	})
}
