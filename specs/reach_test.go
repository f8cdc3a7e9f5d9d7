package specs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"shimcard/calc"
)

// Worked by hand, in hundredths of a millimetre.
func TestReach(t *testing.T) {
	const h = 10 * calc.Micrometre
	for _, c := range []struct {
		name  string
		sizes []calc.Length
		most  int
		width calc.Length
		run   calc.Length
		ok    bool
	}{
		{"two sizes as far apart as the limits are wide", []calc.Length{50, 55}, 1, 5, 5, true},
		{"two sizes for limits twice as wide", []calc.Length{50, 55}, 1, 10, 5, false},
		{"one size", []calc.Length{50}, 1, 5, 0, false},
		{"steps as wide as the limits", []calc.Length{100, 200, 300}, 1, 100, 200, true},
		{"steps wider than the limits", []calc.Length{100, 200, 300}, 1, 90, 0, false},
		// 50 55 | 100 105 110: a gap of 45 between one shim and two
		{"pairs that leave a gap", []calc.Length{50, 55}, 2, 20, 10, false},
		// 50 70 | 100 120 140 150 170 190 210
		{"threes that close up", []calc.Length{50, 70}, 3, 20, 110, true},
	} {
		sizes := make([]calc.Length, len(c.sizes))
		for i, s := range c.sizes {
			sizes[i] = s * h
		}
		run, ok := reach(sizes, c.most, c.width*h)
		assert.Equal(t, c.ok, ok, c.name)
		assert.Equal(t, c.run*h, run, c.name)
	}
}

// A tray of many odd sizes, eight deep, is passed without counting every stack.
func TestReachIsBounded(t *testing.T) {
	var sizes []calc.Length
	for i := range 400 {
		sizes = append(sizes, calc.Millimetre+calc.Length(i*i*i))
	}
	_, ok := reach(sizes, 8, 1)
	assert.True(t, ok)
}
