package packet

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
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
	out := f(adjustment(t, j.Plan, specs.PlungerDepth).Out[0].Code) // the foot shim as it came out
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
	oil, err := calc.VCF(825, f(strings.TrimSuffix(j.Final.point("full load, rated speed").Mean.Code, "m")+"t"), 40) // blank: as in the row above
	require.NoError(t, err)
	require.Less(t, oil, .999)
	sum := 0.0
	for i := range 4 {
		per := (f(fmt.Sprint(code, ".", i+1, "a")) + f(fmt.Sprint(code, ".", i+1, "b"))) / 2 * 1000 / 200 * oil
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
	require.Equal(t, InDoubt, it.Verdict)
	require.Equal(t, PumpUndecided, j.Judge(read(t, j, typed)).Overall)

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
			typed[p.First[1].Code] = "0.4"
		}
	}
	for _, k := range j.Looks {
		typed[k.Box.Code] = k.Box.Choices[len(k.Box.Choices)-1]
	}
	r := j.Judge(read(t, j, typed))
	require.Equal(t, PumpFails, r.Overall)
	safety, other := r.failing()
	require.GreaterOrEqual(t, len(safety), 4)
	require.Contains(t, safety[0], "safety: shut-off")
	require.NotEmpty(t, other)
	require.NotContains(t, strings.Join(other, " "), "safety:")
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
	r := j.Judge(read(t, j, typed))
	it := item(t, r, "Plunger spring preset")
	require.Contains(t, it.Note, "not the same on both sides")
	require.Equal(t, DoesNotMeet, it.Verdict)
	require.Equal(t, PumpFails, r.Overall)
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
	b := &Box{Code: "H1", Kind: Number, Unit: mm, Decimals: 2, Instrument: "depth micrometer"}
	g := &judge{values: newValues(&Readings{Entries: map[string]Entry{"H1": {Text: "6.02", Number: 6.02}}}), shop: shop, used: map[string]bool{}}
	var it Item
	it.setU(g.sources(b))
	require.InDelta(t, 1.96*math.Sqrt(2*.005*.005/3), *it.U, 1e-5)
	require.InDelta(t, .0080, *it.U, 5e-5)
	require.Equal(t, []string{"depth micrometer"}, g.order)

	// Not in the shop file: nothing is known, and nothing is decided.
	b.Instrument = "yardstick"
	it = Item{Low: ptr(6), High: ptr(6.1), Left: ptr(6.05)}
	it.setU(g.sources(b))
	it.decide()
	require.Equal(t, TooClose, it.Verdict)
}

// Common practice, no source: the wrong split of the pack is a wrong travel
// stop, whatever its total.
func TestPackSplitTheWrongWayFails(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	a := adjustment(t, j.Plan, specs.TimingPack)
	at, in := a.Tries[0].Fitted[0].Code, a.Tries[0].Fitted[1].Code
	typed[at], typed[in] = typed[in]+" !", typed[at]
	it := item(t, j.Judge(read(t, j, typed)), "Timing shim pack")
	require.Equal(t, DoesNotMeet, it.Verdict)
	require.Contains(t, it.Note, "at the piston, where the sheet wants 0.60")
}

// The total that the timing run asks for takes the place of the sheet's.
func TestPackTotalFromTheTimingRun(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	a := adjustment(t, j.Plan, specs.TimingPack)
	typed[a.Total.Code] = "1.80"
	it := item(t, j.Judge(read(t, j, typed)), "Timing shim pack")
	require.Equal(t, DoesNotMeet, it.Verdict, "1.60 fitted where 1.80 is asked for")
	typed[a.Tries[1].Fitted[0].Code], typed[a.Tries[1].Fitted[1].Code] = "0.60", "1.20"
	it = item(t, j.Judge(read(t, j, typed)), "Timing shim pack")
	require.Equal(t, Meets, it.Verdict)
	require.Contains(t, it.Note, "1.80")
}

// Shut-off must be zero: one drop from one outlet fails it, however the mean
// rounds.
func TestShutOffIsSeenNotMeasured(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	for _, p := range j.Final.Points {
		if p.Spec.Kind == specs.ShutOff {
			p.Spec.Strokes = 1000 // so that a mean of 0.025 rounds to 0.0
			typed[p.First[2].Code] = "0.1"
		}
	}
	r := j.Judge(read(t, j, typed))
	it := item(t, r, "shut-off")
	require.Equal(t, DoesNotMeet, it.Verdict)
	require.Equal(t, PumpFails, r.Overall)
}

// A verdict does not hang on the limits' having been typed without decimals.
func TestLimitsWithoutDecimals(t *testing.T) {
	intake, spec, shop := demoFiles(t, "limits: [35.0 cm³/1000, 37.0 cm³/1000]", "limits: [35 cm³/1000, 37 cm³/1000]", "spread: 2.0 cm³/1000\n      as found: yes\n    - name: full load, low", "spread: 2 cm³/1000\n      as found: yes\n    - name: full load, low")
	j, err := NewJob("26-0412-B", intake, spec, shop)
	require.NoError(t, err)
	_, typed := demoJob(t, "saltmarsh")
	p := j.Final.point("full load")
	once(typed, p, "38.6", "36.2", "37.4", "37.6")
	r := j.Judge(read(t, j, typed))
	require.Equal(t, 37.5, *item(t, r, "full load").Left)
	require.Equal(t, DoesNotMeet, item(t, r, "full load").Verdict)
	require.Equal(t, 2.4, *item(t, r, "full load, spread").Left)
}

func TestOnePersonMaySignOnlyOnce(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	last := j.Stages[len(j.Stages)-1]
	typed[last.Second.Code] = strings.ToLower(strings.ReplaceAll(typed[last.Done.Code], ".", ""))
	r := j.Judge(read(t, j, typed))
	require.Equal(t, PumpIncomplete, r.Overall)
	require.Equal(t, "the same person signed twice", r.Missing[0].Why)
}

func TestNotApprovedIsNotReleased(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed[j.Approval.Code] = "not given"
	require.Equal(t, PumpIncomplete, j.Judge(read(t, j, typed)).Overall)
}

func TestDatesBeforeTheJobAreDoubted(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed[j.Stages[3].When.Code] = "2020-01-01"
	d := j.Doubts(read(t, j, typed))
	require.Len(t, d, 1)
	require.Contains(t, d[0].String(), "the pump came in on 2026-10-05")
}

// Found well inside its limits but split the wrong way, or unlike left and
// right: what was never refitted is judged too.
func TestWrongStacksAsFoundFail(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	pack, preset := adjustment(t, j.Plan, specs.TimingPack), adjustment(t, j.Plan, specs.SpringPreset)
	for _, a := range []*Adjustment{pack, preset} {
		for _, try := range a.Tries {
			for _, b := range try.boxes() {
				delete(typed, b.Code)
			}
		}
	}
	typed[pack.Out[0].Code] = "0.90"
	for i, term := range pack.Out[1].From.Terms {
		typed[term.Box.Code] = []string{"0.70", "", ""}[i]
	}
	typed[preset.Measured.Code] = "6.20"
	typed[preset.Out[0].From.Terms[0].Box.Code] = "0.80"
	typed[preset.Out[1].From.Terms[0].Box.Code] = "1.00"
	r := j.Judge(read(t, j, typed))
	require.Equal(t, DoesNotMeet, item(t, r, "Timing shim pack").Verdict)
	require.Equal(t, DoesNotMeet, item(t, r, "Plunger spring preset").Verdict)
}

// The second try is worked out from the first, with the first's uncertainty;
// where the first was left blank, from what was found.
func TestSecondTry(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	a := adjustment(t, j.Plan, specs.EndFloat)
	one, two := a.Tries[0], a.Tries[1]
	typed[a.Repeats[0].Code], typed[a.Repeats[1].Code] = "0.40", "0.65"
	typed[one.Fitted[0].Code], typed[one.Blades[0].Code], typed[one.Blades[1].Code] = "2.70", "0.40", "0.45"
	typed[two.Fitted[0].Code], typed[two.Blades[0].Code], typed[two.Blades[1].Code] = "2.80", "0.20", "0.25"
	it := item(t, j.Judge(read(t, j, typed)), "Flyweight end float")
	require.InDelta(t, 0.43-0.10, *it.Expected, 1e-9) // 0.425 is written 0.43
	require.InDelta(t, -0.10, *it.Miss, 1e-9)         // 0.225 is written 0.23
	require.InDelta(t, 0.0432, *it.MissAllow, 1e-4)
	require.Equal(t, InDoubt, it.Verdict)

	for _, b := range one.boxes() {
		delete(typed, b.Code)
	}
	it = item(t, j.Judge(read(t, j, typed)), "Flyweight end float")
	require.InDelta(t, 0.53-(2.80-2.50), *it.Expected, 1e-9)
}

func TestLeakFoundIsReported(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed[j.AsFound.point("shut-off").First[1].Code] = "0.4"
	it := item(t, j.Judge(read(t, j, typed)), "shut-off")
	require.True(t, it.FoundOut)
	require.Equal(t, Meets, it.Verdict)

	// Another outlet not read: there is no mean, and there was a leak.
	delete(typed, j.AsFound.point("shut-off").First[0].Code)
	r := j.Judge(read(t, j, typed))
	require.True(t, item(t, r, "shut-off").FoundOut)
	_, err := j.ReportPDF(r)
	require.NoError(t, err)
}

// Source: JCGM 100 5.1.2, n = n1 + (q1 − 10)(n2 − n1)/(q1 − q2): the tachometer,
// and the counted deliveries times the slope, 25 rev/min over 1.6 + 1.3 or, with
// the second count at the very value, over 1.6.
func TestRunOutUncertainty(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	name := "governor run-out at 10 cm³/1000"
	b := j.Final.RunOut[0].Box.From.Terms
	for i, t := range b {
		delete(typed, t.Box.Code)
		if i%2 == 1 {
			delete(typed, t.Box.From.Point.First[0].Code) // the means as the pen wrote them
		}
	}
	typed[b[0].Box.Code], typed[b[1].Box.Code], typed[b[2].Box.Code] = "2340", "11.6", "2365"
	// graduates ±0.2, an error common to the four that are added; each read to 0.2;
	// the mean written to 0.1
	uq := math.Sqrt(.2*.2/3 + .1*.1/3/4 + .05*.05/3)
	un := math.Sqrt(3.*3/3 + .5*.5/3) // tachometer ±3, read to 1
	once(typed, j.Final.point("governing begins"), "19.5", "19.9", "20.1", "20.3")
	for q2, slope := range map[string]float64{"8.7": 25 / 2.9, "10.0": 25 / 1.6} {
		typed[b[3].Box.Code] = q2
		it := item(t, j.Judge(read(t, j, typed)), name)
		require.InDelta(t, 1.96*math.Hypot(un, slope*uq), *it.U, 2e-3, q2)
	}
	typed[b[1].Box.Code], typed[b[3].Box.Code] = "10.0", "8.7"
	it := item(t, j.Judge(read(t, j, typed)), name)
	first, err := strconv.ParseFloat(typed[b[0].Box.Code], 64)
	require.NoError(t, err)
	require.Equal(t, first, *it.Left)
}

// What was found is judged by its own uncertainty, also when nothing is left.
func TestFoundHasItsOwnUncertainty(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	for i, r := range j.AsFound.Pressure {
		typed[r.Box.Code] = "2.55" // limit 2.6, ±0.09
		for k, left := range j.Final.Pressure {
			if i == 0 && left.Spec == r.Spec {
				delete(typed, left.Box.Code)
				require.False(t, j.Judge(read(t, j, typed)).Items[7+k].FoundOut)
			}
		}
	}
}

// A mean by the pen alone is no surer than one from readings.
func TestPenMeanIsNoSurer(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	p := j.Final.point("full load")
	delete(typed, p.First[0].Code)
	delete(typed, p.Second[0].Code)
	typed[p.Mean.Code] = "36.9" // limit 37.0
	it := item(t, j.Judge(read(t, j, typed)), "full load")
	require.NotNil(t, it.U)
	require.Equal(t, TooClose, it.Verdict)
}

// once writes one reading for each outlet of a point, at the reference
// temperature and over the sheet's strokes.
func once(typed map[string]string, p *Point, readings ...string) {
	for i, b := range p.First {
		typed[b.Code] = readings[i]
	}
	for _, b := range append(slices.Clone(p.Second), p.Counted) {
		delete(typed, b.Code)
	}
	typed[p.Oil.Code] = p.bench.Conditions.Reference.String()
}

func TestAdviceFollowsTheTotalAskedFor(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed[adjustment(t, j.Plan, specs.TimingPack).Total.Code] = "1.80"
	it := item(t, j.Judge(read(t, j, typed)), "Timing shim pack")
	require.Equal(t, "1.80 wanted; at the piston 0.60, in the cap 1.00 + 0.20", it.Advice)
}

func TestBladesTheWrongWayRoundAndDecimalsTooMany(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	a := adjustment(t, j.Plan, specs.EndFloat)
	typed[a.Repeats[0].Code], typed[a.Repeats[1].Code] = "0.55", "0.50"
	typed["H1a"] = "3.3349"
	d := j.Doubts(read(t, j, typed))
	require.Len(t, d, 2)
	require.Contains(t, d[0].String(), "decimal places of the box: 2")
	require.Contains(t, d[1].String(), "the blade that goes, "+a.Repeats[0].Code+", is 0.55")
}

// The outlet that makes the spread too wide is named: 34.0, 34.2 and 34.2 have
// 34.13 as their mean, and 30.8 lies 9.8 % below it.
func TestOutletApart(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	p := j.AsFound.point("full load")
	once(typed, p, "34.0", "34.2", "30.8", "34.2")
	r := j.Judge(read(t, j, typed))
	a := r.Found[0].Apart
	require.NotNil(t, a)
	require.Equal(t, "3", a.Outlet)
	require.InDelta(t, -9.7656, a.Percent, 5e-5)
	require.Contains(t, strings.Join(r.found(), "\n"), "Outlet 3 gives 10 % less than the others, at 1200 and 2100 rev/min")
	for _, d := range r.Left {
		require.Nil(t, d.Apart, "%s is within its spread", d.Name)
	}
	// Two far from two: none of them is the one that does not belong.
	once(typed, p, "30.6", "34.2", "30.8", "34.2")
	require.Nil(t, j.Judge(read(t, j, typed)).Found[0].Apart)
}

// A shop of another language judges alike, and prints its own decimal mark and
// dates; what a program reads of the verdicts stays the same. The short date is
// that of DIN 5008, from memory.
func TestReportInTheShopsLanguage(t *testing.T) {
	for _, name := range []string{"as it is", "with much out"} {
		j, typed := demoJob(t, "saltmarsh")
		if name != "as it is" {
			typed["H7"] = "3.40"                                               // depth too large
			typed["G10"] = ""                                                  // not measured again
			typed[j.Final.Travel[0].Box.Code] = "0.4"                          // timing late
			typed[j.Final.Points[0].Second[2].Code] = "20.0"                   // one outlet apart
			typed[j.Final.Points[0].First[2].Code] = "20.0"                    //
			typed[j.Final.Points[len(j.Final.Points)-1].First[0].Code] = "0.2" // passes fuel
		}
		english := j.Judge(read(t, j, typed))
		intake, spec, shop := demoFiles(t, "language: en", "language: de", "decimal mark: point", "decimal mark: comma")
		german, err := NewJob(j.Number, intake, spec, shop)
		require.NoError(t, err)
		r := german.Judge(read(t, german, typed))

		require.Equal(t, english.Overall, r.Overall)
		require.Len(t, r.Items, len(english.Items))
		for i, it := range r.Items {
			was := english.Items[i]
			require.Equal(t, []any{was.Code, was.Unit, was.Left, was.U, was.P, was.Verdict, was.Wanted}, []any{it.Code, it.Unit, it.Left, it.U, it.P, it.Verdict, it.Wanted})
		}
		require.Len(t, r.Now.Hints, len(english.Now.Hints))

		point := regexp.MustCompile(`\d\.\d`)
		printed := func(text string) string { // without box codes, dates, and what was typed
			text = strings.ReplaceAll(text, "640.00", "")
			return regexp.MustCompile(`\b[A-Z]\d+\.\d+|\d\d\.\d\d\.\d{4}`).ReplaceAllString(text, "")
		}
		text := reportText(t, german, r)
		require.Contains(t, text, "08.10.2026", name)
		require.NotRegexp(t, point, printed(text), name)
		for _, asFound := range []bool{true, false} {
			advice, _ := r.Advice(asFound)
			require.NotRegexp(t, point, printed(advice), name)
			plain, _ := english.Advice(asFound)
			require.NotContains(t, plain, "§")
		}
	}
}
