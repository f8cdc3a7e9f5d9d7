package calc

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func chartQuestion() ChartQuestion {
	return ChartQuestion{
		Question: Question{Target: 250 * um, Low: 200 * um, High: 300 * um, Effect: -1, Places: 1, MostPerPlace: 1, Tray: tray(2500, 3300, 50)},
		Rows:     25, Columns: 25, RowLow: 100 * um, RowHigh: 600 * um, Step: 10 * um,
	}
}

func TestChartShape(t *testing.T) {
	q := chartQuestion()
	c, err := ChartFor(q)
	require.NoError(t, err)
	// 51 rows at 0.01 are too many, 26 at 0.02 are one too many; 0.05 is the gap of the tray.
	assert.Equal(t, tray(100, 600, 50), c.Measured)
	assert.Equal(t, q.Tray, c.Present)
	// The published example: present 2.80 and measured 0.45 call for 3.00 (see TestPublishedShimRule).
	assert.Equal(t, Cell{Kind: CellFit, Total: 3000 * um, Stack: []Length{3000 * um}, Predicted: 250 * um}, c.Cell[7][6])
	assert.Equal(t, Cell{Kind: CellKeep, Total: 2800 * um, Predicted: 250 * um}, c.Cell[3][6])
	assert.Equal(t, Cell{}, c.Cell[10][16], "no shim is thick enough")

	q.Rows, q.Columns = 9, 5
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, tray(100, 500, 50), c.Measured, "about the target, as near as the range allows")
	assert.Equal(t, []Length{2500 * um, 2700 * um, 2900 * um, 3100 * um, 3300 * um}, c.Present)
	q.Rows, q.Columns = 3, 1
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, tray(200, 300, 50), c.Measured)
	assert.Equal(t, []Length{2900 * um}, c.Present)

	q = chartQuestion()
	q.Prescribed, q.Effect = 1000*um, 1
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Equal(t, tray(3500, 4300, 50), c.Present, "totals hold the prescribed shim")

	// Inches: rows at 0.0005, 0.001, 0.002 …
	q = chartQuestion()
	thou := Inch / 1000
	q.Tray, q.Step = []Length{100 * thou, 102 * thou, 104 * thou}, thou/2
	q.Target, q.Low, q.High = 10*thou, 8*thou, 12*thou
	q.RowLow, q.RowHigh = 0, 20*thou
	c, err = ChartFor(q)
	require.NoError(t, err)
	assert.Len(t, c.Measured, 21)
	assert.Equal(t, thou, c.Measured[1]-c.Measured[0])
}

func TestChartErrors(t *testing.T) {
	for want, spoil := range map[string]func(*ChartQuestion){
		"0 rows":            func(q *ChartQuestion) { q.Rows = 0 },
		"over 20000 cells":  func(q *ChartQuestion) { q.Rows = 1000 },
		"step of 0.0000":    func(q *ChartQuestion) { q.Step = 0 },
		"give the lower":    func(q *ChartQuestion) { q.RowLow = q.RowHigh + 1 },
		"no multiple of":    func(q *ChartQuestion) { q.RowLow, q.RowHigh = 101*um, 109*um },
		"no sizes":          func(q *ChartQuestion) { q.Tray = nil },
		"no totals":         func(q *ChartQuestion) { q.Presents = []Length{} },
		"over a metre":      func(q *ChartQuestion) { q.RowHigh = 1001 * Millimetre },
		"present shim is −": func(q *ChartQuestion) { q.Presents = []Length{-um} },
	} {
		q := chartQuestion()
		q.Columns = 25
		spoil(&q)
		_, err := ChartFor(q)
		assert.ErrorContains(t, err, want)
	}
}

// Whatever the question, a cell is what PickShims says, and rows and columns
// keep to the page.
func TestChartIsThePicker(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for range 300 {
		q := ChartQuestion{Question: randomQuestion(r, 8, 3), Rows: 1 + r.IntN(12), Columns: 1 + r.IntN(6)}
		q.Step = Length(1 + r.IntN(20_000))
		q.RowLow = q.Target - Length(r.IntN(40))*q.Step
		q.RowHigh = q.Target + Length(1+r.IntN(40))*q.Step
		c, err := ChartFor(q)
		require.NoError(t, err)
		require.LessOrEqual(t, len(c.Measured), q.Rows)
		require.LessOrEqual(t, len(c.Present), q.Columns)
		for i, m := range c.Measured {
			require.True(t, m >= q.RowLow && m <= q.RowHigh && m%q.Step == 0)
			require.True(t, i == 0 || m-c.Measured[i-1] == c.Measured[1]-c.Measured[0], "rows are evenly spaced")
			for j, p := range c.Present {
				one := q.Question
				one.Measured, one.Present = m, p
				a, err := PickShims(one)
				require.NoError(t, err)
				want := Cell{}
				switch {
				case a.Keep:
					want = Cell{CellKeep, p, nil, m}
				case a.Reaches:
					want = Cell{CellFit, a.Best.Total, a.Best.Stack, a.Best.Predicted}
				}
				require.Equal(t, want, c.Cell[i][j], "%+v", one)
			}
		}
	}
}

func TestStackTable(t *testing.T) {
	sizes := []Length{500 * um, 550 * um, 600 * um}
	rows := StackTable(sizes, 2, 1000*um, 1300*um, 50*um)
	require.Len(t, rows, 7)
	for _, r := range rows {
		want := exhaustive(Question{Target: r.Wanted, Low: r.Wanted, High: r.Wanted, Effect: 1, Places: 1, MostPerPlace: 2, Tray: sizes})[0]
		assert.Equal(t, want.Stack, r.Stack, "%d", r.Wanted)
		assert.Equal(t, want.Total, r.Total)
	}
	assert.Equal(t, StackRow{1300 * um, []Length{600 * um, 600 * um}, 1200 * um}, rows[6])
	assert.Nil(t, StackTable(nil, 2, 1, 2, 1))
	assert.Nil(t, StackTable(sizes, 2, 2, 1, 1))
	assert.Nil(t, StackTable(sizes, 2, 1, 2, 0))
	assert.Nil(t, StackTable(sizes, 2, 1, 1000*um, 1))
}

func BenchmarkChartFor(b *testing.B) {
	for _, most := range []int{1, 2, 3} {
		q := chartQuestion()
		q.MostPerPlace = most
		q.Tray = tray(2000, 3950, 50)
		q.RowLow, q.RowHigh, q.Step = 0, 1200*um, 50*um
		if most > 1 {
			for _, s := range q.Tray[:25] {
				q.Presents = append(q.Presents, s*Length(most))
			}
		}
		b.Run([]string{"", "one", "two", "three"}[most], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c, err := ChartFor(q)
				if err != nil || len(c.Measured) != 25 || len(c.Present) != 25 {
					b.Fatal(err, len(c.Measured), len(c.Present))
				}
			}
		})
	}
}
