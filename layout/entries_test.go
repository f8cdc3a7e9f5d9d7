package layout

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// entries is a table of n entries of so many pen lines each, their words said
// in the first line only, or in every line where again is set.
func entries(n, lines int, again bool) PenTable {
	t := PenTable{Cols: []PenCol{{Head: "speed"}, {Head: "what", Weight: 2}, {Head: "1"}, {Head: "°C\nmean"}, {Head: "strokes\nspread"}, {Head: "limits"}}}
	for i := range n {
		for j := range lines {
			r := PenTableRow{Cells: make([]PenCell, 6), Keep: j < lines-1}
			if j == 0 || again {
				r.Cells[0] = PenCell{Text: fmt.Sprintf("speed%d", i), Bold: true}
			}
			if j == 0 {
				r.Cells[1] = PenCell{Text: "full load", Sub: "taken twice, the second reading below the first"}
				r.Cells[5] = PenCell{Text: "34–37"}
			}
			for k := range 3 {
				r.Cells[2+k].Pen = &Pen{Code: fmt.Sprintf("M%d.%d.%d", i, j, k), Before: 2, After: 1, Computed: j == 1 && k == 2}
			}
			t.Rows = append(t.Rows, r)
		}
	}
	return t
}

// An entry's lines are on one page whatever is above them, its words are
// printed once, in the middle, and no heading is left without its table.
func TestEntriesStayWhole(t *testing.T) {
	for _, lines := range []int{2, 3, 4} {
		for above := 0.0; above < 60; above += 7 {
			d := New(A4, Meta{}, Frame{Continued: "continued"})
			d.Add(Section{Key: "k", NewPage: true, Blocks: []Block{Band{Mark: "M", Title: "Bench"}, Space{120 + above}, Heading{Text: "Readings"}, entries(13, lines, above > 30)}})
			path := write(t, d, "entries")
			words, _, _ := wordsOf(t, path)
			page := map[string]int{}
			top, foot := map[string]float64{}, map[string]float64{}
			for _, b := range d.last.boxes {
				entry := b.code[:strings.Index(b.code, ".")]
				if p, ok := page[entry]; ok {
					require.Equal(t, p, b.page, "%s is on two pages", entry)
				} else {
					page[entry], top[entry] = b.page, b.y
				}
				foot[entry] = b.y + b.h
				require.GreaterOrEqual(t, b.h, 9.0)
			}
			require.Len(t, page, 13)
			seenOnce := map[string]int{}
			var heading, first int
			for _, w := range words {
				if i, ok := strings.CutPrefix(w.text, "speed"); ok && i != "" {
					seenOnce[i]++
					require.Equal(t, page["M"+i], w.page)
					require.InDelta(t, (top["M"+i]+foot["M"+i])/2, (w.top+w.foot)/2, 0.6)
				}
				switch w.text {
				case "Readings":
					heading = w.page
				case "speed0":
					first = w.page
				}
			}
			require.Len(t, seenOnce, 13)
			for i, n := range seenOnce {
				require.Equal(t, 1, n, "speed%s", i)
			}
			require.Equal(t, heading, first, "a heading alone")
		}
	}
}

// The rule between the lines of an entry is thinner and lighter than the one
// between entries, and both are black on a copy.
func TestRulesOfEntries(t *testing.T) {
	d := New(A4, Meta{}, Frame{})
	d.Add(Section{Key: "k", Blocks: []Block{entries(3, 2, false)}})
	path := write(t, d, "rules")
	strength := func(p stroke) float64 { return p.weight * (1 - p.grey) }
	boxes := d.last.boxes
	all := strokes(t, path)
	p := picture(t, path, 1, 100)
	at := func(b box, y float64) float64 {
		most := 0.0
		for _, s := range all {
			if !s.fill && s.foot-s.top < 0.02 && math.Abs(s.top-y) < 0.05 && s.leftmost < b.x+1 && s.right > b.x+b.w-1 {
				most = max(most, strength(s))
			}
		}
		black := false
		for dy := -1; dy <= 1; dy++ {
			black = black || p.pix[(int(y/p.mm)+dy)*p.w+int((b.x+b.w/2)/p.mm)] < 128
		}
		require.True(t, black, "no rule on a copy at %.1f mm", y)
		return most
	}
	for _, b := range boxes {
		if strings.HasSuffix(b.code, ".0.0") {
			inner, outer := at(b, b.y+b.h), at(b, b.y)
			require.Positive(t, inner)
			if b.code != "M0.0.0" { // under the heads
				require.Less(t, inner, outer/2, b.code)
			}
		}
	}
	words, _, _ := wordsOf(t, path)
	y := func(text string) float64 {
		i := slices.IndexFunc(words, func(w seen) bool { return w.text == text })
		require.GreaterOrEqual(t, i, 0)
		return words[i].top
	}
	require.Greater(t, y("mean"), y("°C")+2, "a head of two words, one above the other")
}

// Findings part only between them, their numbers go on, and a heading has at
// least one of them under it.
func TestFindings(t *testing.T) {
	for above := 0.0; above < 200; above += 9 {
		d := New(Letter, Meta{}, Frame{Continued: "continued"})
		var b Findings
		for i := range 14 {
			b.Items = append(b.Items, Finding{fmt.Sprintf("Finding%d stands in one line", i+1), []string{fmt.Sprintf("rests%d on: **M1**", i+1), strings.Repeat("look at, in this order ", 9), fmt.Sprintf("check: end%d", i+1)}})
		}
		d.Add(Section{Key: "k", NewPage: true, Blocks: []Block{Band{Mark: "R"}, Space{above}, Heading{Text: "Findings"}, b}})
		words, _, _ := wordsOf(t, write(t, d, "findings"))
		page, number := map[string]int{}, 0
		for _, w := range words {
			page[w.text] = w.page
			if w.text == fmt.Sprintf("%d.", number+1) {
				number++
			}
		}
		require.Equal(t, 14, number)
		for i := range 14 {
			n := fmt.Sprint(i + 1)
			require.Positive(t, page["Finding"+n])
			require.Equal(t, page["Finding"+n], page["rests"+n])
			require.Equal(t, page["Finding"+n], page["end"+n])
			require.Equal(t, page["Finding"+n], page[n+"."])
		}
		require.Equal(t, page["Findings"], page["Finding1"], "a heading alone")
	}
}
