package calc

import (
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fields reads a published table: the words of its lines but for comments.
func fields(t *testing.T, name string) (lines [][]string) {
	data, err := os.ReadFile("../testdata/published/" + name)
	require.NoError(t, err)
	for line := range strings.Lines(string(data)) {
		if f := strings.Fields(line); len(f) > 0 && f[0] != "#" {
			lines = append(lines, f)
		}
	}
	require.NotEmpty(t, lines)
	return lines
}

// millimetres reads a published figure.
func millimetres(t *testing.T, s string) Length {
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return LengthOf(x, MM)
}

// Two published shim selection charts, cell by cell. They aim at the lower half
// of the specified clearance, so that is what the middle of each band of
// measured clearance is judged by. Then every reading of the band takes the
// cell's shim: the specified clearance must come out.
func TestPublishedClearanceCharts(t *testing.T) {
	for _, c := range []struct {
		name               string
		low, high          Length // as specified
		thinnest, thickest Length
		cells              int
	}{
		{"clearance-inlet.txt", 100, 200, 1200, 2200, 229},
		{"clearance-exhaust.txt", 200, 300, 2300, 3500, 166},
	} {
		lines := fields(t, c.name)
		var fitted []Length
		for _, s := range lines[0][1:] {
			fitted = append(fitted, millimetres(t, s))
		}
		cells := 0
		for _, line := range lines[1:] {
			from, to := millimetres(t, line[0]), millimetres(t, line[1])
			require.Len(t, line[2:], len(fitted))
			for i, s := range line[2:] {
				q := Question{Measured: (from + to) / 2, Present: fitted[i], Target: (c.low + 25) * um, Low: c.low * um, High: (c.low + 50) * um,
					Effect: -1, Places: 1, MostPerPlace: 1, Tray: tray(c.thinnest, c.thickest, 50)}
				a, err := PickShims(q)
				require.NoError(t, err)
				switch s {
				case "?":
					continue
				case "-":
					assert.False(t, a.Reaches, "%s: %s to %s, %v fitted: the cell is blank, not %v", c.name, line[0], line[1], fitted[i], a.Best)
					continue
				}
				cells++
				shim := millimetres(t, s)
				assert.Equal(t, []Length{shim}, a.Best.Stack, "%s: %s to %s, %v fitted", c.name, line[0], line[1], fitted[i])
				q.Target, q.Low, q.High, q.Tray = (c.low+50)*um, c.low*um, c.high*um, []Length{shim}
				for q.Measured = from; q.Measured <= to; q.Measured += 10 * um {
					a, err := PickShims(q)
					require.NoError(t, err)
					assert.True(t, a.Reaches, "%s: %v, %v fitted", c.name, q.Measured, fitted[i])
					assert.False(t, a.Keep)
				}
			}
		}
		assert.Equal(t, c.cells, cells)
	}
}

// A published table for a propeller shaft's free play: what to add or take off.
// Any thickness in tenths can be made up there. (0.3 is what it aims at; the
// limits are not in the text.)
func TestPublishedFreePlay(t *testing.T) {
	lines := fields(t, "free-play.txt")
	require.Len(t, lines, 30)
	for _, line := range lines {
		q := Question{Measured: millimetres(t, line[0]), Present: LengthOf(1, MM), Target: LengthOf(0.3, MM), Low: LengthOf(0.26, MM), High: LengthOf(0.34, MM),
			Effect: -1, Places: 1, MostPerPlace: 1, Tray: tray(500, 4000, 100)}
		a, err := PickShims(q)
		require.NoError(t, err)
		change := millimetres(t, line[1])
		assert.Equal(t, change, a.Wanted-q.Present, "%s mm", line[0])
		assert.Equal(t, q.Present+change, a.Best.Total)
		assert.Equal(t, change == 0, a.Keep)
	}
}

// Published charts for gear backlash, where 1 mm of shim moves the backlash by
// more than 1 mm: one effect, ±1/0.676, taken from the charts, gives every
// point of both to the last figure. The reverse gear's aim is the middle of its
// printed limits; the forward gear's, 0.382, is taken from the chart.
func TestPublishedBacklash(t *testing.T) {
	lines := fields(t, "backlash.txt")
	require.Len(t, lines, 13)
	for _, line := range lines {
		q := Question{Measured: millimetres(t, line[1]), Present: LengthOf(0.62, MM), Places: 1, MostPerPlace: 3,
			Tray: []Length{100 * um, 120 * um, 150 * um, 180 * um, 300 * um, 400 * um, 500 * um}}
		switch line[0] {
		case "reverse":
			q.Effect, q.Low, q.High = 1/0.676, LengthOf(0.33, MM), LengthOf(0.74, MM)
			q.Target = (q.Low + q.High) / 2
		case "forward":
			q.Effect, q.Target = -1/0.676, LengthOf(0.382, MM)
			q.Low, q.High = q.Target-100*um, q.Target+100*um
		}
		a, err := PickShims(q)
		require.NoError(t, err)
		assert.Equal(t, millimetres(t, line[2]).Fixed(MM, 2), (a.Wanted-q.Present).Fixed(MM, 2), "%s, %s mm", line[0], line[1])
		assert.True(t, a.Reaches)
	}
}

// The same manuals (public manual archive, document 954848, pages 173
// and 202): the thickness by subtraction, and what is then made up of shims of
// 0.10, 0.12, 0.15, 0.18, 0.30, 0.40 and 0.50 mm.
func TestPublishedGearShims(t *testing.T) {
	sizes := []Length{100 * um, 120 * um, 150 * um, 180 * um, 300 * um, 400 * um, 500 * um}
	for _, c := range []struct{ standard, mark, measured, wanted, fit float64 }{
		{28.60, 5, 28.08, 0.57, 0.55},
		{29.10, 5, 28.25, 0.90, 0.88},
	} {
		q := Question{Measured: LengthOf(c.measured, MM), Target: LengthOf(c.standard+c.mark/100, MM), Effect: 1, Places: 1, MostPerPlace: 3, Tray: sizes}
		q.Low, q.High = q.Target, q.Target
		a, err := PickShims(q)
		require.NoError(t, err)
		assert.Equal(t, LengthOf(c.wanted, MM), a.Wanted)
		// They round down to what is sure to be made up; so it must be.
		q.Target = q.Measured + LengthOf(c.fit, MM)
		q.Low, q.High = q.Target, q.Target
		a, err = PickShims(q)
		require.NoError(t, err)
		assert.Equal(t, LengthOf(c.fit, MM), a.Best.Total)
	}
}

// A published truck transmission manual, end play of a countershaft
// (public manual archive, scan 95): specified 0.06 to 0.11,
// measured 0.47: the pack must be within 0.36 and 0.41.
func TestPublishedEndPlay(t *testing.T) {
	q := Question{Measured: 470 * um, Target: 110 * um, Low: 60 * um, High: 110 * um, Effect: -1, Places: 1, MostPerPlace: 1}
	fits := func(thickness Length) bool {
		q.Tray = []Length{thickness * um}
		a, err := PickShims(q)
		require.NoError(t, err)
		return a.Reaches
	}
	for thickness, want := range map[Length]bool{359: false, 360: true, 385: true, 410: true, 411: false} {
		assert.Equal(t, want, fits(thickness), "%d µm", thickness)
	}
	q.Tray = []Length{360 * um}
	for target, want := range map[Length]Length{110: 360, 60: 410} {
		q.Target = target * um
		a, err := PickShims(q)
		require.NoError(t, err)
		assert.Equal(t, want*um, a.Wanted)
	}
}
