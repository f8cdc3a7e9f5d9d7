package layout

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// keep is a folder for looking at the sample: go test -run Sample -keep /tmp/out
var keep = flag.String("keep", "", "folder to keep the sample documents and their pictures in")

func ptr[T any](v T) *T { return &v }

// sample is a document with every block. All of it is invented.
func sample(p Paper) *Doc {
	d := New(p, Meta{
		Title: "Sample of every block", Subject: "invented", Author: "Saltmarsh Injection Bench", Language: "en-GB",
		Date:        time.Date(2026, 10, 2, 9, 30, 0, 0, time.UTC),
		Attachments: []Attachment{{Name: "job.json", Description: "the job as data", Data: []byte(`{"job":"26-0412-B"}`)}},
	}, Frame{
		Over: "Saltmarsh Injection Bench · Job traveller", Number: "26-0412-B",
		Lines:  []string{"**Ostrel D4**, right-hand, 4 outlets   serial **7719-204**", "Brackwater Growers, harvester no. 3"},
		Notice: "INVENTED FIGURES – demonstration only",
		Symbol: func(page int) string { return fmt.Sprintf("26-0412-B/%d", page) },
		Foot:   "printed 2026-10-02 09:30 UTC", PageOf: "page %d of %d", Continued: "continued",
	})
	mm := func(code, label string) Pen {
		return Pen{Code: code, Label: label, Before: 1, After: 2, Unit: "mm"}
	}
	calc := func(p Pen) Pen { p.Computed = true; return p }
	sign := SignOff{Fields: []Pen{
		{Code: "H10", Label: "done by", Kind: PenInitials}, {Code: "H11", Label: "date and time", Kind: PenLine},
		{Code: "H12", Label: "indicator no.", Kind: PenLine},
	}, Tick: "inside limits, on to J"}

	// an adjustment page
	chart := Chart{Corner: `H1 \ H3`, Outline: true}
	for i := range 19 {
		chart.Head = append(chart.Head, fmt.Sprintf("%.2f", 1.90+0.05*float64(i)+0.10))
	}
	for i := range 15 {
		m := 3.06 + 0.02*float64(i)
		r := ChartRow{Head: fmt.Sprintf("%.2f", m)}
		for j := range chart.Head {
			c := ChartCell{Text: fmt.Sprintf("%.2f", 2+0.05*float64(j)+math.Round((m-3.2)*20)/20)}
			if m > 3.145 && m < 3.255 {
				c = ChartCell{Text: "·", Shade: true}
				if j%4 == 2 {
					c.Text = "keep"
				}
			} else if i+j < 4 {
				c = ChartCell{Text: "–", Faint: true}
			}
			r.Cells = append(r.Cells, c)
		}
		chart.Rows = append(chart.Rows, r)
	}
	d.Add(Section{Key: "H", Bookmark: "H  Plunger depth at its lowest point", NewPage: true, Blocks: []Block{
		Band{"H", "Plunger depth at its lowest point", "Sets where the stroke begins. The shim under the plunger foot decides it.", "3.20 mm", "limits 3.15 – 3.25", "**Zone to keep: 3.17 – 3.23 mm**, its ends included: the limits less the uncertainty of a reading, ±0.013."},
		Columns{Weights: []float64{5, 4}, Cols: [][]Block{
			{Steps{Items: []Step{
				{"Head held by two screws only. Central plug out, dial indicator with its foot on the machined face; set it to zero on a flat block.", ""},
				{"Turn the drive by hand until the reading stops growing, and a little past: the deepest reading counts. Take it three times.", ""},
				{"Outside the limits: head off, change the foot shim (chart), head on, measure again.", "Springs are under load when the head comes off: loosen the two screws evenly, hand on the head, eye protection on."},
			}}},
			{Boxed{[]Block{Figure{Height: 48, Draw: sampleFigure}}}},
		}},
		Heading{Text: "Measure"},
		PenRow{[]Pen{mm("H1a", "first"), mm("H1b", "second"), mm("H1c", "third"), calc(mm("H1", "deepest of the three"))}},
		Heading{Text: "Work it out"},
		Arith{[]Term{
			{Pen: ptr(mm("H1", "measured"))}, {Sign: "−", Fixed: "3.20", Label: "target"},
			{Sign: "=", Pen: &Pen{Code: "H2", Label: "change", Before: 1, After: 2, Sign: true, Unit: "mm", Computed: true}},
			{Sign: "+", Pen: ptr(mm("H3", "shim taken out"))}, {Sign: "=", Pen: ptr(calc(mm("H4", "shim wanted")))},
		}},
		Para{Text: "worked line: 3.34 − 3.20 = +0.14; 0.14 + 2.25 = 2.39 wanted; nearest in the tray 2.40; depth then 3.34 − 0.15 = 3.19, inside the limits", Size: 8, Grey: true},
		Heading{Text: "Or read it off: measured down the side, shim taken out along the top, shim to fit where they meet (mm)"},
		chart,
		Para{Text: "grey rows: inside the limits, keep the shim. “–”: no shim in the tray reaches the limits; stop and ask.", Size: 8, Grey: true},
		Heading{Text: "Fitted, and measured again", Right: "second try only if the first misses"},
		PenRow{[]Pen{mm("H5", "shim fitted"), mm("H6", "depth now"), mm("H7", "second try: shim"), mm("H8", "depth now")}},
	}, Foot: sign})

	// lists, ticks and every pen
	d.Add(Section{Key: "A", Bookmark: "A  Receive", NewPage: true, Blocks: []Block{
		Band{"A", "Receive", "Who, what pump, what came with it, what was authorised.", "", "", ""},
		TickList{Columns: 2, Pens: []Pen{
			{Code: "A1", Label: "drained and tagged", Kind: PenTick}, {Code: "A2", Label: "openings plugged", Kind: PenTick},
			{Code: "A3", Label: "plate read, rotation checked against the drive end as the plate says it", Kind: PenTick}, {Code: "A4", Label: "customer's parts listed", Kind: PenTick, Printed: "x"},
		}},
		TickList{Pens: []Pen{
			{Code: "A5", Label: "drive shaft", Kind: PenChoice, Choices: []string{"good", "worn", "replace"}},
			{Code: "A6", Label: "cover and levers", Kind: PenChoice, Choices: []string{"good", "worn", "replace"}, Printed: "worn"},
			{Code: "A7", Label: "remarks", Kind: PenLine},
		}},
		Heading{Text: "Every kind of pen"},
		PenRow{[]Pen{
			{Code: "A8", Label: "serial", Kind: PenLine, Width: 50}, {Code: "A9", Label: "initials", Kind: PenInitials},
			{Code: "A10", Label: "received on", Kind: PenDate}, {Code: "A11", Label: "received on", Kind: PenDate, Width: 30, Printed: "2026-10-02"},
			{Code: "A12", Label: "speed", Before: 4, Unit: "rev/min"}, {Code: "A13", Label: "known beforehand", Before: 2, After: 2, Sign: true, Unit: "mm", Printed: "−3.25"},
			{Code: "A14", Label: "turns freely", Kind: PenTick}, {Code: "A15", Label: "seal", Kind: PenChoice, Choices: []string{"dry", "wet"}},
			{Code: "A16", Label: "told us", Kind: PenLine},
		}},
		Caution{Text: "Spray at injection pressure goes through the skin: to hospital at once, even when the wound looks small."},
		Bullets{[]string{"one", "two, **with a bold part** in it, and long enough to be wrapped to a second line because nobody ever keeps remarks short when there is a keyboard in front of him", "three"}},
		Group{[]Block{Para{Text: "A group stays together."}, Para{Text: "This is its second half.", Bold: true}}},
		Boxed{[]Block{Para{Text: "In a box. **Bold** and not."}}},
		Space{2},
		Table{Cols: []Col{{"stage", 3, ""}, {"page", 1, "R"}, {"done by", 2, ""}}, RowHeight: 8, Rows: [][]Cell{
			{{Text: "A  Receive"}, {PageOf: "A"}, {Pen: &Pen{Code: "A20", Kind: PenInitials}}},
			{{Text: "H  Plunger depth"}, {PageOf: "H"}, {Pen: &Pen{Code: "A21", Kind: PenTick, Label: "done"}}},
			{{Text: "M  Bench run"}, {PageOf: "M"}, {Text: "grey", Grey: true}},
		}},
	}, Foot: SignOff{Fields: []Pen{{Label: "customer", Kind: PenLine}, {Label: "date", Kind: PenDate}}}})
	d.Add(Section{Key: "tag", Blocks: []Block{
		TearOff{Cut: "cut here", Height: 26, Blocks: []Block{Columns{Weights: []float64{3, 1}, Cols: [][]Block{
			{Para{Text: "**26-0412-B**", Size: 20}, Para{Text: "Ostrel D4, 7719-204"}}, {Symbol{Text: "26-0412-B/TAG", Size: 26, Level: "H"}},
		}}}},
	}})

	// a bench table over more than one page, a long and a wide chart
	bench := PenTable{Cols: []PenCol{{"speed", "rev/min", 1, 0}, {"what", "", 3, 0}, {"1", "", 1, 0}, {"2", "", 1, 0}, {"3", "", 1, 0}, {"4", "", 1, 0}, {"mean", "work out", 1.2, 0}, {"limits", "", 1.6, 0}}}
	for i := range 22 {
		r := PenTableRow{Cells: []PenCell{{Text: fmt.Sprint(100 * (i + 1)), Bold: true}, {Text: "full load", Sub: "500 strokes"}}}
		for j := range 5 {
			r.Cells = append(r.Cells, PenCell{Pen: &Pen{Code: fmt.Sprintf("M%d", 5*i+j+1), Before: 2, After: 1, Computed: j == 4}})
		}
		bench.Rows = append(bench.Rows, PenTableRow{Cells: append(r.Cells, PenCell{Text: "34.0 – 37.0"})})
	}
	bench.Rows = append(bench.Rows, PenTableRow{Cells: []PenCell{{Text: "0"}, {Text: "shut-off"},
		{Pen: &Pen{Code: "M200", Kind: PenTick}}, {Pen: &Pen{Code: "M201", Kind: PenInitials}}, {Pen: &Pen{Code: "M202", Before: 2, After: 1, Printed: "36.4"}}, {}, {}, {Text: "none"}}})
	wide := Chart{Corner: "down \\ across", Outline: true}
	for j := range 60 {
		wide.Head = append(wide.Head, fmt.Sprintf("%.2f", 1+0.05*float64(j)))
	}
	for i := range 30 {
		r := ChartRow{Head: fmt.Sprintf("%.2f", 3+0.02*float64(i))}
		for j := range wide.Head {
			r.Cells = append(r.Cells, ChartCell{Text: fmt.Sprintf("%.2f", 1+0.02*float64(i)+0.05*float64(j)), Shade: i > 10 && i < 14 && j > 4})
		}
		wide.Rows = append(wide.Rows, r)
	}
	d.Add(Section{Key: "M", Bookmark: "M  Bench run", NewPage: true, Blocks: []Block{
		Band{"M", "Bench run", "In the order the bench is run.", "40 ± 2 °C", "inlet", ""},
		Heading{Text: "Deliveries, cm³ per 1000 strokes"}, bench,
		Heading{Text: "Sketch the governor run-out"},
		SketchGrid{XLabel: "pump speed, rev/min", YLabel: "delivery, cm³ per 1000 strokes", XMin: 2000, XMax: 2600, YMin: 0, YMax: 50, Limits: []LimitBar{{2300, 14, 24}, {2500, math.Inf(-1), 5}}, Height: 70},
		Heading{Text: "A chart too wide for the page"}, wide,
	}, Foot: sign})

	// a report
	strip := func(low, high, target, found, left, u float64) *Strip {
		return &Strip{Low: low, High: high, Target: target, Found: &found, Left: &left, U: u}
	}
	row := func(item, limits, found, shim, left, u string, st *Strip) []Cell {
		return []Cell{{Text: item}, {Text: limits}, {Text: found}, {Text: shim}, {Text: left, Bold: true}, {Text: u}, {Strip: st}, {Text: "meets", Bold: true}}
	}
	inf := math.Inf(1)
	d.Add(Section{Key: "R", Bookmark: "Report", NewPage: true, Blocks: []Block{
		Verdict{"Meets its test sheet", "28 of 28 items met", "Sheet: test sheet 118, issue C, vouched R.T. 2 Oct 2026. An item is called met only when its reading lies inside the limits by more than the reading’s own uncertainty (95 %)."},
		Columns{Cols: [][]Block{
			{Heading{Text: "You told us"}, Para{Text: "Hard to start hot, smoke under load, low on power since harvest."}, Heading{Text: "We found"}, Para{Text: "Plunger sitting 0.09 mm outside its limit, worn governor thrust washer, outlet 3 low by 9 %."}},
			{Heading{Text: "We did"}, Para{Text: "Overhaul with seal kit; six adjustments measured, four re-shimmed; delivery valve of outlet 3 replaced; full bench run."}, Heading{Text: "Please note"}, Para{Text: "Flush the tank and change the filter before fitting; bleed before starting."}},
		}},
		Heading{Text: "Set on the bench, mm"},
		Table{Cols: []Col{{"item", 0, ""}, {"limits", 0, "C"}, {"found", 0, "D"}, {"shim", 0, ""}, {"left", 0, "D"}, {"uncertainty", 0, "R"}, {"limits, found, left", 0, "C"}, {"", 0, "R"}}, RowHeight: 8.6, Rows: [][]Cell{
			row("Timing shim pack, total", "1.55 – 1.65", "1.45", "+0.15", "1.60", "±0.01", strip(1.55, 1.65, 1.6, 1.45, 1.6, 0.01)),
			row("Plunger spring preset", "6.10 – 6.30", "6.02", "+0.15 each side", "6.19", "±0.02", strip(6.1, 6.3, 6.2, 6.02, 6.19, 0.02)),
			row("Plunger depth at lowest point", "3.15 – 3.25", "3.34", "2.25 → 2.40", "3.19", "±0.02", strip(3.15, 3.25, 3.2, 3.34, 3.19, 0.02)),
			row("Governor run-out", "≤ 24", "30", "none", "12.5", "±0.3", strip(-inf, 24, math.NaN(), 30, 12.5, 0.3)),
			row("Starting delivery", "≥ 45", "42", "none", "48.125", "±0.5", strip(45, inf, math.NaN(), 42, 48.125, 0.5)),
		}},
		Heading{Text: "Full load and governor run-out"},
		Plot{YLabel: "mean delivery, cm³ per 1000 strokes at 40 °C; bars: limits", XLabel: "pump speed, rev/min", Height: 76,
			Series: []Series{
				{Name: "as left", X: []float64{100, 500, 900, 1300, 1800, 2150, 2300, 2420}, Y: []float64{46, 33.2, 34.6, 35.8, 36.5, 35, 21, 4}},
				{Name: "as found", X: []float64{100, 500, 900, 1300, 1800, 2150, 2300, 2420}, Y: []float64{40, 31.2, 32, 33, 33, 31, 24, 9}, Dash: true, Open: true},
			},
			Limits: []LimitBar{{500, 31.5, 35}, {1300, 34.5, 37}, {1800, 35, 38}, {2300, 14, 24}, {2500, math.Inf(-1), 6}}},
		Heading{Text: "A single reading"},
		Plot{Title: "Return flow", XLabel: "rev/min", YLabel: "L/h", Height: 40, Series: []Series{{X: []float64{1000}, Y: []float64{36.5}}}},
		Para{Text: "end of report", Grey: true},
	}, Foot: SignOff{Fields: []Pen{{Label: "tested by", Kind: PenLine}, {Label: "released by", Kind: PenLine}, {Label: "date", Kind: PenDate}}}})

	// two pen lines an entry, small grids, curves of every kind, findings
	two := PenTable{Cols: []PenCol{{"speed", "rev/min", 0.8, 0}, {"what", "", 1.6, 0}, {"1", "", 1, 0}, {"2", "", 1, 0}, {"3", "", 1, 0}, {"4", "", 1, 0}, {"°C\nmean", "", 1, 0}, {"strokes\nspread", "", 1, 0}, {"limits", "", 1.4, 0}}}
	for i := range 6 {
		words := []PenCell{{Text: fmt.Sprint(400 * (i + 1)), Bold: true}, {Text: "full load", Sub: "two readings, the second below the first"}}
		for half := range 2 {
			r := PenTableRow{Cells: append([]PenCell(nil), words...), Keep: half == 0}
			for j := range 6 {
				r.Cells = append(r.Cells, PenCell{Pen: &Pen{Code: fmt.Sprintf("P%d", 12*i+6*half+j+1), Before: 2, After: 1, Computed: half == 1 && j > 3}})
			}
			r.Cells = append(r.Cells, PenCell{Text: "34.0 – 37.0", Sub: "spread ≤ 2.0"})
			if half == 1 {
				r.Cells[1], r.Cells[8] = PenCell{}, PenCell{}
			}
			two.Rows = append(two.Rows, r)
		}
	}
	grid := func(title, x, y string, xm, ym float64, bars ...LimitBar) []Block {
		return []Block{SketchGrid{Title: title, XLabel: x, YLabel: y, XMax: xm, YMax: ym, Limits: bars, Height: 42}}
	}
	d.Add(Section{Key: "P", Bookmark: "Points", NewPage: true, Blocks: []Block{
		Band{"P", "Two readings a point", "The second below the first.", "40 ± 2 °C", "inlet", ""},
		Heading{Text: "Deliveries, cm³ per 1000 strokes"}, two,
		Heading{Text: "Sketch them"},
		Columns{Cols: [][]Block{
			grid("Delivery", "rev/min", "cm³ per 1000 strokes", 2600, 52, LimitBar{500, 31, 35}, LimitBar{1800, 35, 38}, LimitBar{2500, -inf, 6}),
			grid("Pressure", "rev/min", "bar", 2100, 8.2, LimitBar{500, 2.5, 3.5}, LimitBar{2000, 6.4, 7.6}),
			grid("Travel", "bar", "mm", 7.5, 9, LimitBar{3, 0, 0.6}, LimitBar{6, 4.2, 5.4}),
		}},
		Columns{Cols: [][]Block{
			grid("Delivery", "rev/min", "cm³ per 1000 strokes", 2600, 52, LimitBar{500, 31, 35}, LimitBar{1800, 35, 38}),
			grid("Travel", "bar", "mm", 7.5, 9, LimitBar{3, 0, 0.6}, LimitBar{6, 4.2, 5.4}),
		}},
	}})
	d.Add(Section{Key: "C", Bookmark: "Curves", NewPage: true, Blocks: samplePlots()})
	return d
}

func samplePlots() []Block {
	inf := math.Inf(1)
	speeds := []float64{300, 700, 1100, 1500, 1900, 2100}
	fit := func(name string, from, slope, half float64, dash bool) Fit {
		f := Fit{Name: name, Dash: dash}
		for x := 200.0; x <= 2200; x += 100 {
			f.X, f.Y = append(f.X, x), append(f.Y, from+slope*x)
			f.Half = append(f.Half, half*math.Sqrt(1+math.Pow((x-1200)/600, 2)))
		}
		return f
	}
	up, down := []float64{0.1, 0.9, 2.1, 3.2, 4.2, 5.1}, []float64{5.1, 4.5, 3.6, 2.5, 1.3, 0.2}
	press, back := []float64{2, 3, 4, 5, 6, 7}, []float64{7, 6, 5, 4, 3, 2}
	shift := func(v []float64, by float64) (out []float64) {
		for _, x := range v {
			out = append(out, x+by)
		}
		return out
	}
	finding := Finding{"Outlet 3 is low by 9 % at every speed while the others agree.", []string{
		"rests on: **M3**, **M9**, **M15**, **M21**", "look at, in this order: the delivery valve and its spring; the nozzle holder and pipe of that outlet, changed over with another; the head",
		"check: change pipe and holder of outlets 3 and 4 over and run the point again. If the low reading goes with them, the bench is at fault, not what is on it.",
	}}
	return []Block{
		Heading{Text: "Readings, fitted curves and their bands"},
		Columns{Cols: [][]Block{
			{Plot{Title: "Pressure, bar", XLabel: "speed, rev/min", Height: 62, Limits: []LimitBar{{500, 2, 3}, {1900, 6, 7}},
				Series: []Series{{Name: "as found", Open: true, Loose: true, X: speeds, Y: []float64{1.6, 2.7, 3.6, 4.4, 5.7, 6}}, {Name: "as left", Loose: true, X: speeds, Y: []float64{1.8, 3.1, 4.2, 5.4, 6.6, 7.2}}},
				Fits:   []Fit{fit("fit, as found", 0.9, 0.00247, 0.16, true), fit("fit, as left", 0.98, 0.00297, 0.1, false)}}},
			{Plot{Title: "Travel, mm", XLabel: "pressure, bar", Height: 62, Limits: []LimitBar{{3, 0.3, 1.3}, {6, 3.8, 4.8}}, Series: []Series{
				{Name: "as found, going up", X: press, Y: shift(up, -0.6), Open: true, Dash: true}, {Name: "coming down", X: back, Y: shift(down, -0.1), Open: true, Dash: true, Mark: MarkDown, Join: true},
				{Name: "as left, going up", X: press, Y: up}, {Name: "coming down", X: back, Y: shift(down, -0.3), Mark: MarkDown, Join: true},
			}}},
		}},
		Plot{Title: "Five series, one of them with a gap", XLabel: "speed, rev/min", YLabel: "cm³ per 1000 strokes", Height: 50, Series: []Series{
			{Name: "outlet 1", X: speeds, Y: []float64{31, 33, 34, 35, 30, 12}}, {Name: "outlet 2", X: speeds, Y: []float64{30, 32.4, 33, 34.2, 28, 10}, Mark: MarkSquare},
			{Name: "outlet 3", X: speeds, Y: []float64{26, 28, 29, 31, 24, 6}, Mark: MarkUp, Open: true}, {Name: "outlet 4", X: speeds, Y: []float64{31.5, 34, math.NaN(), 36, 31, 14}, Mark: MarkDiamond, Open: true},
			{Name: "the sheet's middle", X: speeds, Y: []float64{31, 33, 34, 35, 30, 12}, Open: true, Dash: true},
		}},
		Columns{Cols: [][]Block{
			{Plot{Title: "Nothing", XLabel: "rev/min", Empty: "no readings", Height: 36, Limits: []LimitBar{{500, 2, 3}, {1900, 6, inf}}}},
			{Plot{Title: "All equal", XLabel: "rev/min", Height: 36, Series: []Series{{X: []float64{800, 800, 800}, Y: []float64{5, 5, 5}}}}},
			{Plot{Title: "One, and a wild band", XLabel: "rev/min", Height: 36, Series: []Series{{Name: "read", X: []float64{800, 1000}, Y: []float64{5, 5.5}}},
				Fits: []Fit{{Name: "fit", X: []float64{700, 900, 1100}, Y: []float64{4.75, 5.25, 5.75}, Half: []float64{40, 12, 40}}}}},
		}},
		Heading{Text: "What the readings say"},
		Findings{Items: []Finding{finding, {"Travel comes late by 0.6 mm all the way.", finding.Lines[:1]}, finding, finding, finding}},
	}
}

func sampleFigure(c *Canvas) {
	c.Weight = 0.4
	x := c.W/2 - 6
	c.Rect(x-18, 14, 44, 22, 0.9)
	c.Rect(x, 9, 10, 27, 1)
	c.Rect(x+1.3, 20, 7.4, 24, 0.72)
	c.Line(x+5, 7, x+5, 20)
	c.Circle(x+5, 4, 3.2, 1)
	c.Line(x+5, 4, x+7, 2)
	c.Weight = 0.25
	c.Dashed(x+8.7, 20, x+24, 20)
	c.Dim(x+18, 14, x+18, 20, "H1")
	c.Text(x-18, 12.6, 7, "L", false, "machined face")
	c.Text(x+14, 43, 8, "L", false, "plunger, lowest point")
	c.Arrow(x+13, 42, x+9, 40)
	c.Arc(x-12, 42, 4, 0, 270)
	c.Polygon(0.5, x-12, 40, x-10, 44, x-14, 44)
}

// program runs one of the outside programs the checks lean on.
func program(t *testing.T, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(name, args...)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	require.NoErrorf(t, err, "%s: %s", name, &complaint)
	return string(out)
}

// write makes the sample and leaves it in a folder.
func write(t *testing.T, d *Doc, name string) string {
	t.Helper()
	data, err := d.Bytes()
	require.NoError(t, err)
	dir := t.TempDir()
	if *keep != "" {
		dir = *keep
	}
	path := filepath.Join(dir, name+".pdf")
	require.NoError(t, os.WriteFile(path, data, 0o644))
	return path
}

func TestSample(t *testing.T) {
	for _, p := range []Paper{A4, Letter} {
		path := write(t, sample(p), p.Name)
		if *keep != "" {
			program(t, "pdftoppm", "-r", "100", "-png", path, filepath.Join(*keep, p.Name))
		}
	}
}
