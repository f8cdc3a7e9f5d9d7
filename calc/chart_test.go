package calc

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// clearance is the question of a published 4-cylinder diesel repair manual
// ("adjusting shim selection"): 17 sizes, 2.50 to 3.30 by 0.05, clearance 0.25.
// The limits are invented.
func clearance() ChartQuestion {
	sizes := tray(2500, 3300, 50)
	return ChartQuestion{
		Question: Question{Target: 250 * um, Low: 200 * um, High: 300 * um, Effect: -1, Places: 1, MostPerPlace: 1, Tray: sizes},
		Lines:    Lines{Reading: 10 * um, From: 0, To: 2000 * um, Most: 14},
		Presents: sizes,
	}
}

func TestChartShape(t *testing.T) {
	q := clearance()
	c, err := ChartFor(q)
	require.NoError(t, err)
	// 0.05 is the gap of the tray and just close enough: a size is at most
	// 0.025 off and a reading at most 0.02 from its line. Four lines go down to
	// nothing, the rest of the page is left to the other side.
	assert.Equal(t, append(tray(40, 190, 50), tray(310, 760, 50)...), c.Measured)
	assert.Equal(t, 4, c.Under)
	assert.Equal(t, q.Tray, c.Present)
	// The published example: present 2.80 and measured 0.45 call for 3.00.
	nearest := c.Cell[7][6]
	assert.Equal(t, 460*um, c.Measured[7])
	assert.Equal(t, 2800*um, c.Present[6])
	assert.Equal(t, CellFit, nearest.Kind)
	assert.Equal(t, 3000*um, nearest.Total)
	// The tray's end: nothing is thicker than 3.30; from 0.36 with 3.25 it would
	// leave 0.31, but from 0.34 and 0.35, which take that line, it reaches 0.30.
	assert.Equal(t, CellNone, c.Cell[4][16].Kind)
	assert.Equal(t, 360*um, c.Measured[5])
	assert.Equal(t, CellSome, c.Cell[5][15].Kind)
	assert.Equal(t, 3300*um, c.Cell[5][15].Total)

	q.From, q.Most = -Millimetre, 9
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, append(tray(40, 190, 50), tray(310, 460, 50)...), c.Measured, "as many on both sides")
	q.To = 340 * um
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, 8, c.Under, "what one side cannot use is left to the other")
	assert.Len(t, c.Measured, 9)

	// A tray as coarse as the limits are wide: from 0.31 to 0.50 the next size
	// serves, and one line half way says so.
	q = clearance()
	q.Tray = tray(2500, 3300, 100)
	q.Presents = q.Tray
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, []Length{50 * um, 150 * um, 350 * um, 450 * um}, c.Measured[:4])

	// Limits closer than the tray's sizes deserve: finer lines.
	q = clearance()
	q.Low, q.High = 230*um, 270*um
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, 10*um, c.Measured[6]-c.Measured[5])

	// Inches: the sizes are 0.004 apart, and so may the lines be.
	q = clearance()
	thou := Inch / 1000
	q.Tray, q.Reading = []Length{80 * thou, 84 * thou, 88 * thou, 92 * thou}, thou
	q.Target, q.Low, q.High = 12*thou, 8*thou, 16*thou
	q.Presents = q.Tray
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, []Length{3 * thou, 7 * thou, 17 * thou, 21 * thou, 25 * thou}, c.Measured, "at 0.029 no size helps any more")
}

// A published motorcycle service manual, shim chart: sizes 2.50 to 3.50 by
// 0.05; clearance 0.47 with 2.95 fitted, 3.15 where they meet. Limits 0.22 to
// 0.32 are left wide: the page prints none.
func TestPublishedChartCell(t *testing.T) {
	q := clearance()
	q.Tray = tray(2500, 3500, 50)
	q.Presents = q.Tray
	q.Target, q.Low, q.High = 270*um, 220*um, 320*um
	c, err := ChartFor(q)
	require.NoError(t, err)
	best := 0
	for i, m := range c.Measured {
		if (m - 470*um).abs() < (c.Measured[best] - 470*um).abs() {
			best = i
		}
	}
	assert.Equal(t, 2950*um, c.Present[9])
	assert.Equal(t, 3150*um, c.Cell[best][9].Total)
}

// A published diesel engine service manual, shims: specified 0.15, measured
// 0.25, shim 2.425 fitted, 2.50 to be installed, clearance then 0.175. (Sizes
// beside those two are not in the example, nor limits.)
func TestPublishedClearanceObtained(t *testing.T) {
	q := ChartQuestion{
		Question: Question{Target: 150 * um, Low: 100 * um, High: 200 * um, Effect: -1, Places: 1, MostPerPlace: 1, Tray: []Length{2425 * um, 2500 * um}},
		Lines:    Lines{Reading: 50 * um, From: 0, To: 500 * um, Most: 4},
		Presents: []Length{2425 * um},
	}
	c, err := ChartFor(q)
	require.NoError(t, err)
	require.Equal(t, 250*um, c.Measured[c.Under])
	assert.Equal(t, 2500*um, c.Cell[c.Under][0].Total)
	assert.Equal(t, 175*um, c.Cell[c.Under][0].Predicted)
}

func TestChartErrors(t *testing.T) {
	for want, spoil := range map[string]func(*ChartQuestion){
		"1 lines":           func(q *ChartQuestion) { q.Most = 1 },
		"over 20000 cells":  func(q *ChartQuestion) { q.Most = 2000 },
		"readings to 0.000": func(q *ChartQuestion) { q.Reading = 0 },
		"no reading from":   func(q *ChartQuestion) { q.From, q.To = 200*um, 300*um },
		"the lower first":   func(q *ChartQuestion) { q.Low = 310 * um },
		"has no sizes":      func(q *ChartQuestion) { q.Tray = nil },
		"no totals":         func(q *ChartQuestion) { q.Presents = nil },
		"over a metre":      func(q *ChartQuestion) { q.To = 1001 * Millimetre },
		"present shim is −": func(q *ChartQuestion) { q.Presents = []Length{-um} },
	} {
		q := clearance()
		spoil(&q)
		_, err := ChartFor(q)
		assert.ErrorContains(t, err, want)
	}
	q := clearance()
	q.Presents = []Length{1001 * Millimetre}
	_, err := ChartFor(q)
	assert.Error(t, err)
}

func isInside(q Question, d Length) bool { return d >= q.Low && d <= q.High }

// checkChart tries every reading from the first line to the last with every
// column: where PickShims reaches the limits, so does the nearest line.
func checkChart(t *testing.T, q ChartQuestion, c Chart) {
	t.Helper()
	require.LessOrEqual(t, len(c.Measured), q.Most)
	for i, m := range c.Measured {
		require.Equal(t, i < c.Under, m < q.Low)
		require.Equal(t, i >= c.Under, m > q.High)
		for j, present := range c.Present {
			one := q.Question
			one.Measured, one.Present = m, present
			a, err := PickShims(one)
			require.NoError(t, err)
			require.Equal(t, a.Best, c.Cell[i][j].Pick, "a cell is the picker's")
		}
	}
	side := func(lines []int) {
		if len(lines) == 0 {
			return
		}
		from, to := c.Measured[lines[0]], c.Measured[lines[len(lines)-1]]
		for from > q.High+q.Reading {
			from -= q.Reading
		}
		for to < q.Low-q.Reading {
			to += q.Reading
		}
		for r := from; r <= to; r += q.Reading {
			least := Length(math.MaxInt64)
			for _, i := range lines {
				least = min(least, (c.Measured[i] - r).abs())
			}
			for _, i := range lines {
				if (c.Measured[i] - r).abs() > least {
					continue
				}
				for j, present := range c.Present {
					one := q.Question
					one.Measured, one.Present = r, present
					a, err := PickShims(one)
					require.NoError(t, err)
					cell := c.Cell[i][j]
					got := cell.Total > 0 && isInside(q.Question, one.predict(cell.Total-q.Prescribed))
					switch cell.Kind {
					case CellNone:
						require.False(t, a.Reaches, "%+v %v", one, cell)
					case CellSome:
						require.Equal(t, a.Reaches, got, "%+v %v", one, cell)
					case CellFit:
						require.True(t, got, "%+v %v", one, cell)
					}
				}
			}
		}
	}
	var under, over []int
	for i := range c.Measured {
		if i < c.Under {
			under = append(under, i)
		} else {
			over = append(over, i)
		}
	}
	side(under)
	side(over)
}

func TestNearestLineServesEveryReading(t *testing.T) {
	checked := func(q ChartQuestion) Chart {
		c, err := ChartFor(q)
		require.NoError(t, err)
		checkChart(t, q, c)
		return c
	}
	q := clearance()
	checked(q)
	q.Stock = make([]int, 17)
	for i := range q.Stock {
		q.Stock[i] = i % 3 // every third size is out
	}
	checked(q)
	r := rand.New(rand.NewPCG(6, 6))
	coarser := 0
	for range 400 {
		one := randomQuestion(r, 8, 2)
		one.Uncertainty, one.Prescribed = 0, 0
		q := ChartQuestion{Question: one, Lines: Lines{Reading: max(1, smallestGap(one.Tray, 10*um)/Length(1+r.IntN(12))), Most: 2 + r.IntN(10)}, Presents: one.Tray}
		if r.IntN(2) == 0 {
			q.MostPerPlace = 1
		}
		if r.IntN(2) == 0 { // limits that a tray can serve
			w := Length(float64(smallestGap(q.Tray, 10*um)) * math.Abs(q.Effect) * (0.6 + r.Float64()))
			q.Low, q.High = q.Target-w, q.Target+w
		}
		q.From = q.Target - Length(r.IntN(40))*q.Reading - (q.High - q.Low)
		q.To = q.High + Length(1+r.IntN(40))*q.Reading
		c := checked(q)
		if n := len(c.Measured); n > 1 && c.Under != 1 && c.Measured[1]-c.Measured[0] > q.Reading {
			coarser++
		}
	}
	assert.Greater(t, coarser, 50, "the trial has charts with lines apart")
}

// A reading nearest to a line is as well served by that line's turns.
func TestTurnLines(t *testing.T) {
	list, under, err := TurnLines(4300*um, 4200*um, 4400*um, Millimetre, Lines{Reading: 10 * um, From: 2150 * um, To: 6450 * um, Most: 16})
	require.NoError(t, err)
	assert.Equal(t, append(tray(3490, 4190, 100), tray(4410, 5110, 100)...), list)
	assert.Equal(t, 8, under)
	for i, m := range list {
		for r := m - 50*um; r <= m+50*um; r += 10 * um {
			if i == 7 && r > m || i == 8 && r < m {
				continue
			}
			turns, clockwise := Turns(4300*um-m, Millimetre, false, true)
			if clockwise {
				turns = -turns
			}
			for _, turned := range []float64{math.Round(turns*100) / 100, math.Round(turns*72) / 72} {
				d := r + Length(math.Round(turned*1e6))
				assert.True(t, d >= 4200*um && d <= 4400*um, "%d by line %d", r, m)
			}
		}
	}
	_, _, err = TurnLines(4300*um, 4299*um, 4301*um, Millimetre, Lines{Reading: um, From: 4000 * um, To: 4600 * um, Most: 16})
	assert.ErrorContains(t, err, "too close for 5°")
	_, _, err = TurnLines(4300*um, 4200*um, 4400*um, 0, Lines{Reading: um, From: 0, To: 5000 * um, Most: 16})
	assert.ErrorContains(t, err, "pitch above zero")
	_, _, err = TurnLines(4300*um, 4200*um, 4400*um, Millimetre, Lines{})
	assert.Error(t, err)
}

// Every thickness wanted has the row of what PickShims calls best.
func TestStackTable(t *testing.T) {
	for _, q := range []Question{
		{Target: 6200 * um, Low: 6100 * um, High: 6300 * um, Effect: 1, Places: 2, MostPerPlace: 2, Tray: tray(500, 1100, 50)},
		{Target: 6200 * um, Low: 6180 * um, High: 6220 * um, Effect: 1, Places: 2, MostPerPlace: 2, Tray: tray(500, 1100, 50),
			Stock: []int{4, 6, 1, 6, 4, 4, 0, 1, 2, 2, 3, 2, 2}},
		{Target: 1600 * um, Low: 1600 * um, High: 1700 * um, Effect: 1, Places: 1, MostPerPlace: 3, Tray: tray(200, 1000, 100), Prescribed: 600 * um},
		{Target: 300 * um, Low: 200 * um, High: 400 * um, Effect: -2, Places: 1, MostPerPlace: 2, Tray: tray(210, 290, 10)},
	} {
		rows, err := StackTable(q, 10*um, longest)
		require.NoError(t, err)
		require.NotEmpty(t, rows)
		for i, r := range rows {
			require.LessOrEqual(t, r.From, r.To)
			require.True(t, i == 0 || r.From == rows[i-1].To+10*um, "without a gap")
			for w := r.From; w <= r.To; w += 10 * um {
				one := q
				one.Measured, one.Present = q.Target, q.Prescribed+w
				a, err := PickShims(one)
				require.NoError(t, err)
				require.Equal(t, len(r.Stack) > 0, a.Reaches, "%d", w)
				if a.Reaches {
					require.Equal(t, a.Best.Stack, r.Stack)
					require.Equal(t, a.Best.Total-q.Prescribed, r.Total)
				}
			}
		}
		for _, w := range []Length{rows[0].From - 10*um, rows[len(rows)-1].To + 10*um} {
			one := q
			one.Measured, one.Present = q.Target, q.Prescribed+w
			a, err := PickShims(one)
			require.NoError(t, err)
			require.True(t, !a.Reaches || len(a.Best.Stack) == 0, "the table ends where the tray does")
		}
	}
	q := Question{Target: 6200 * um, Low: 6100 * um, High: 6300 * um, Effect: 1, Places: 1, MostPerPlace: 2, Tray: tray(500, 600, 50)}
	rows, err := StackTable(q, 10*um, longest)
	require.NoError(t, err)
	assert.Equal(t, []StackRow{
		{400 * um, 520 * um, []Length{500 * um}, 500 * um},
		{530 * um, 570 * um, []Length{550 * um}, 550 * um},
		{580 * um, 700 * um, []Length{600 * um}, 600 * um},
		{710 * um, 890 * um, nil, 0},
		{900 * um, 1020 * um, []Length{500 * um, 500 * um}, 1000 * um},
		{1030 * um, 1070 * um, []Length{550 * um, 500 * um}, 1050 * um},
		{1080 * um, 1120 * um, []Length{600 * um, 500 * um}, 1100 * um},
		{1130 * um, 1170 * um, []Length{600 * um, 550 * um}, 1150 * um},
		{1180 * um, 1300 * um, []Length{600 * um, 600 * um}, 1200 * um},
	}, rows)
	rows, err = StackTable(q, 10*um, 560*um)
	require.NoError(t, err)
	assert.Equal(t, StackRow{530 * um, 560 * um, []Length{550 * um}, 550 * um}, rows[len(rows)-1])
	q.Stock = []int{0, 0, 0}
	rows, err = StackTable(q, 10*um, longest)
	require.NoError(t, err)
	assert.Empty(t, rows)
	_, err = StackTable(q, 0, longest)
	assert.ErrorContains(t, err, "above zero")
	q.Stock = nil
	_, err = StackTable(q, 1, longest)
	assert.ErrorContains(t, err, "coarser")
	q.Tray = nil
	_, err = StackTable(q, um, longest)
	assert.ErrorContains(t, err, "no sizes")
}

func BenchmarkChartFor(b *testing.B) {
	for _, most := range []int{1, 2, 3} {
		q := clearance()
		q.MostPerPlace = most
		q.Tray = tray(2000, 3950, 50)
		q.Most, q.Presents = 25, nil
		for _, s := range q.Tray[:25] {
			q.Presents = append(q.Presents, s*Length(most))
		}
		b.Run([]string{"", "one", "two", "three"}[most], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := ChartFor(q); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkStackTable(b *testing.B) {
	thou := Inch / 1000
	q := Question{Target: 78 * thou, Low: 76 * thou, High: 80 * thou, Effect: 1, Places: 1, MostPerPlace: 3, Prescribed: 24 * thou}
	for s := 12 * thou; s <= 40*thou; s += 2 * thou {
		q.Tray = append(q.Tray, s)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := StackTable(q, thou/10, longest); err != nil {
			b.Fatal(err)
		}
	}
}
