package calc

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An invented piston: 10 N/mm, 8 mm of preload, 400 mm², stop at 5 mm. By hand,
// F0 = 80 N, so it starts at 80/400 N/mm² = 200 kPa, and 10/400 N/mm³ is 25 kPa
// for each mm; it meets the stop at 325 kPa.
func pistonReadings(t *testing.T, pressure ...float64) (travel []float64) {
	for _, p := range pressure {
		x, err := PistonTravel(p, 10, 8, 400, 5)
		require.NoError(t, err)
		travel = append(travel, x)
	}
	return travel
}

func TestFitPistonExact(t *testing.T) {
	pressure := []float64{100, 150, 210, 240, 260, 300, 330, 380}
	travel := pistonReadings(t, pressure...)
	for _, c := range []struct{ perMM, stop float64 }{{0, 0}, {25, 0}, {0, 5}, {25, 5}} {
		p, err := FitPiston(pressure, travel, c.perMM, c.stop, 0.01)
		require.NoError(t, err)
		assert.InDelta(t, 200, p.Start, 1e-9, "%+v", c)
		assert.InDelta(t, 25, p.PerMM, 1e-9)
		assert.InDelta(t, 5, p.Stop, 1e-12)
		assert.Equal(t, []int{2, 3, 4, 5}, p.Used)
		assert.Empty(t, p.Contrary)
		assert.InDelta(t, 0, p.S, 1e-12)
		assert.InDelta(t, 0, p.UStart, 1e-9)
		for _, at := range []float64{0, 199, 200, 201, 280, 324, 326, 500} {
			assert.InDelta(t, pistonReadings(t, at)[0], p.Travel(at), 1e-9)
		}
	}
}
