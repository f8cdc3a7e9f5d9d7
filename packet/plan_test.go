package packet

import (
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/specs"
)

// demoSpec reads one of the invented specs, changed by some edits of its text.
func demoSpec(t testing.TB, name string, edits ...string) *specs.Spec {
	t.Helper()
	data, err := fs.ReadFile(specs.Demo(), name)
	require.NoError(t, err)
	s, err := specs.ReadSpec(name, []byte(strings.NewReplacer(edits...).Replace(string(data))))
	require.NoError(t, err)
	return s
}

// demoPlan is the plan of an invented spec in a shop that counts no stock.
func demoPlan(t testing.TB, name string) *Plan { return NewPlan(demoSpec(t, name), &specs.Shop{}) }

func TestEveryBoxHasOneCodeInSheetOrder(t *testing.T) {
	for _, name := range []string{"ostrel-d4.yaml", "vessant-s6.yaml"} {
		p := demoPlan(t, name)
		seen := map[string]bool{}
		for _, s := range p.Stages {
			for _, b := range s.Boxes() {
				require.False(t, seen[b.Code], "%s: %s twice", name, b.Code)
				seen[b.Code] = true
				require.True(t, strings.HasPrefix(b.Code, s.Letter), b.Code)
				require.NotEmpty(t, b.Label, b.Code)
				if b.Kind == Number {
					require.Less(t, b.Low, b.High, b.Code)
				}
			}
		}
		for _, b := range p.Boxes() {
			if b.From == nil {
				continue
			}
			for _, term := range b.From.Terms {
				require.True(t, seen[term.Box.Code], "%s rests on %s, which is on no sheet", b.Code, term.Box.Code)
			}
		}
		require.Greater(t, len(seen), 150, "%s: a job is some 150 figures", name)
	}
}

func said(p *Plan, letter string) string {
	var out []string
	for _, s := range p.Stages {
		if s.Letter != letter {
			continue
		}
		for _, sh := range s.Sheets {
			out = append(out, sh.Title, sh.Purpose)
			for _, part := range sh.Parts {
				if d, ok := part.(Do); ok {
					for _, st := range d.Steps {
						out = append(out, st.Text, st.Caution)
					}
				}
			}
		}
		for _, b := range s.Boxes() {
			out = append(out, b.Label)
		}
	}
	return strings.Join(out, "\n")
}

func adjustment(t testing.TB, p *Plan, name specs.DimensionName) *Adjustment {
	t.Helper()
	for _, a := range p.Adjustments {
		if a.Dim.Name == name {
			return a
		}
	}
	t.Fatalf("no %s", name)
	return nil
}

// Common practice, no source: each of these is how the trade does it.
func TestCommonPractice(t *testing.T) {
	right := demoPlan(t, "ostrel-d4.yaml")
	left := demoPlan(t, "vessant-s6.yaml")

	t.Run("timing pack: one 0.6 mm shim at the piston, the whole rest in the cap", func(t *testing.T) {
		a := adjustment(t, right, specs.TimingPack)
		require.Equal(t, 600*calc.Micrometre, a.Dim.Shims.Prescribed)
		ans, err := calc.PickShims(a.question(1500*calc.Micrometre, 1500*calc.Micrometre))
		require.NoError(t, err)
		rest := calc.Length(0)
		for _, s := range ans.Best.Stack {
			rest += s
		}
		require.Equal(t, a.Dim.Target, 600*calc.Micrometre+rest)
		require.Contains(t, said(right, "F"), "The prescribed shim, 0.60 mm (measured 0.58 – 0.62), goes in the piston, all the rest in the cap.")
	})
	t.Run("plunger spring stacks are equal left and right", func(t *testing.T) {
		for _, p := range []*Plan{right, left} {
			a := adjustment(t, p, specs.SpringPreset)
			require.Equal(t, 2, a.Dim.Shims.Places)
			require.Len(t, a.Tries[0].Fitted, 2)
		}
	})
	t.Run("the ring's place follows the rotation, printed for this pump only", func(t *testing.T) {
		r, l := said(right, "E"), said(left, "E")
		require.Contains(t, r, "hole that lies farther from its inner wall goes to the right, the third hole points to the governor side")
		require.Contains(t, l, "hole that lies farther from its inner wall goes to the left, the third hole points to the governor side")
		require.NotContains(t, r, "to the left")
		require.NotContains(t, l, "to the right")
		require.NotContains(t, said(right, "M"), "LEFT")
	})
	t.Run("plunger depth only on zero pre-stroke pumps, head held by two screws", func(t *testing.T) {
		require.Contains(t, said(right, "H"), "Two opposite head screws, evenly, hand-tight")
		require.NotContains(t, said(left, "H"), "two screws")
		require.Equal(t, "Pre-stroke", left.Stages[7].Title)
		for _, a := range left.Adjustments {
			require.NotEqual(t, specs.PlungerDepth, a.Dim.Name)
		}
	})
	t.Run("the governor lever's ball pin lies in the metering sleeve before the head goes on", func(t *testing.T) {
		for _, p := range []*Plan{right, left} {
			require.Contains(t, said(p, "J"), "ball pin of the governor lever in the hole of the metering sleeve")
			require.True(t, p.Stages[8].Boxes()[0].Required, p.Stages[8].Boxes()[0].Label)
		}
	})
	t.Run("the shut-off is tried before the first full load", func(t *testing.T) {
		require.Regexp(t, `(?s)before it goes to full for the first time: shut off.*stop the bench at once`, said(right, "B"))
	})
	t.Run("cold-start travel is measured with the roller ring in place", func(t *testing.T) {
		f := said(right, "F")
		require.Less(t, strings.Index(f, "Shaft and roller ring"), strings.Index(f, "Cold-start device travel"))
	})
	t.Run("the control lever stands at 90° to the pump axis", func(t *testing.T) {
		require.Contains(t, said(right, "L"), "control lever at 90° to the pump axis")
	})
	t.Run("end float by the governor shim, starting gap by the sleeve's end plug", func(t *testing.T) {
		require.Contains(t, said(right, "K"), "change the shim behind the governor's thrust washer")
		require.Equal(t, "end plug", adjustment(t, right, specs.StartingGap).Dim.Shims.Tray.Part)
		for _, name := range []specs.DimensionName{specs.EndFloat, specs.StartingGap} {
			require.Equal(t, -1.0, adjustment(t, right, name).Dim.Effect, name)
		}
	})
	t.Run("equipment decides the boxes", func(t *testing.T) {
		require.Contains(t, said(left, "F"), "plain cover plate fitted")
		require.NotContains(t, said(right, "F"), "plain cover plate")
		require.Contains(t, said(left, "L"), "boost capsule")
		require.NotContains(t, said(right, "L"), "boost capsule")
	})
}

// The worked line of the sample page in the design: 3.34 − 3.20 = +0.14; with
// 2.25 out, 2.39 is wanted, 2.40 the nearest, and 3.19 the depth then.
func TestDepthArithmetic(t *testing.T) {
	a := adjustment(t, demoPlan(t, "ostrel-d4.yaml"), specs.PlungerDepth)
	ans, err := calc.PickShims(a.question(3340*calc.Micrometre, 2250*calc.Micrometre))
	require.NoError(t, err)
	require.Equal(t, 2390*calc.Micrometre, ans.Wanted)
	require.Equal(t, []calc.Length{2400 * calc.Micrometre}, ans.Best.Stack)
	require.Equal(t, 3190*calc.Micrometre, ans.Best.Predicted)

	typed := map[*Box]float64{a.Measured: 3.34, a.Present: 2.25}
	read := func(b *Box) (float64, bool) {
		x, ok := typed[b]
		return calc.Rounded(x, b.Decimals), ok
	}
	for _, b := range []*Box{a.Change, a.Wanted} {
		x, ok, why := b.From.Value(read)
		require.True(t, ok, why)
		typed[b] = calc.Rounded(x, b.Decimals)
	}
	require.Equal(t, 0.14, typed[a.Change])
	require.Equal(t, 2.39, typed[a.Wanted])
	typed[a.Tries[0].Fitted[0]] = 2.40
	x, ok, _ := a.Tries[0].Expected.From.Value(read)
	require.True(t, ok)
	require.InDelta(t, 3.19, x, 1e-12)
}

// Source: a pressure is force over area, a spring's force its rate times its
// travel (any textbook of mechanics). One tenth of a millimetre of shim on a
// spring of 48 N/mm is 4.8 N, on a piston of 28 mm (615.75 mm²) 7.795 kPa or
// 0.078 bar. The sheet's middles, 2.9, 4.8, 5.9 and 7.0 bar at 500, 1200, 1600
// and 2000 rev/min, lie on a line of 0.002733 bar a rev/min: 29 rev/min.
func TestWhatOneMoreShimDoes(t *testing.T) {
	p := demoPlan(t, "ostrel-d4.yaml")
	b := p.build("F", "")
	require.Equal(t, "0.10 mm more of shim: 4.8 N more spring load, 0.10 mm less travel at every speed; the piston starts 0.08 bar later, about 29 rev/min (spring 48.0 N/mm, piston 28.0 mm, the sheet's own pressure line).",
		b.moreShim(adjustment(t, p, specs.TimingPack).Dim))
}

// Source: NAVEDTRA 14315, torque wrench with an adapter in line, T·L/(L + E):
// for 25 and 42 N·m, 340 mm and 45 mm it is 22.08 and 37.09.
func TestAdapterSettingOnTheSheet(t *testing.T) {
	j, _ := demoJob(t, "saltmarsh")
	for _, q := range j.Spec.Torques {
		if q.Adapter > 0 {
			require.Equal(t, "set 22.1, then 37.1 N·m on TW-2 (340 mm long) with the 45 mm adapter in line", j.adapterWords(q))
			return
		}
	}
	t.Fatal("no adapter in the demo")
}

// Every shim that the sheet calls right at the piston is right to the report, and
// the next figure on either side is not.
func TestPrescribedShimAsTheSheetSays(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		a := adjustment(t, j.Plan, specs.TimingPack)
		said := regexp.MustCompile(`\(measured ([\d.]+) – ([\d.]+)\)`).FindStringSubmatch(prescribedShim(a))
		require.Len(t, said, 3)
		piston := a.Tries[0].Fitted[0]
		step := math.Pow10(-piston.Decimals)
		for i, outward := range []float64{-step, step} {
			at, err := strconv.ParseFloat(said[i+1], 64)
			require.NoError(t, err)
			for off, right := range map[float64]bool{0: true, outward: false} {
				typed[piston.Code] = piston.Decimal(at + off)
				found := ""
				for _, it := range j.Judge(read(t, j, typed)).Items {
					if it.Code == a.Tries[0].Now.Code {
						found = it.Note
					}
				}
				require.Equal(t, right, !strings.Contains(found, "at the piston, where the sheet wants"), "%s: %s: %s", name, typed[piston.Code], found)
			}
		}
	}
}

// A torque that no wrench of the shop reaches is told on the sheet and by the
// check; with an adapter it is the setting that has to be in the wrench's range.
func TestTorqueThatNoWrenchReaches(t *testing.T) {
	j, _ := demoJob(t, "saltmarsh")
	require.Empty(t, j.Unreached())
	at := func(edits ...string) *Plan { return NewPlan(demoSpec(t, "ostrel-d4.yaml", edits...), j.Shop) }
	p := at("steps: [65 N·m]", "steps: [130 N·m]") // the largest reaches 120
	require.Len(t, p.Unreached(), 1)
	require.Contains(t, p.Unreached()[0], "head centre plug, 130 N·m")
	sheet := fmt.Sprint(p.Stages[8].Sheets[0].Parts)
	require.Contains(t, sheet, noWrench)
	p = at("steps: [25 N·m, 42 N·m]", "steps: [25 N·m, 54 N·m]") // set 47.7 on the one that ends at 50
	require.Empty(t, p.Unreached())

	dir := t.TempDir()
	spec, err := fs.ReadFile(specs.Demo(), "ostrel-d4.yaml")
	require.NoError(t, err)
	shop, err := fs.ReadFile(specs.Demo(), "saltmarsh.yaml")
	require.NoError(t, err)
	files := []string{filepath.Join(dir, "d4.yaml"), filepath.Join(dir, "shop.yaml")}
	require.NoError(t, os.WriteFile(files[0], []byte(strings.Replace(string(spec), "steps: [65 N·m]", "steps: [130 N·m]", 1)), 0o600))
	require.NoError(t, os.WriteFile(files[1], shop, 0o600))
	lacks := CheckTogether(files...)
	require.Len(t, lacks, 1)
	require.ErrorContains(t, lacks[0], files[1]+": Ostrel D4: head centre plug, 130 N·m")
}

// Twelve outlets, and every other number, have a cell each on the bench pages.
func TestEveryOutletHasItsCell(t *testing.T) {
	for n := 2; n <= 12; n++ {
		p := NewPlan(demoSpec(t, "ostrel-d4.yaml", "outlets: 4", fmt.Sprintf("outlets: %d", n)), &specs.Shop{})
		on := map[*Box]int{}
		for _, b := range p.Boxes() {
			on[b]++
		}
		for _, pt := range p.Final.Points {
			require.Len(t, pt.First, n)
			for _, b := range append([]*Box{pt.Mean, pt.Spread}, pt.First...) {
				require.Equal(t, 1, on[b], "%d outlets: %s", n, b.Code)
			}
		}
	}
}
