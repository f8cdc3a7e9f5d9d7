package layout

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// A column that says far more than the others widens itself alone, so that
// seventeen readings stay beside each other; a chart that is too wide all the
// same goes on below in parts of one width.
func TestChartColumns(t *testing.T) {
	s := newSheet(false)
	w := A4.W - marginInner - marginOuter
	c := Chart{Corner: "K1", Rows: []ChartRow{{Head: "turns"}}}
	for i := range 17 {
		head := fmt.Sprintf("%.3f", 0.134+0.005*float64(i))
		if i == 8 {
			head = "0.170 – 0.178"
		}
		c.Head = append(c.Head, head)
		c.Rows[0].Cells = append(c.Rows[0].Cells, ChartCell{Text: "0.10", Mark: i == 10})
	}
	require.Len(t, c.parts(s, w), 1)
	set, cols := c.measure(s, w)
	require.Equal(t, 17, cols)
	require.GreaterOrEqual(t, set.size, floorSize)
	require.Greater(t, set.cells[8], 1.3*set.cells[0])
	for j, cell := range set.cells {
		if j != 8 {
			require.InDelta(t, set.cells[0], cell, 1e-9)
		}
	}
	require.LessOrEqual(t, set.head+sum(set.cells), w+1e-6)

	for len(c.Head) < 60 {
		c.Head = append(c.Head, "0.300")
		c.Rows[0].Cells = append(c.Rows[0].Cells, ChartCell{Text: "0.10"})
	}
	parts := c.parts(s, w)
	require.Greater(t, len(parts), 1)
	for _, p := range parts {
		require.InDelta(t, parts[0].set.cells[0], p.set.cells[len(p.set.cells)-1], 1e-9)
		require.InDelta(t, len(parts[0].Head), len(p.Head), float64(len(parts)), "no orphan")
	}
	require.NoError(t, s.err())
}
