package packet

import (
	"maps"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/specs"
)

// The two stacks are alike when the reading is taken: common practice, no
// source. Stacks that came out unlike fail the preset unless they were made
// alike, and then those are what the reading rests on.
func TestStacksMadeAlike(t *testing.T) {
	j, demo := demoJob(t, "saltmarsh")
	a := adjustment(t, j.Plan, specs.SpringPreset)
	typed := maps.Clone(demo)
	for _, try := range a.Tries {
		for _, b := range try.boxes() {
			delete(typed, b.Code)
		}
	}
	verdict := func() Verdict {
		for _, it := range j.Judge(read(t, j, typed)).Items {
			if it.Code == a.Measured.Code {
				return it.Verdict
			}
		}
		t.Fatal("no preset")
		return ""
	}
	left, right := a.Out[0].From.Terms, a.Out[1].From.Terms
	for _, terms := range [][]Term{left, right} {
		for _, x := range terms {
			delete(typed, x.Box.Code)
		}
	}
	typed[a.Measured.Code] = a.Measured.Decimal(6.20)
	typed[left[0].Box.Code], typed[right[0].Box.Code] = "0.80", "0.95"
	require.Equal(t, DoesNotMeet, verdict())
	typed[a.Alike[0].Code], typed[a.Alike[1].Code] = "0.95", "0.95"
	require.Equal(t, Meets, verdict())
	x, ok := newValues(read(t, j, typed)).number(a.Present)
	require.True(t, ok)
	require.Equal(t, 0.95, x)
}

// Of a leak test taken again the last one counts.
func TestLeakTestAgain(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	first := j.Looks[0].Box
	typed[first.Code] = "leaks"
	require.Equal(t, PumpFails, j.Judge(read(t, j, typed)).Overall)
	typed[first.Again[0].Code] = "weeps"
	require.Equal(t, PumpFails, j.Judge(read(t, j, typed)).Overall)
	typed[first.Again[1].Code] = "dry"
	require.Equal(t, PumpMeets, j.Judge(read(t, j, typed)).Overall)
}

// The lock nut is tight before the shaft is measured again (common practice, no
// source), so its torque stands before the refit on the sheet.
func TestNutIsTightBeforeTheShaftIsMeasuredAgain(t *testing.T) {
	for _, name := range []string{"ostrel-d4.yaml", "vessant-s6.yaml"} {
		p := demoPlan(t, name)
		a := adjustment(t, p, specs.ShaftProjection)
		order := map[*Box]int{}
		for i, b := range p.Boxes() {
			order[b] = i
		}
		for _, q := range p.Torques {
			if q.Spec.At == specs.AtGovernor {
				require.Greater(t, order[q.Box], order[a.Wanted])
				require.Less(t, order[q.Box], order[a.Tries[0].Fitted[0]])
			}
		}
	}
}

// The block's size is the sheet's, or there is a box to write it in.
func TestSpacerBlock(t *testing.T) {
	require.Contains(t, said(demoPlan(t, "ostrel-d4.yaml"), "K"), "Spacer block of 12.00 mm between")
	require.Nil(t, adjustment(t, demoPlan(t, "ostrel-d4.yaml"), specs.StartingGap).Block)
	require.NotNil(t, adjustment(t, demoPlan(t, "vessant-s6.yaml"), specs.StartingGap).Block)
	require.Contains(t, said(demoPlan(t, "vessant-s6.yaml"), "H"), "3.5 psi on the inlet gauge, to the head's inlet passage")
}
