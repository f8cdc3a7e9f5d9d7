package calc

import (
	"fmt"
	"slices"
)

// ChartQuestion asks for a table of answers for one dimension: measured values
// down the side, the present shim along the top. Measured and Present of the
// Question are not used.
type ChartQuestion struct {
	Question
	Rows, Columns   int      // most that fit the page
	RowLow, RowHigh Length   // measured values to cover
	Step            Length   // smallest step that can be read, such as 0.01 mm or 0.0005 in
	Presents        []Length // totals that can be found fitted; nil for the sizes of the tray, each with the prescribed shim
}

// Chart is the table; Cell[i][j] belongs to Measured[i] and Present[j].
type Chart struct {
	Measured []Length
	Present  []Length
	Cell     [][]Cell
}

// CellKind is what a cell advises.
type CellKind uint8

// The kinds of cell.
const (
	CellNone CellKind = iota // no stack reaches the limits
	CellKeep                 // nothing need change
	CellFit                  // fit Stack
)

// Cell is the answer for one measured value and one present shim. Total is
// what will be fitted in one place: the present shim where it is kept, zero
// where nothing reaches. Stack is empty but for CellFit.
type Cell struct {
	Kind      CellKind
	Total     Length
	Stack     []Length
	Predicted Length
}

// The largest table ChartFor makes; a page holds far less.
const mostCells = 20_000

// ChartFor tabulates PickShims: every cell is its answer.
//
// Rows stand at multiples of 1, 2, 5, 10, 20, … Steps: the finest that covers
// RowLow to RowHigh in so many rows, but none so coarse that a row would skip
// a size of the tray. Where even that does not cover the range, the rows keep
// as near the target as the range allows. Columns that do not fit are thinned
// evenly, the first and the last kept.
func ChartFor(q ChartQuestion) (Chart, error) {
	switch {
	case q.Rows < 1 || q.Columns < 1:
		return Chart{}, fmt.Errorf("chart: %d rows and %d columns; at least one of each is needed", q.Rows, q.Columns)
	case q.Rows > mostCells || q.Columns > mostCells || q.Rows*q.Columns > mostCells:
		return Chart{}, fmt.Errorf("chart: %d rows and %d columns are over %d cells", q.Rows, q.Columns, mostCells)
	case q.Step <= 0:
		return Chart{}, fmt.Errorf("chart: a step of %s mm is not above zero", q.Step.Fixed(MM, 4))
	case q.RowLow > q.RowHigh:
		return Chart{}, fmt.Errorf("chart: rows from %s mm down to %s mm; give the lower first", q.RowLow.Fixed(MM, 4), q.RowHigh.Fixed(MM, 4))
	}
	for _, l := range append([]Length{q.RowLow, q.RowHigh, q.Step}, q.Presents...) {
		if err := checkLength("a length of the chart", l); err != nil {
			return Chart{}, err
		}
	}
	q.Measured, q.Present = q.Target, 0
	p, err := newPicker(q.Question)
	if err != nil {
		return Chart{}, err
	}
	c := Chart{Measured: q.rows(), Present: q.columns()}
	if len(c.Measured) == 0 {
		return Chart{}, fmt.Errorf("chart: no multiple of %s mm lies within %s and %s mm", q.Step.Fixed(MM, 4), q.RowLow.Fixed(MM, 4), q.RowHigh.Fixed(MM, 4))
	}
	if len(c.Present) == 0 {
		return Chart{}, fmt.Errorf("chart: no totals are given that could be found fitted; leave them out to take the sizes of the tray")
	}
	c.Cell = make([][]Cell, len(c.Measured))
	for i, m := range c.Measured {
		c.Cell[i] = make([]Cell, len(c.Present))
		for j, present := range c.Present {
			q.Measured, q.Present = m, present
			a, err := p.pick(q.Question)
			if err != nil {
				return Chart{}, err
			}
			switch {
			case a.Keep:
				c.Cell[i][j] = Cell{Kind: CellKeep, Total: present, Predicted: m}
			case a.Reaches:
				c.Cell[i][j] = Cell{Kind: CellFit, Total: a.Best.Total, Stack: a.Best.Stack, Predicted: a.Best.Predicted}
			}
		}
	}
	return c, nil
}

// rows returns the measured values down the side, ascending.
func (q *ChartQuestion) rows() []Length {
	sizes := slices.Clone(q.Tray)
	slices.Sort(sizes)
	gap := Length(0)
	for i := 1; i < len(sizes); i++ {
		if d := sizes[i] - sizes[i-1]; gap == 0 || d < gap {
			gap = d
		}
	}
	coarsest := Length(float64(gap) * max(q.Effect, -q.Effect))
	if len(sizes) == 1 {
		coarsest = q.RowHigh - q.RowLow
	}
	first := func(step Length) Length { return -floorDiv(-q.RowLow, step) } // in steps
	last := func(step Length) Length { return floorDiv(q.RowHigh, step) }
	step := q.Step
	for scale, k := Length(1), 0; ; k++ {
		next := q.Step * scale * []Length{1, 2, 5}[k%3]
		if k%3 == 2 {
			scale *= 10
		}
		if next > coarsest && next > q.Step {
			break
		}
		step = next
		if last(step)-first(step) < Length(q.Rows) {
			break
		}
	}
	from, to := first(step), last(step)
	if most := Length(q.Rows); to-from >= most {
		from = min(max(floorDiv(2*q.Target+step, 2*step)-(most-1)/2, from), to-most+1)
		to = from + most - 1
	}
	var list []Length
	for n := from; n <= to; n++ {
		list = append(list, n*step)
	}
	return list
}

// columns returns the present totals along the top, ascending.
func (q *ChartQuestion) columns() []Length {
	var list []Length
	if q.Presents != nil {
		list = slices.Clone(q.Presents)
	} else {
		for _, s := range q.Tray {
			list = append(list, q.Prescribed+s)
		}
	}
	slices.Sort(list)
	list = slices.Compact(list)
	n := len(list)
	if n <= q.Columns {
		return list
	}
	if q.Columns == 1 {
		return list[n/2 : n/2+1]
	}
	for i := range q.Columns {
		list[i] = list[(2*i*(n-1)+q.Columns-1)/(2*(q.Columns-1))]
	}
	return list[:q.Columns]
}

func floorDiv(a, b Length) Length {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// StackRow is a line of StackTable: Stack, of thickness Total, is nearest to
// Wanted.
type StackRow struct {
	Wanted Length
	Stack  []Length
	Total  Length
}

// StackTable lists, for every wanted thickness from low to high by step, the
// stack of at most most shims that comes nearest, chosen as PickShims chooses.
// Where PickShims would return an error, or low to high is more than 10 000
// steps, it returns nil: there is no table.
func StackTable(tray []Length, most int, low, high, step Length) []StackRow {
	if step <= 0 || low <= 0 || low > high || high > longest || (high-low)/step > mostSizes {
		return nil
	}
	q := Question{Target: low, Low: low, High: low, Effect: 1, Places: 1, MostPerPlace: most, Tray: tray}
	p, err := newPicker(q)
	if err != nil {
		return nil
	}
	var rows []StackRow
	for wanted := low; wanted <= high; wanted += step {
		q.Target, q.Low, q.High = wanted, wanted, wanted
		a, err := p.pick(q)
		if err != nil {
			return nil
		}
		rows = append(rows, StackRow{wanted, a.Best.Stack, a.Best.Total})
	}
	return rows
}
