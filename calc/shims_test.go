package calc

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const um = Micrometre

// tray returns sizes from low to high by step, in micrometres.
func tray(low, high, step Length) []Length {
	var t []Length
	for s := low; s <= high; s += step {
		t = append(t, s*um)
	}
	return t
}

// A published 4-cylinder diesel repair manual, "adjusting shim selection":
// N = T + (A − V), 17 sizes from 2.500 to 3.300 mm by 0.050 mm.
func TestPublishedShimRule(t *testing.T) {
	// A thicker shim takes up clearance: effect −1.
	a, err := PickShims(Question{Measured: 450 * um, Present: 2800 * um, Target: 250 * um, Low: 200 * um, High: 300 * um,
		Effect: -1, Places: 1, MostPerPlace: 1, Tray: tray(2500, 3300, 50)})
	require.NoError(t, err)
	assert.Equal(t, 3000*um, a.Wanted)
	assert.Equal(t, Pick{Stack: []Length{3000 * um}, Total: 3000 * um, Predicted: 250 * um, Margin: 50 * um, Inside: true}, a.Best)
	assert.False(t, a.Keep)
	assert.True(t, a.Reaches)
}

// A published motorcycle service manual, shim chart: present 2.95, clearance
// 0.47, fit 3.15, from sizes 2.50 to 3.50 by 0.05; so the chart aims at 0.27.
// Limits are left wide: the chart prints none.
func TestPublishedShimChart(t *testing.T) {
	a, err := PickShims(Question{Measured: 470 * um, Present: 2950 * um, Target: 270 * um, Low: 220 * um, High: 320 * um,
		Effect: -1, Places: 1, MostPerPlace: 1, Tray: tray(2500, 3500, 50)})
	require.NoError(t, err)
	assert.Equal(t, []Length{3150 * um}, a.Best.Stack)
}

// A published car shop manual, thrust clearance example: without a shim the
// clearance reads 1.93; standard 0.11 to 0.17, so 1.93 − 0.14 = 1.79, and the
// 1.80 mm shim is best. (The sizes beside 1.80 are not in the example.)
func TestPublishedThrustShim(t *testing.T) {
	a, err := PickShims(Question{Measured: 1930 * um, Target: 140 * um, Low: 110 * um, High: 170 * um,
		Effect: -1, Places: 1, MostPerPlace: 1, Tray: tray(1500, 2100, 50)})
	require.NoError(t, err)
	assert.Equal(t, 1790*um, a.Wanted)
	assert.Equal(t, []Length{1800 * um}, a.Best.Stack)
	assert.Equal(t, 130*um, a.Best.Predicted)
	assert.Equal(t, 20*um, a.Best.Margin)
}

func TestUnreachable(t *testing.T) {
	q := Question{Measured: 6000 * um, Present: 500 * um, Target: 6500 * um, Low: 6450 * um, High: 6550 * um,
		Effect: 1, Places: 2, MostPerPlace: 1, Tray: tray(500, 800, 100)}
	a, err := PickShims(q)
	require.NoError(t, err)
	assert.False(t, a.Reaches)
	assert.Equal(t, 800*um, a.Best.Total)
	assert.Equal(t, 6300*um, a.Best.Predicted)
	assert.Equal(t, 150*um, a.Miss)
	assert.Equal(t, 1000*um, a.Size)
	assert.Len(t, a.Others, 3)

	q.Stock = []int{1, 1, 1, 1} // two places need two of each
	a, err = PickShims(q)
	require.NoError(t, err)
	assert.Equal(t, Pick{}, a.Best)
	assert.False(t, a.Reaches)

	q.Out = []Length{500 * um, 500 * um} // what came out can go back
	a, err = PickShims(q)
	require.NoError(t, err)
	assert.Equal(t, []Length{500 * um}, a.Best.Stack)
	assert.Empty(t, a.Others)
}

// The timing pack: one prescribed shim in the piston, all the rest in the cap,
// which may be none. Common practice, no source.
func TestPrescribed(t *testing.T) {
	q := Question{Measured: 1500 * um, Present: 1500 * um, Target: 1000 * um, Low: 950 * um, High: 1050 * um,
		Effect: 1, Places: 1, MostPerPlace: 2, Tray: tray(100, 900, 100), Prescribed: 1000 * um}
	a, err := PickShims(q)
	require.NoError(t, err)
	assert.Empty(t, a.Best.Stack)
	assert.Equal(t, 1000*um, a.Best.Total)
	assert.Equal(t, q.Target, a.Best.Predicted)
	q.Target, q.Low, q.High = 1700*um, 1650*um, 1750*um
	a, err = PickShims(q)
	require.NoError(t, err)
	assert.Equal(t, []Length{700 * um}, a.Best.Stack)
	assert.Equal(t, 1700*um, a.Best.Total)
}

func TestUncertaintyKeepsOffTheLimits(t *testing.T) {
	q := Question{Measured: 6290 * um, Present: 500 * um, Target: 6200 * um, Low: 6100 * um, High: 6300 * um,
		Effect: 1, Places: 1, MostPerPlace: 1, Tray: tray(400, 600, 50)}
	a, err := PickShims(q)
	require.NoError(t, err)
	assert.True(t, a.Keep, "inside, uncertainty unknown")
	q.Uncertainty = 10 * um
	a, _ = PickShims(q)
	assert.True(t, a.Keep, "inside by exactly the uncertainty")
	q.Uncertainty++
	a, _ = PickShims(q)
	assert.False(t, a.Keep)
	assert.Equal(t, 400*um, a.Best.Total)
	assert.Equal(t, 90*um-10*um-1, a.Best.Margin)
}

func TestOrderOfPreference(t *testing.T) {
	q := Question{Measured: 0, Target: 1000 * um, Low: 900 * um, High: 1100 * um, Effect: 1, Places: 1, MostPerPlace: 3}
	best := func(q Question) []Length {
		a, err := PickShims(q)
		require.NoError(t, err)
		return a.Best.Stack
	}
	with := func(f func(*Question)) Question { c := q; f(&c); return c }

	assert.Equal(t, []Length{1010 * um}, best(with(func(q *Question) { q.Tray = []Length{1010 * um, 1000 * um}; q.High = 1120 * um })), "widest margin before nearest to target")
	assert.Equal(t, []Length{1000 * um}, best(with(func(q *Question) { q.Tray = []Length{1020 * um, 1000 * um}; q.High = 1120 * um })), "as wide a margin, nearer to target")
	assert.Equal(t, []Length{1000 * um}, best(with(func(q *Question) { q.Tray = []Length{500 * um, 1000 * um} })), "fewest shims")
	q.Tray = []Length{300 * um, 400 * um, 600 * um, 700 * um}
	assert.Equal(t, []Length{700 * um, 300 * um}, best(q), "thickest first shim")
	assert.Equal(t, []Length{600 * um, 400 * um}, best(with(func(q *Question) { q.Stock = []int{2, 3, 3, 9} })), "scarcest size least scarce")
	assert.Equal(t, []Length{700 * um, 300 * um}, best(with(func(q *Question) { q.Stock = []int{2, 3, 3, 9}; q.Out = []Length{300 * um} })), "already out")
}

func TestQuestionErrors(t *testing.T) {
	good := Question{Measured: 6300 * um, Present: 500 * um, Target: 6200 * um, Low: 6100 * um, High: 6300 * um,
		Effect: 1, Places: 1, MostPerPlace: 1, Tray: tray(400, 600, 50)}
	_, err := PickShims(good)
	require.NoError(t, err)
	for want, spoil := range map[string]func(*Question){
		"no sizes":                    func(q *Question) { q.Tray = nil },
		"a size of 0.0000 mm":         func(q *Question) { q.Tray = []Length{0} },
		"size of −0.0010 mm":          func(q *Question) { q.Tray = []Length{-um} },
		"0.5000 mm is in the tray tw": func(q *Question) { q.Tray = []Length{500 * um, 500 * um} },
		"effect NaN":                  func(q *Question) { q.Effect = math.NaN() },
		"effect +Inf":                 func(q *Question) { q.Effect = math.Inf(1) },
		"effect 0;":                   func(q *Question) { q.Effect = 0 },
		"effect 11":                   func(q *Question) { q.Effect = 11 },
		"so small":                    func(q *Question) { q.Effect = 1e-9 },
		"outside its limits":          func(q *Question) { q.Target = 6301 * um },
		"above the high limit":        func(q *Question) { q.Low = 6400 * um },
		"measured dimension is 1000":  func(q *Question) { q.Measured = 1000*Millimetre + 1 },
		"over a metre":                func(q *Question) { q.Target = math.MinInt64 },
		"a size is 2000":              func(q *Question) { q.Tray = []Length{2000 * Millimetre} },
		"9 in one place":              func(q *Question) { q.MostPerPlace = 9 },
		"at most 0 in one place":      func(q *Question) { q.MostPerPlace = 0 },
		"9 places":                    func(q *Question) { q.Places = 9 },
		"0 places":                    func(q *Question) { q.Places = 0 },
		"10001 sizes":                 func(q *Question) { q.Tray = tray(1, 10_001, 1) },
		"stock for 2":                 func(q *Question) { q.Stock = []int{1, 2} },
		"the stock of 0.4500 mm is":   func(q *Question) { q.Stock = []int{1, -2, 1, 1, 1} },
		"present shim is −0.001 mm":   func(q *Question) { q.Present = -um },
		"uncertainty is −0.0010":      func(q *Question) { q.Uncertainty = -um },
		"prescribed shim is −0.0010":  func(q *Question) { q.Prescribed = -um },
	} {
		q := good
		spoil(&q)
		_, err := PickShims(q)
		assert.ErrorContains(t, err, want)
	}
}

// Whatever is asked, the answer or a clear refusal is soon there. The bound is
// many times what a quiet machine needs.
func TestBadInputInBoundedTime(t *testing.T) {
	many := make([]Length, 10_000)
	for i := range many {
		many[i] = 300*um + Length(i*137)
	}
	with := func(f func(*Question)) Question {
		q := Question{Measured: 6300 * um, Present: 500 * um, Target: 6200 * um, Low: 6100 * um, High: 6300 * um,
			Effect: 1, Places: 2, MostPerPlace: 4, Tray: tray(400, 600, 50)}
		f(&q)
		return q
	}
	full := func(sizes []Length, n int) []int {
		stock := make([]int, len(sizes))
		for i := range stock {
			stock[i] = n
		}
		return stock
	}
	for name, c := range map[string]struct {
		Question
		want string // part of the error, none for an answer
	}{
		"empty tray":            {with(func(q *Question) { q.Tray = nil }), "the tray has no sizes"},
		"nothing in stock":      {with(func(q *Question) { q.Stock = full(q.Tray, 0) }), ""},
		"zero size":             {with(func(q *Question) { q.Tray = append(q.Tray, 0) }), "a size of 0.0000 mm is not above zero"},
		"negative size":         {with(func(q *Question) { q.Tray = append(q.Tray, -um) }), "a size of −0.0010 mm is not above zero"},
		"negative size out":     {with(func(q *Question) { q.Out = []Length{-um} }), "a size of −0.0010 mm is not above zero"},
		"duplicates":            {with(func(q *Question) { q.Tray = append(q.Tray, q.Tray...) }), "is in the tray twice"},
		"10,000 duplicates":     {with(func(q *Question) { q.Tray = slices.Repeat([]Length{um}, 10_000) }), "is in the tray twice"},
		"10,000 out":            {with(func(q *Question) { q.Out = slices.Repeat([]Length{500 * um}, 10_000) }), ""},
		"10,000 sizes out":      {with(func(q *Question) { q.Out = many; q.Places = 1; q.MostPerPlace = 1 }), ""},
		"10,000 sizes, one":     {with(func(q *Question) { q.Tray = many; q.MostPerPlace = 1 }), ""},
		"10,000 sizes, two":     {with(func(q *Question) { q.Tray = many; q.MostPerPlace = 2 }), ""},
		"10,000 sizes, far two": {with(func(q *Question) { q.Tray = many; q.MostPerPlace = 2; q.Present = 2500 * um }), ""},
		"10,000 sizes, four":    {with(func(q *Question) { q.Tray = many; q.Present = 4000 * um }), "too many stacks"},
		"10,000 sizes, eight":   {with(func(q *Question) { q.Tray = many; q.MostPerPlace = 8; q.Present = 9000 * um }), "too many stacks"},
		"48 sizes, eight":       {with(func(q *Question) { q.Tray = many[:48]; q.Places = 1; q.MostPerPlace = 8; q.Present = 2400 * um }), ""},
		"110 sizes, six":        {with(func(q *Question) { q.Tray = many[:110]; q.Places = 1; q.MostPerPlace = 6; q.Present = 1850 * um }), ""},
		"10,001 sizes":          {with(func(q *Question) { q.Tray = append(many, um) }), "10001 sizes"},
		"far below reach":       {with(func(q *Question) { q.Target, q.Low, q.High = 10*um, 0, 20*um }), ""},
		"far above reach":       {with(func(q *Question) { q.Target, q.Low, q.High = 900*Millimetre, 0, 999*Millimetre }), ""},
		"effect NaN":            {with(func(q *Question) { q.Effect = math.NaN() }), "effect NaN"},
		"effect Inf":            {with(func(q *Question) { q.Effect = math.Inf(-1) }), "effect -Inf"},
		"measured NaN":          {with(func(q *Question) { q.Measured = LengthOf(math.NaN(), MM) }), "the measured dimension"},
		"target Inf":            {with(func(q *Question) { q.Target = LengthOf(math.Inf(1), MM) }), "the target"},
		"size NaN":              {with(func(q *Question) { q.Tray = append(q.Tray, LengthOf(math.NaN(), IN)) }), "not above zero"},
		"size overflows":        {with(func(q *Question) { q.Tray = append(q.Tray, math.MaxInt64) }), "over a metre"},
		"sizes overflow":        {with(func(q *Question) { q.Tray = []Length{math.MaxInt64, math.MinInt64, 1} }), "not above zero"},
		"measured overflows":    {with(func(q *Question) { q.Measured = math.MaxInt64 }), "the measured dimension"},
		"low overflows":         {with(func(q *Question) { q.Low = math.MinInt64 }), "the low limit"},
		"high overflows":        {with(func(q *Question) { q.High = math.MaxInt64 }), "the high limit"},
		"uncertainty overflows": {with(func(q *Question) { q.Uncertainty = math.MaxInt64 }), "the uncertainty"},
		"stock overflows":       {with(func(q *Question) { q.Stock = full(q.Tray, math.MaxInt); q.Out = q.Tray }), ""},
		"places overflow":       {with(func(q *Question) { q.Places = math.MaxInt }), "places"},
		"most overflows":        {with(func(q *Question) { q.MostPerPlace = math.MaxInt }), "in one place"},
		"longest sizes": {with(func(q *Question) {
			q.Tray, q.MostPerPlace = []Length{1000 * Millimetre, 999 * Millimetre}, 8
			q.Measured, q.Target, q.Low, q.High, q.Effect = -1000*Millimetre, 1000*Millimetre, -1000*Millimetre, 1000*Millimetre, -10
		}), ""},
	} {
		start := time.Now()
		a, err := PickShims(c.Question)
		assert.Less(t, time.Since(start), 5*time.Second, name)
		if c.want == "" {
			assert.NoError(t, err, name)
			continue
		}
		assert.ErrorContains(t, err, "shims: ", name)
		assert.ErrorContains(t, err, c.want, name)
		assert.Equal(t, Answer{}, a, name)
	}
}

// Too many stacks to be sure of must be an error, not a guess.
func TestTooManyStacks(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	q := Question{Target: 820 * Millimetre, Low: 819 * Millimetre, High: 821 * Millimetre, Effect: 1, Places: 1, MostPerPlace: 8}
	for i := range 200 {
		q.Tray = append(q.Tray, 100*Millimetre+Length(i*25_000+r.IntN(25_000)))
	}
	_, err := PickShims(q)
	assert.ErrorContains(t, err, "too many stacks")
	q.Tray = tray(100_000, 105_000, 125) // few sums, each of them many times over
	_, err = PickShims(q)
	assert.ErrorContains(t, err, "too many stacks alike")
}

// exhaustive is the picker written the slow and plain way: every multiset,
// sorted by the documented order; decided tells which of its six rules put the
// first before the second.
func exhaustive(q Question) (picks []Pick, decided int) {
	type option struct {
		size       Length
		stock, out int
	}
	var options []option
	find := func(s Length) int { return slices.IndexFunc(options, func(o option) bool { return o.size == s }) }
	for i, s := range q.Tray {
		o := option{size: s, stock: math.MaxInt32}
		if q.Stock != nil {
			o.stock = q.Stock[i]
		}
		options = append(options, o)
	}
	for _, s := range q.Out {
		if find(s) < 0 {
			options = append(options, option{size: s})
		}
		options[find(s)].out++
	}
	slices.SortFunc(options, func(a, b option) int { return int(b.size - a.size) })

	type scored struct {
		Pick
		key [5]int
	}
	var all []scored
	use := make([]int, len(options))
	var walk func(i, left int)
	walk = func(i, left int) {
		if i == len(options) {
			if left == q.MostPerPlace && q.Prescribed == 0 {
				return
			}
			s := scored{Pick: Pick{Stack: []Length{}, Total: q.Prescribed}}
			scarce, out := math.MaxInt, 0
			for k, n := range use {
				for range n {
					s.Stack = append(s.Stack, options[k].size)
					s.Total += options[k].size
				}
				if n > 0 {
					scarce = min(scarce, options[k].stock)
					out += min(n*q.Places, options[k].out)
				}
			}
			s.Predicted = q.Measured + Length(math.Round(q.Effect*float64(s.Total-q.Present)))
			room := min(s.Predicted-q.Low, q.High-s.Predicted)
			s.Margin = room - q.Uncertainty
			s.Inside = room >= 0
			away := s.Predicted - q.Target
			s.key = [5]int{-int(room), int(max(away, -away)), len(s.Stack), -out, -scarce}
			all = append(all, s)
			return
		}
		for n := range left + 1 {
			if n*q.Places > options[i].stock+options[i].out {
				break
			}
			use[i] = n
			walk(i+1, left-n)
		}
		use[i] = 0
	}
	walk(0, q.MostPerPlace)
	slices.SortFunc(all, func(a, b scored) int {
		if c := slices.Compare(a.key[:], b.key[:]); c != 0 {
			return c
		}
		return -slices.Compare(a.Stack, b.Stack)
	})
	for _, s := range all {
		picks = append(picks, s.Pick)
	}
	if len(all) > 1 {
		for decided < len(all[0].key) && all[0].key[decided] == all[1].key[decided] {
			decided++
		}
		decided++
	}
	return picks, decided
}

// randomQuestion makes small trays with many equal sums, and some with none.
func randomQuestion(r *rand.Rand, sizes, most int) Question {
	grid := []Length{1, 7, 254, 10_000, 50_000}[r.IntN(5)]
	effects := []float64{1, -1, 1, -1, 1, -1, 2, -0.5, 0.1, -1.5, 0.333}
	q := Question{Effect: effects[r.IntN(len(effects))], Places: 1 + r.IntN(2), MostPerPlace: 1 + r.IntN(most)}
	taken := map[Length]bool{}
	for range 1 + r.IntN(sizes) {
		s := grid * Length(10+r.IntN(3*sizes))
		if !taken[s] {
			taken[s] = true
			q.Tray = append(q.Tray, s)
		}
	}
	if r.IntN(2) == 0 {
		for range q.Tray {
			q.Stock = append(q.Stock, r.IntN(5))
		}
	}
	if r.IntN(3) == 0 {
		for range r.IntN(4) {
			q.Out = append(q.Out, q.Tray[r.IntN(len(q.Tray))])
		}
		if r.IntN(4) == 0 {
			q.Out = append(q.Out, grid*Length(5+r.IntN(60)))
		}
	}
	if r.IntN(5) == 0 {
		q.Prescribed = grid * Length(1+r.IntN(30))
	}
	q.Present = q.Prescribed + grid*Length(r.IntN(40))
	q.Measured = grid * Length(100+r.IntN(200))
	q.Target = q.Measured + Length(q.Effect*float64(grid*Length(r.IntN(150)-40)))
	q.Low, q.High = q.Target-grid*Length(r.IntN(6)), q.Target+grid*Length(r.IntN(6))
	if r.IntN(2) == 0 {
		q.Low = 2*q.Target - q.High
	}
	if r.IntN(4) == 0 {
		q.Low -= Length(r.IntN(3))
	}
	q.Uncertainty = Length(r.IntN(3)) * grid
	return q
}

func TestExhaustively(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 20))
	var decided [7]int
	for n := range 25_000 {
		q := randomQuestion(r, 8, 4)
		if n%20 == 0 {
			q = randomQuestion(r, 5, 6)
		}
		a, err := PickShims(q)
		require.NoError(t, err)
		want, by := exhaustive(q)
		decided[by]++
		if len(want) == 0 {
			require.Equal(t, Pick{}, a.Best, "%+v", q)
			require.False(t, a.Reaches)
			continue
		}
		got := append([]Pick{a.Best}, a.Others...)
		require.Equal(t, want[:min(len(want), 5)], got, "%+v", q)
		require.Equal(t, want[0].Inside, a.Reaches)
		require.Equal(t, q.Measured-q.Uncertainty >= q.Low && q.Measured+q.Uncertainty <= q.High, a.Keep)
	}
	t.Log("best by margin, distance, number, out, stock, thickness:", decided[1:])
	for _, n := range decided {
		assert.Greater(t, n, 100, "a rule is hardly tried: %v", decided)
	}
}
