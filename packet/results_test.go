package packet

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/specs"
)

func item(t testing.TB, r *Results, name string) *Item {
	t.Helper()
	for _, it := range r.Items {
		if it.Name == name {
			return it
		}
	}
	t.Fatalf("no item %s", name)
	return nil
}

func TestDemosMeetTheirSheets(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		r := j.Judge(read(t, j, typed))
		require.Empty(t, r.Missing, name)
		require.Empty(t, r.Slips, name)
		for _, it := range r.Items {
			require.Equal(t, Meets, it.Verdict, "%s %s", name, it.Name)
			require.False(t, it.MissesPrediction(), "%s %s", name, it.Name)
		}
		require.Equal(t, PumpMeets, r.Overall, name)
		require.True(t, r.Invented)
		for _, i := range r.Instruments {
			require.False(t, i.Unknown, i.Name)
		}
	}
}

// Every figure of one adjustment and one bench point, recomputed here by plain
// arithmetic from the typed text alone.
func TestReportAgreesWithASheetDoneByHand(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	r := j.Judge(read(t, j, typed))
	f := func(code string) float64 {
		x, err := strconv.ParseFloat(typed[code], 64)
		require.NoError(t, err, code)
		return x
	}
	deepest := math.Max(f("H1a"), math.Max(f("H1b"), f("H1c")))
	depth := item(t, r, "Plunger depth at its lowest point")
	require.InDelta(t, deepest, *depth.Found, 1e-12)
	out := f("C5") // the foot shim as it came out
	require.Equal(t, calc.Fixed(out, 2)+" → "+calc.Fixed(f("H5"), 2), depth.Change)
	require.InDelta(t, deepest-(f("H5")-out), *depth.Expected, 1e-9)
	require.InDelta(t, f("H7"), *depth.Left, 1e-12)
	require.InDelta(t, f("H7")-*depth.Expected, *depth.Miss, 1e-9)

	var full *Delivery
	for _, d := range r.Left {
		if d.Name == "starting" { // counted over 200 strokes
			full = d
		}
	}
	code := strings.TrimSuffix(full.Code, "m")
	sum := 0.0
	for i := range 4 {
		per := f(code+"."+strconv.Itoa(i+1)) * 1000 / 200
		require.InDelta(t, per, *full.Outlets[i], 1e-9)
		sum += per
	}
	require.Equal(t, calc.Fixed(sum/4, 1), calc.Fixed(*full.Mean, 1))
}

// The acceptance of the issue: one shim reading off by 0.10 mm changes verdict
// and prediction check as the sheet's own arithmetic says.
func TestAShimReadingOffByATenth(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	was := item(t, j.Judge(read(t, j, typed)), "Plunger depth at its lowest point")
	require.False(t, was.MissesPrediction())
	fitted, err := strconv.ParseFloat(typed["H5"], 64)
	require.NoError(t, err)

	typed["H5"] = calc.Fixed(fitted+.10, 2)
	it := item(t, j.Judge(read(t, j, typed)), "Plunger depth at its lowest point")
	require.InDelta(t, *was.Expected-.10, *it.Expected, 1e-9)
	require.InDelta(t, *was.Miss+.10, *it.Miss, 1e-9)
	require.True(t, it.MissesPrediction())

	typed["H5"] = calc.Fixed(fitted, 2)
	now, err := strconv.ParseFloat(typed["H7"], 64)
	require.NoError(t, err)
	typed["H7"] = calc.Fixed(now+.10, 2)
	r := j.Judge(read(t, j, typed))
	it = item(t, r, "Plunger depth at its lowest point")
	require.Equal(t, DoesNotMeet, it.Verdict)
	require.Equal(t, PumpFails, r.Overall)
}

func TestIncompleteIsNeverMeets(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	for _, b := range j.Boxes() {
		if !b.Required || typed[b.Code] == "" {
			continue
		}
		was := typed[b.Code]
		delete(typed, b.Code)
		r := j.Judge(read(t, j, typed))
		require.Equal(t, PumpIncomplete, r.Overall, b.Code)
		require.NotEmpty(t, r.Missing, b.Code)
		typed[b.Code] = was
	}
	// Changed and not measured again is not measured at all.
	delete(typed, "H7")
	r := j.Judge(read(t, j, typed))
	require.Equal(t, PumpIncomplete, r.Overall)
	require.Equal(t, NotMeasured, item(t, r, "Plunger depth at its lowest point").Verdict)

	empty := j.Judge(read(t, j, nil))
	require.Equal(t, PumpIncomplete, empty.Overall)
	require.Zero(t, empty.Met)
}

func TestSafetyItemsAreNamedFirst(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed["H7"] = "3.40"
	for _, p := range j.Final.Points {
		if p.Spec.Kind == specs.ShutOff {
			typed[p.Outlets[1].Code] = "0.4"
		}
	}
	for _, b := range j.Safety {
		typed[b.Code] = "leaks"
	}
	r := j.Judge(read(t, j, typed))
	require.Equal(t, PumpFails, r.Overall)
	f := r.failing()
	require.GreaterOrEqual(t, len(f), 3)
	require.Contains(t, f[0], "safety: shut-off")
	require.Contains(t, f[1], "safety:")
	require.NotContains(t, f[len(f)-1], "safety:")
}

// A pen's slip on a worked-out box is shown, and the boxes it rests on count.
func TestPenSlips(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed["H2"] = "0.41" // digits swapped: 3.34 − 3.20 is 0.14
	r := j.Judge(read(t, j, typed))
	require.Len(t, r.Slips, 1)
	require.Equal(t, Slip{"H2", "change ( + or − )", 0.41, 0.14}, r.Slips[0])
	typed["H2"] = "0.14"
	require.Empty(t, j.Judge(read(t, j, typed)).Slips)
}

func TestUnequalSpringStacksAreNamed(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed["G6"] = "0.95"
	it := item(t, j.Judge(read(t, j, typed)), "Plunger spring preset")
	require.Contains(t, it.Note, "not the same on both sides")
}

func TestResultsReadBackFromTheirJSON(t *testing.T) {
	j, typed := demoJob(t, "prairie")
	r := j.Judge(read(t, j, typed))
	data, err := r.JSON()
	require.NoError(t, err)
	var back Results
	require.NoError(t, json.Unmarshal(data, &back))
	require.Equal(t, r.Overall, back.Overall)
	require.Len(t, back.Items, len(r.Items))
}

// Sources: JCGM 100 4.3.7 (rectangular limits), 6.2.1 with k = 1.96 (normal,
// 95 %): ±0.005 mm permissible and 0.01 mm resolution give
// u² = 0.005²/3 + 0.005²/3 and U = 1.96·u = 0.0080 mm.
func TestInstrumentUncertainty(t *testing.T) {
	mm := calc.Unit{Symbol: "mm", Kind: calc.LengthKind, Factor: 1}
	shop := &specs.Shop{Instruments: []*specs.Instrument{{Name: "depth micrometer",
		Resolution: calc.Quantity{Value: .01, Unit: mm}, Permissible: calc.Quantity{Value: .005, Unit: mm}}}}
	g := &judge{shop: shop, used: map[string]bool{}}
	u, ok := g.instrument("depth micrometer", mm)
	require.True(t, ok)
	require.InDelta(t, math.Sqrt(2*.005*.005/3), u, 1e-12)
	require.InDelta(t, .0080, expanded(u), 5e-5)
}
