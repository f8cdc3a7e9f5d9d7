package specs

import (
	"slices"

	"shimcard/calc"
)

// mostTotals bounds the search below. A tray with more totals than this is
// fine enough for any limits a sheet states.
const mostTotals = 4000

// reach tells whether a tray can bring a dimension inside limits of the given
// width, of shim, from wherever it may stand.
//
// Take the thicknesses that stacks of the tray can have, in order, and join
// those that lie no further apart than the limits are wide: within such a run
// no wanted thickness falls between two stacks. The tray reaches when one run
// is itself at least as long as the limits are wide, so that a dimension found
// half that width outside the target, either way, can still be put right.
// run is the longest there is, in thickness.
func reach(sizes []calc.Length, most int, width calc.Length) (run calc.Length, ok bool) {
	totals := map[calc.Length]bool{}
	last := map[calc.Length]bool{0: true}
	for range most {
		next := map[calc.Length]bool{}
		for t := range last {
			for _, s := range sizes {
				next[t+s] = true
				totals[t+s] = true
			}
			if len(totals) > mostTotals {
				return 0, true
			}
		}
		last = next
	}
	sorted := make([]calc.Length, 0, len(totals))
	for t := range totals {
		sorted = append(sorted, t)
	}
	slices.Sort(sorted)
	for i := 0; i < len(sorted); {
		j := i
		for j+1 < len(sorted) && sorted[j+1]-sorted[j] <= width {
			j++
		}
		run = max(run, sorted[j]-sorted[i])
		i = j + 1
	}
	return run, run >= width
}
