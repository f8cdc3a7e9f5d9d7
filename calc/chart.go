package calc

import (
	"fmt"
	"math"
	"slices"
)

// Lines says which readings the lines of a chart may stand for. All of them
// lie outside the limits, counted outward by one even step: the first just
// beyond each limit, or half a step beyond it where the lines can then stand
// further apart. Inside the limits, the limits themselves included, nothing is
// to be done and no line is needed.
type Lines struct {
	Reading  Length // last figure of a reading, such as 0.01 mm or 0.0005 in
	From, To Length // the readings that are believable
	Most     int    // lines that fit the page, both sides together
}

// ChartQuestion asks for a table of answers for one dimension: measured values
// down the side, the present shim along the top. Measured, Present and
// Uncertainty of the Question are not used.
type ChartQuestion struct {
	Question
	Lines
	Presents []Length // totals that can be found fitted in one place: a column for each
}

// Chart is the table; Cell[i][j] belongs to Measured[i] and Present[j].
type Chart struct {
	Measured []Length // ascending
	Under    int      // how many of Measured lie below the low limit
	Present  []Length // as asked
	Cell     [][]Cell
}

// CellKind says for which of the readings that take a line its cell holds. A
// reading takes the line nearest to it, on its own side of the limits.
type CellKind uint8

// The kinds of cell.
const (
	CellNone CellKind = iota // for none of them: nothing to be had reaches the limits
	CellSome                 // for some: where it does not, nothing does
	CellFit                  // for every one
)

// Cell is the answer for one measured value and one present shim: what
// PickShims calls best.
type Cell struct {
	Kind CellKind
	Pick
}

// The largest table that is made, and the widest step; a page holds far less.
const (
	mostCells = 20_000
	mostStep  = 1_000 // readings
)

// ChartFor tabulates PickShims so that a technician may take the nearest line:
// for every reading outside the limits from the first line to the last, and
// for every column, the cell of the nearest line (of either where
// two are as near) brings the dimension inside its limits whenever PickShims
// would for that very reading.
//
// The lines stand as far apart as this allows, and no further than the sizes
// of the tray: at that gap itself or at 1, 2, 5, 10, … readings. So they reach
// as far from the limits as the page has room for, equally far on both sides
// where the believable readings do. Readings that no size could bring back
// have no line.
func ChartFor(q ChartQuestion) (Chart, error) {
	if err := q.Lines.check(q.Low, q.High); err != nil {
		return Chart{}, err
	}
	switch {
	case len(q.Presents) == 0:
		return Chart{}, errorf("chart", "no totals are given that could be found fitted; give the sizes of the tray")
	case q.Most*len(q.Presents) > mostCells:
		return Chart{}, errorf("chart", "%d lines and %d columns are over %d cells", q.Most, len(q.Presents), mostCells)
	}
	q.Measured, q.Present, q.Uncertainty = q.Target, 0, 0
	p, err := newPicker(q.Question)
	if err != nil {
		return Chart{}, err
	}
	for _, l := range q.Presents {
		if q.Present = l; l < 0 || l > longest {
			return Chart{}, q.Question.check()
		}
	}
	q.clip(p)
	for _, step := range q.steps(Length(float64(smallestGap(q.Tray, q.High-q.Low)) * math.Abs(q.Effect))) {
		for _, first := range q.firsts(step) {
			c, ok, err := q.chart(p, step, first)
			if ok || err != nil {
				return c, err
			}
		}
	}
	panic("chart: a line for every reading leaves none out")
}

// clip leaves out readings that no column could bring back.
func (q *ChartQuestion) clip(p *picker) {
	if len(p.size) == 0 {
		return // said in every cell
	}
	least, most := q.Prescribed, q.Prescribed+p.size[len(p.size)-1]*Length(q.MostPerPlace)
	if q.Prescribed == 0 {
		least = p.size[0]
	}
	a := q.Effect * float64(most-slices.Min(q.Presents))
	b := q.Effect * float64(least-slices.Max(q.Presents))
	q.From = max(q.From, q.Low-Length(max(a, b, 0)))
	q.To = min(q.To, q.High-Length(min(a, b, 0)))
}

// chart makes the chart with lines so far apart; ok tells that they may be.
func (q *ChartQuestion) chart(p *picker, step, first Length) (c Chart, ok bool, err error) {
	c.Measured, c.Under = q.at(q.Low, q.High, step, first)
	c.Present = slices.Clone(q.Presents)
	c.Cell = make([][]Cell, len(c.Measured))
	answer := func(measured, present Length) (Answer, error) {
		q.Measured, q.Present = measured, present
		return p.pick(q.Question)
	}
	for i, m := range c.Measured {
		c.Cell[i] = make([]Cell, len(c.Present))
		from, to := q.takers(c.Measured, c.Under, i, step, first)
		for j, present := range c.Present {
			a, err := answer(m, present)
			if err != nil {
				return c, false, err
			}
			cell := Cell{CellNone, a.Best}
			served := 0
			for r := from; r <= to; r += q.Reading {
				q.Measured, q.Present = r, present
				if d := q.predict(a.Best.Total - q.Prescribed); a.Best.Total > 0 && d >= q.Low && d <= q.High {
					served++
				} else if exact, err := answer(r, present); err != nil || exact.Reaches {
					return c, false, err
				}
			}
			switch Length(served) {
			case 0:
			case (to-from)/q.Reading + 1:
				cell.Kind = CellFit
			default:
				cell.Kind = CellSome
			}
			c.Cell[i][j] = cell
		}
	}
	return c, true, nil
}

// TurnLines returns the measured values for a table of turns of a screwed
// shaft, ascending, with how many lie below the low limit. They stand as far
// apart as they may for the nearest line to serve every reading between the
// first and the last: turned as Turns says for that line, rounded to a
// hundredth of a turn or to 5°, the dimension comes inside its limits.
func TurnLines(target, low, high, pitch Length, l Lines) (measured []Length, under int, err error) {
	if err := l.check(low, high); err != nil {
		return nil, 0, err
	}
	if target < low || target > high || pitch <= 0 || pitch > longest {
		return nil, 0, fmt.Errorf("turns: target %s mm, pitch %s mm; give a target within the limits and a pitch above zero", target.Fixed(MM, 4), pitch.Fixed(MM, 4))
	}
	// serves tells that a reading comes inside by the turns of a line.
	serves := func(reading, line Length) bool {
		turns := float64(target-line) / float64(pitch)
		for _, parts := range []float64{100, 72} {
			d := reading + Length(math.Round(math.Round(turns*parts)/parts*float64(pitch)))
			if d < low || d > high {
				return false
			}
		}
		return true
	}
	for _, step := range l.steps(high - low) {
		for _, first := range l.firsts(step) {
			list, under := l.at(low, high, step, first)
			ok := true
			for i, m := range list {
				from, to := l.takers(list, under, i, step, first)
				for r := from; r <= to && ok; r += l.Reading {
					ok = serves(r, m)
				}
			}
			if ok {
				return list, under, nil
			}
		}
	}
	return nil, 0, errorf("turns", "limits %s apart are too close for 5° of a thread of %s", Quantity{(high - low).In(MM), MM}, Quantity{pitch.In(MM), MM})
}

func (l Lines) check(low, high Length) error {
	for _, x := range []Length{l.Reading, l.From, l.To, low, high} {
		if err := checkLength("a length of the chart is %s mm, over a metre; look at its unit", x); err != nil {
			return err
		}
	}
	f := func(l Length) string { return l.Fixed(MM, 4) + " mm" }
	switch {
	case l.Reading <= 0:
		return fmt.Errorf("chart: readings to %s; give their last figure, above zero", f(l.Reading))
	case low > high:
		return fmt.Errorf("chart: limits from %s down to %s; give the lower first", f(low), f(high))
	case l.Most < 2 || l.Most > mostCells:
		return fmt.Errorf("chart: %d lines; 2 to %d are possible", l.Most, mostCells)
	}
	if list, _ := l.at(low, high, l.Reading, 0); len(list) == 0 {
		return errorf("chart", "no reading from %s to %s lies outside the limits %s to %s", f(l.From), f(l.To), f(low), f(high))
	}
	return nil
}

// firsts lists how far the first line may stand from the first reading beyond
// a limit.
func (l Lines) firsts(step Length) []Length {
	if half := step / 2 / l.Reading * l.Reading; half > l.Reading {
		return []Length{0, half - l.Reading}
	}
	return []Length{0}
}

// at returns the lines so far apart, ascending, and how many lie below low.
// What one side cannot use is left to the other.
func (l Lines) at(low, high, step, first Length) (list []Length, under int) {
	below := -floorDiv(-low, l.Reading)*l.Reading - l.Reading - first
	above := floorDiv(high, l.Reading)*l.Reading + l.Reading + first
	down, up := Length(0), Length(0)
	if below >= l.From {
		down = (below-l.From)/step + 1
	}
	if above <= l.To {
		up = (l.To-above)/step + 1
	}
	switch most, half := Length(l.Most), Length(l.Most/2); {
	case down < half:
		up = min(up, most-down)
	case up < half:
		down = min(down, most-up)
	default:
		down, up = half, half
	}
	for i := down - 1; i >= 0; i-- {
		list = append(list, below-i*step)
	}
	for i := range up {
		list = append(list, above+i*step)
	}
	return list, int(down)
}

// takers returns the first and the last reading that take line i.
func (l Lines) takers(list []Length, under, i int, step, first Length) (from, to Length) {
	half := step / 2 / l.Reading * l.Reading
	from, to = list[i]-half, list[i]+half
	switch i {
	case under:
		from = list[i] - first
	case 0:
		from = list[i]
	}
	switch i {
	case under - 1:
		to = list[i] + first
	case len(list) - 1:
		to = list[i]
	}
	return from, to
}

// steps lists the even steps that are tried, the widest first and one reading
// last.
func (l Lines) steps(widest Length) []Length {
	most := min(max(widest/l.Reading, 1), mostStep)
	var list []Length
	for scale := Length(1); scale <= most; scale *= 10 {
		for _, n := range []Length{1, 2, 5} {
			if n*scale <= most {
				list = append(list, n*scale*l.Reading)
			}
		}
	}
	if last := list[len(list)-1]; widest > last && widest == most*l.Reading {
		list = append(list, widest)
	}
	slices.Reverse(list)
	return list
}

// smallestGap returns the least difference of two sizes, otherwise if there
// are not two.
func smallestGap(tray []Length, otherwise Length) Length {
	sizes := slices.Clone(tray)
	slices.Sort(sizes)
	gap := otherwise
	for i := 1; i < len(sizes); i++ {
		if d := sizes[i] - sizes[i-1]; i == 1 || d < gap {
			gap = d
		}
	}
	return gap
}

func floorDiv(a, b Length) Length {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// StackRow is a line of StackTable: Stack is what PickShims calls best for
// every thickness wanted from From to To, or empty where nothing reaches the
// limits. Thicknesses are of the stack, without the prescribed shim.
type StackRow struct {
	From, To Length
	Stack    []Length
	Total    Length
}

// StackTable lists what stack to fit for every thickness wanted, in whole
// readings, from the thinnest that some stack brings inside the limits to the
// thickest, or to most where that is less. Rows follow each other without a gap: a row for every thickness
// that the tray and the stock can make and, between, for what they cannot.
// Measured, Present and Uncertainty of the question are not used.
func StackTable(q Question, reading, most Length) ([]StackRow, error) {
	if reading <= 0 {
		return nil, fmt.Errorf("stack table: readings to %s mm; give their last figure, above zero", reading.Fixed(MM, 4))
	}
	q.Measured, q.Present, q.Uncertainty = q.Target, 0, 0
	p, err := newPicker(q)
	if err != nil {
		return nil, err
	}
	if len(p.size) == 0 {
		return nil, nil
	}
	reach := Length(float64(q.High-q.Low) / math.Abs(q.Effect))
	first := max(0, floorDiv(p.size[0]-reach, reading))
	last := floorDiv(min(p.size[len(p.size)-1]*Length(q.MostPerPlace)+reach, most), reading)
	if last-first > mostCells {
		return nil, errorf("stack table", "%d thicknesses are over %d; read to a coarser figure", last-first, mostCells)
	}
	var rows []StackRow
	end := 0 // of the rows up to the last with a stack
	for wanted := first * reading; wanted <= last*reading; wanted += reading {
		q.Present = q.Prescribed + wanted
		a, err := p.pick(q)
		if err != nil {
			return nil, err
		}
		row := StackRow{From: wanted, To: wanted}
		if a.Reaches && len(a.Best.Stack) > 0 {
			row.Stack, row.Total = a.Best.Stack, a.Best.Total-q.Prescribed
		}
		switch n := len(rows); {
		case n == 0 && row.Total == 0:
			continue
		case n > 0 && rows[n-1].Total == row.Total:
			rows[n-1].To = wanted
		default:
			rows = append(rows, row)
		}
		if row.Total > 0 {
			end = len(rows)
		}
	}
	return rows[:end], nil
}
