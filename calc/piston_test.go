package calc

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// physics is how far in mm a piston moves, from the balance of forces alone, not
// from Piston: p·A less the spring's preload, over its rate, in N and mm, between
// rest and the stop.
func physics(kPa, rate, preload, area, most float64) float64 {
	return math.Min(math.Max((kPa/1000*area-rate*preload)/rate, 0), most)
}

// An invented piston: 10 N/mm, 8 mm of preload, 400 mm², stop at 5 mm. By hand,
// F0 = 80 N, so it starts at 80/400 N/mm² = 200 kPa, and 10/400 N/mm³ is 25 kPa
// for each mm; it meets the stop at 325 kPa.
func pistonReadings(t *testing.T, pressure ...float64) (travel []float64) {
	for _, p := range pressure {
		travel = append(travel, physics(p, 10, 8, 400, 5))
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

// The order of the readings is no matter, and a single gauge of any resolution
// gives the same slope to within what it cannot read.
func TestFitPistonRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for range 300 {
		rate, preload, area := 5+20*rng.Float64(), 2+10*rng.Float64(), 150+500*rng.Float64()
		most := 2 + 4*rng.Float64()
		start, err := StartPressure(rate, preload, area)
		require.NoError(t, err)
		perMM, err := StartPressure(rate, 1, area) // a millimetre more of preload
		require.NoError(t, err)
		var pressure, travel []float64
		add := func(p float64) {
			pressure, travel = append(pressure, p), append(travel, physics(p, rate, preload, area, most))
		}
		for range 1 + rng.IntN(3) {
			add(start * rng.Float64())
		}
		for k := range 3 + rng.IntN(5) { // apart from one another and off the ends
			add(start + perMM*most*(float64(k)+0.2+0.5*rng.Float64())/8)
		}
		add(start + perMM*most*1.1)
		add(start + perMM*most*1.3)
		rng.Shuffle(len(pressure), func(i, j int) {
			pressure[i], pressure[j] = pressure[j], pressure[i]
			travel[i], travel[j] = travel[j], travel[i]
		})
		for _, given := range []float64{0, perMM} {
			for _, stop := range []float64{0, most} {
				p, err := FitPiston(pressure, travel, given, stop, 1e-6)
				require.NoError(t, err)
				assert.InEpsilon(t, start, p.Start, 1e-9)
				assert.InEpsilon(t, perMM, p.PerMM, 1e-9)
				assert.InEpsilon(t, most, p.Stop, 1e-12)
				assert.Empty(t, p.Contrary)
				for i, at := range pressure {
					on := travel[i] > 0 && travel[i] < most
					assert.Equal(t, on, slices.Contains(p.Used, i))
					assert.InDelta(t, travel[i], p.Travel(at), 1e-9)
				}
			}
		}
	}
}

// Against the regression of gonum/stat, and textbook formulas for the rest.
func TestFitPistonAgainstRegression(t *testing.T) {
	pressure := []float64{220, 235, 251, 268, 283, 300}
	travel := []float64{0.83, 1.36, 2.07, 2.70, 3.36, 3.97} // invented
	p, err := FitPiston(pressure, travel, 0, 0, 0.01)
	require.NoError(t, err)
	a, b := stat.LinearRegression(pressure, travel, nil, false)
	assert.InEpsilon(t, 1/b, p.PerMM, 1e-12)
	assert.InEpsilon(t, -a/b, p.Start, 1e-12)
	assert.True(t, math.IsInf(p.Stop, 1))
	assert.Equal(t, []int{0, 1, 2, 3, 4, 5}, p.Used)
	assert.Equal(t, 4, p.Dof)
	var left float64
	for i := range travel {
		r := travel[i] - a - b*pressure[i]
		left += r * r
	}
	assert.InEpsilon(t, math.Sqrt(left/4), p.S, 1e-9)
	sxx := stat.Variance(pressure, nil) * 5
	assert.InEpsilon(t, p.S/math.Sqrt(sxx)/(b*b), p.UPerMM, 1e-9)

	// With the slope given: the mean of what each reading says of the start.
	p, err = FitPiston(pressure, travel, 25, 0, 0.01)
	require.NoError(t, err)
	var starts []float64
	for i := range travel {
		starts = append(starts, pressure[i]-25*travel[i])
	}
	mean, s := stat.MeanStdDev(starts, nil)
	assert.InEpsilon(t, mean, p.Start, 1e-12)
	assert.InEpsilon(t, s/math.Sqrt(6), p.UStart, 1e-12)
	assert.InEpsilon(t, s/25, p.S, 1e-12)
	assert.Equal(t, 25.0, p.PerMM)
	assert.True(t, math.IsNaN(p.UPerMM))
	assert.Equal(t, 5, p.Dof)
}

// The start is where the line meets zero, which chemists reckon as multiple
// standard additions: S/b·√(1/n + ȳ²/(b²Σ(x−x̄)²)), IUPAC terms of analytical
// chemistry (RSC, books.rsc.org/view-large/6382024, entry 1.150). A worked
// example, scribd.com/doc/228626738: line 0.2140 + 1.7100·x, residuals 1.7321e-3,
// zero at −0.1251 with a standard error of 1.6840e-3, which has the scatter of
// one more signal in it, S/b, and that the start has not.
func TestFitPistonStandardAdditions(t *testing.T) {
	p, err := FitPiston([]float64{0, 0.1, 0.2, 0.3}, []float64{0.214, 0.386, 0.554, 0.728}, 0, 0, 0.001)
	require.NoError(t, err)
	assert.InDelta(t, -0.1251, p.Start, 5e-5)
	assert.InDelta(t, 1.7100, 1/p.PerMM, 5e-5)
	assert.InDelta(t, 1.7321e-3, p.S, 5e-8)
	assert.InDelta(t, 1.6840e-3, math.Hypot(p.UStart, p.S*p.PerMM), 5e-8)
	// The formula by itself: ȳ 0.4705, Σ(x−x̄)² 0.05.
	assert.InDelta(t, 1.7321e-3/1.71*math.Sqrt(0.25+0.4705*0.4705/(1.71*1.71*0.05)), p.UStart, 1e-7)
}

// Travels read with a scatter of 0.05 mm: the start and the slope found lie
// about the true ones as far as their uncertainty says, 95 times in a hundred
// (2000 trials, give or take 2 %), and rounding to a gauge's 0.01 mm is nothing.
func TestFitPistonUncertainty(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	pressure := []float64{150, 215, 230, 245, 260, 275, 290, 305, 340, 380}
	exact := pistonReadings(t, pressure...)
	starts, slopes, given, trials := 0, 0, 0, 2000
	for range trials {
		var travel []float64
		for _, x := range exact {
			if x > 0 && x < 5 {
				x = math.Round((x+0.05*rng.NormFloat64())/0.01) * 0.01
			}
			travel = append(travel, x)
		}
		p, err := FitPiston(pressure, travel, 0, 5, 0.01)
		require.NoError(t, err)
		assert.Len(t, p.Used, 7)
		if math.Abs(p.Start-200) <= Expand(p.UStart, float64(p.Dof), 0.95) {
			starts++
		}
		if math.Abs(p.PerMM-25) <= Expand(p.UPerMM, float64(p.Dof), 0.95) {
			slopes++
		}
		p, err = FitPiston(pressure, travel, 25, 5, 0.01)
		require.NoError(t, err)
		if math.Abs(p.Start-200) <= Expand(p.UStart, float64(p.Dof), 0.95) {
			given++
		}
	}
	for _, held := range []int{starts, slopes, given} {
		assert.InDelta(t, 0.95, float64(held)/float64(trials), 0.02)
	}
}

func TestFitPistonStop(t *testing.T) {
	// One reading at a stop that only the sheet gives.
	pressure := []float64{225, 250, 275, 340}
	p, err := FitPiston(pressure, pistonReadings(t, pressure...), 0, 5, 0.01)
	require.NoError(t, err)
	assert.InDelta(t, 200, p.Start, 1e-9)
	assert.Equal(t, []int{0, 1, 2}, p.Used)
	assert.Equal(t, 5.0, p.Stop)

	// It stops short of the sheet's 5 mm: the readings go before the sheet.
	p, err = FitPiston([]float64{225, 250, 275, 300, 350}, []float64{1, 2, 3, 3.6, 3.61}, 0, 5, 0.01)
	require.NoError(t, err)
	assert.InDelta(t, 3.605, p.Stop, 1e-9)
	assert.Equal(t, []int{0, 1, 2}, p.Used)
	assert.Empty(t, p.Contrary)

	// Within the gauge's resolution of the sheet's stop it is the sheet's.
	p, err = FitPiston([]float64{225, 250, 275, 330, 350}, []float64{1, 2, 3, 4.99, 5.00}, 0, 5, 0.01)
	require.NoError(t, err)
	assert.Equal(t, 5.0, p.Stop)

	// Two equal readings at the top are no stop while the pressure stood still.
	p, err = FitPiston([]float64{225, 250, 275, 275.1}, []float64{1, 2, 3, 3}, 0, 0, 0.05)
	require.NoError(t, err)
	assert.True(t, math.IsInf(p.Stop, 1))
	assert.Equal(t, []int{0, 1, 2, 3}, p.Used)

	// One reading between rest and stop is enough when the sheet gives the slope,
	// and says nothing of the scatter.
	p, err = FitPiston([]float64{100, 250, 340, 360}, []float64{0, 2, 5, 5}, 25, 0, 0.01)
	require.NoError(t, err)
	assert.InDelta(t, 200, p.Start, 1e-9)
	assert.Equal(t, 5.0, p.Stop)
	assert.True(t, math.IsNaN(p.UStart) && math.IsNaN(p.S))
	assert.Zero(t, p.Dof)

	// Two are drawn through.
	p, err = FitPiston([]float64{225, 250}, []float64{1, 2}, 0, 0, 0.01)
	require.NoError(t, err)
	assert.InDelta(t, 25, p.PerMM, 1e-9)
	assert.True(t, math.IsNaN(p.UStart) && math.IsNaN(p.UPerMM) && math.IsNaN(p.S))
}

func TestFitPistonContrary(t *testing.T) {
	// Still at rest at 230 kPa, though the slope starts at 200: it stuck.
	pressure := []float64{150, 230, 250, 275, 300}
	for _, perMM := range []float64{0, 25} {
		p, err := FitPiston(pressure, []float64{0, 0, 2, 3, 4}, perMM, 5, 0.01)
		require.NoError(t, err)
		assert.InDelta(t, 200, p.Start, 1e-9)
		assert.Equal(t, []int{1}, p.Contrary)
		// Not yet moving at 200.1 is within what the gauge can read.
		p, err = FitPiston([]float64{150, 200.1, 250, 275, 300}, []float64{0, 0, 2, 3, 4}, perMM, 5, 0.01)
		require.NoError(t, err)
		assert.Empty(t, p.Contrary)
	}
	// Coming down from the stop it stays there: 5 mm at 280 kPa.
	p, err := FitPiston([]float64{225, 250, 275, 330, 360, 280}, []float64{1, 2, 3, 5, 5, 5}, 0, 5, 0.01)
	require.NoError(t, err)
	assert.Equal(t, []int{5}, p.Contrary)
	// Beyond the sheet's stop.
	p, err = FitPiston([]float64{225, 250, 275, 360}, []float64{1, 2, 3, 6}, 0, 5, 0.01)
	require.NoError(t, err)
	assert.Equal(t, []int{3}, p.Contrary)
}

func TestFitPistonErrors(t *testing.T) {
	for want, c := range map[string]struct {
		pressure, travel        []float64
		perMM, stop, resolution float64
	}{
		"2 pressures but 1 travels":         {[]float64{1, 2}, []float64{1}, 0, 0, 0.01},
		"no readings":                       {nil, nil, 25, 5, 0.01},
		"not a finite number":               {[]float64{1, 2}, []float64{1, math.NaN()}, 0, 0, 0.01},
		"-25 kPa per mm":                    {[]float64{1, 2}, []float64{1, 2}, -25, 0, 0.01},
		"stop NaN mm":                       {[]float64{1, 2}, []float64{1, 2}, 0, math.NaN(), 0.01},
		"reading 2 is a travel of −0.1":     {[]float64{225, 250}, []float64{1, -0.1}, 0, 0, 0.01},
		"never moved, up to 180 kPa":        {[]float64{180, 150}, []float64{0, 0.004}, 0, 0, 0.01},
		"one reading between":               {[]float64{100, 250}, []float64{0, 2}, 0, 0, 0.01},
		"no reading lies between":           {[]float64{100, 340}, []float64{0, 5}, 25, 5, 0.01},
		"travel stays 2 mm from 250 kPa to": {[]float64{250, 300, 340}, []float64{2, 2, 2}, 0, 0, 0.01},
		"is at 250 kPa":                     {[]float64{250, 250}, []float64{2, 2.2}, 0, 0, 0.01},
		"travel falls as pressure":          {[]float64{225, 250, 275}, []float64{3, 2, 1}, 0, 0, 0.01},
		"falls as pressure rises from":      {[]float64{225, 250, 275}, []float64{3, 2, 1}, 25, 0, 0.01},
	} {
		_, err := FitPiston(c.pressure, c.travel, c.perMM, c.stop, c.resolution)
		assert.ErrorContains(t, err, want)
	}
}

// Whatever is typed, there is an error or a piston one can reckon with.
func TestFitPistonAnyReadings(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	found := 0
	for range 20000 {
		n := rng.IntN(7)
		pressure, travel := make([]float64, n), make([]float64, n)
		for i := range n {
			pressure[i], travel[i] = float64(100*rng.IntN(5)), 0.5*float64(rng.IntN(5))
		}
		perMM, stop := float64(50*rng.IntN(3)), float64(rng.IntN(3))
		p, err := FitPiston(pressure, travel, perMM, stop, 0.1*float64(rng.IntN(3)))
		if err != nil {
			continue
		}
		found++
		require.True(t, finite(p.Start, p.PerMM) && p.PerMM > 0 && p.Stop > 0, "%v %v %+v", pressure, travel, p)
		require.Equal(t, p.Dof == 0, math.IsNaN(p.S))
		require.Equal(t, p.Dof == 0, math.IsNaN(p.UStart))
		require.NotEmpty(t, p.Used)
		require.LessOrEqual(t, len(p.Used)+len(p.Contrary), n)
		for _, i := range p.Used {
			require.True(t, travel[i] > 0 && travel[i] < p.Stop)
		}
	}
	assert.Greater(t, found, 2000)
}
