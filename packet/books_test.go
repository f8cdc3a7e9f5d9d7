package packet

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/packet/codes"
	"shimcard/specs"
)

// fleet writes n invented jobs below a folder, made from a demonstration: three
// pumps in turn, half a year apart, with readings that scatter. The plunger depth
// of the first pump drifts by 0.04 mm between its jobs. edits are of shop and
// intake.
func fleet(t testing.TB, root string, n int, w want) (folders []string) {
	t.Helper()
	rng := rand.New(rand.NewPCG(3, 4))
	year, running := 2022, 0
	base := jobOf(t, w)
	for i := range n {
		received := time.Date(2022, 3, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 2*i, 0)
		if received.Year() != year {
			year, running = received.Year(), 0
		}
		number := ""
		for ok := false; !ok; {
			running++
			number, ok = codes.NewNumber(year, "", running)
		}
		intake := string(base.files[0].Data)
		for _, line := range strings.Split(intake, "\n") {
			if strings.HasPrefix(line, "received:") {
				intake = strings.Replace(intake, line, "received: "+received.Format("2006-01-02"), 1)
			}
		}
		intake = strings.Replace(intake, base.Intake.Pump.Serial, fmt.Sprintf("%s/%d", base.Intake.Pump.Serial, i%3+1), 1)
		j, err := NewJob(number, File{IntakeFile, []byte(intake)}, base.files[1], base.files[2])
		require.NoError(t, err)
		typed, err := demoReadings(w.demo, j.Plan)
		require.NoError(t, err)
		typed = maps.Clone(typed)
		shift := func(b *Box, by float64) {
			if x, _, err := calc.ParseNumber(typed[b.Code]); err == nil {
				typed[b.Code] = strings.ReplaceAll(calc.Fixed(x+by, b.Decimals), "−", "-")
			}
		}
		for _, a := range j.Adjustments {
			step := float64(rng.IntN(3)-1) * calc.LengthOf(.01, calc.MM).In(a.Dim.Unit)
			for _, try := range a.Tries {
				if a.Dim.Take != "bracket" {
					shift(try.Now, step)
				}
			}
			// From its second job on a pump comes back as it was left, but for its
			// plunger depth.
			if s := a.Dim.Shims; i > 2 && s != nil && s.Prescribed == 0 && a.Dim.Name != "plunger depth at lowest point" {
				try := a.Tries[0]
				for k, b := range a.Repeats {
					from := try.Now
					if try.Blades != nil {
						from = try.Blades[k]
					}
					if typed[from.Code] != "" {
						typed[b.Code] = typed[from.Code]
					}
				}
				for _, b := range try.boxes() {
					delete(typed, b.Code)
				}
			}
			if a.Dim.Name == "plunger depth at lowest point" && i%3 == 0 {
				for _, b := range a.Repeats {
					shift(b, -float64(i/3%3)*calc.LengthOf(.03, calc.MM).In(a.Dim.Unit))
				}
			}
		}
		for _, s := range j.Stages {
			for _, b := range s.Boxes() {
				if b.Kind == Date && typed[b.Code] != "" {
					typed[b.Code] = received.AddDate(0, 0, 3).Format("2006-01-02")
				}
			}
		}
		dir := filepath.Join(root, number)
		require.NoError(t, os.MkdirAll(dir, 0o755))
		form := formOf(j, typed)
		data, err := j.Judge(read(t, j, typed)).JSON()
		require.NoError(t, err)
		for name, data := range map[string][]byte{IntakeFile: []byte(intake), SpecFile: base.files[1].Data, ShopFile: base.files[2].Data, FormFile: form, ResultsFile: data} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o644))
		}
		folders = append(folders, dir)
	}
	return folders
}

func TestListReadsOnlyWhatChanged(t *testing.T) {
	root := t.TempDir()
	folders := fleet(t, root, 4, want{"saltmarsh", "A4", "en", "one side", "two holes", nil})
	require.NoError(t, os.Remove(filepath.Join(folders[2], ResultsFile)))
	require.NoError(t, os.Remove(filepath.Join(folders[3], ResultsFile)))
	j, err := Open(folders[3])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(folders[3], FormFile), Form(j.Number, j.Plan, nil), 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(root, "empty"), 0o755))
	list, err := List(root)
	require.NoError(t, err)
	require.Len(t, list, 5)
	states := map[string]string{}
	for _, l := range list {
		states[l.Folder] = l.State + l.Trouble
	}
	require.Equal(t, string(PumpMeets), states[filepath.Base(folders[0])])
	require.Equal(t, BeingTyped, states[filepath.Base(folders[2])])
	require.Equal(t, TakenIn, states[filepath.Base(folders[3])])
	require.Contains(t, states["empty"], "no intake.yaml in it")
	first := list[1]
	require.Equal(t, "7719-204/1", first.Serial)
	require.Equal(t, "2022-03-01", first.Received)
	require.Equal(t, "2022-03-04", first.Tested)
	require.Contains(t, first.Found, "Plunger depth at its lowest point")
	require.Len(t, first.Settings(), 7)
	require.True(t, first.Has("BRACKwater", "7719-204/1", "smoke"))
	require.False(t, first.Has("brackwater", "nothing like it"))

	// From the index, without it, and with a broken one: the same.
	again, err := List(root)
	require.NoError(t, err)
	require.Equal(t, list, again)
	index, err := os.ReadFile(filepath.Join(root, IndexFile))
	require.NoError(t, err)
	for _, broken := range [][]byte{nil, []byte("x"), index[:len(index)/2], []byte(strings.Replace(string(index), "settings", "\x00", 1)), []byte(strings.ReplaceAll(string(index), "{", "["))} {
		require.NoError(t, os.WriteFile(filepath.Join(root, IndexFile), broken, 0o644))
		again, err = List(root)
		require.NoError(t, err)
		require.Equal(t, list, again)
	}
	// What the index holds is taken from it: a folder changed behind its back by
	// nothing it can see is not read again, one that changed is.
	intake := filepath.Join(folders[0], IntakeFile)
	data, err := os.ReadFile(intake)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(intake, []byte(strings.Replace(string(data), "Brackwater", "Upper Brackwater", 1)), 0o644))
	list, err = List(root)
	require.NoError(t, err)
	require.True(t, list[1].Has("upper brackwater"))
	require.NoError(t, os.RemoveAll(folders[1]))
	list, err = List(root)
	require.NoError(t, err)
	require.Len(t, list, 4)
	require.NoError(t, os.WriteFile(filepath.Join(folders[0], ResultsFile), []byte("{}"), 0o644))
	list, err = List(root)
	require.NoError(t, err)
	require.Contains(t, list[0].Trouble+list[1].Trouble, "not the results of a report; make it again")
	_, err = List(filepath.Join(root, "none"))
	require.ErrorContains(t, err, "--jobs")
}

func TestHistoryFindsWhatDrifts(t *testing.T) {
	root := t.TempDir()
	fleet(t, root, 9, want{"saltmarsh", "A4", "en", "one side", "two holes", nil})
	list, err := List(root)
	require.NoError(t, err)
	v, err := History(root, "7719-204 /1", "", list)
	require.NoError(t, err)
	require.Len(t, v.Jobs, 3)
	drift := map[specs.DimensionName]bool{}
	for _, c := range v.Courses {
		require.Len(t, c.Points, 3)
		require.Len(t, c.Moves, 2)
		drift[c.Dimension] = c.Drifts
		for i, m := range c.Moves { // by hand, from what the points say
			require.InDelta(t, *c.Points[i+1].Found-*c.Points[i].Left, m.By, 1e-9)
		}
	}
	require.True(t, drift[specs.PlungerDepth])
	require.False(t, drift[specs.SpringPreset])
	require.False(t, drift[specs.TimingPack])
	require.Contains(t, v.String(), "Plunger depth at its lowest point drifts in service: 2 times the same way")
	require.Contains(t, v.String(), "Timing shim pack is not the one left last: −0.15 mm")
	// Two makers' pumps may have one serial number.
	other := *list[1]
	other.Pump, other.Serial = "Vessant S6", "7719-204/1"
	_, err = History(root, "7719-204/1", "", append(list, &other))
	require.ErrorContains(t, err, "Ostrel D4, Vessant S6; say which with --pump")
	v, err = History(root, "7719-204/1", "ostrel d4", append(list, &other))
	require.NoError(t, err)
	require.Len(t, v.Jobs, 3)
	_, err = History(root, "7719-204/1", "none", list)
	require.ErrorContains(t, err, "there are: Ostrel D4")
	_, err = History(root, "none", "", list)
	require.ErrorContains(t, err, `no job of a pump with the serial number "none"`)
}

// The table against the same figures worked out here from the reports by other
// means: sums of squares and mean moving range.
func TestSpreadOfReports(t *testing.T) {
	root := t.TempDir()
	folders := fleet(t, root, 12, want{"saltmarsh", "A4", "en", "one side", "two holes", nil})
	list, err := List(root)
	require.NoError(t, err)
	s, err := SpreadOf(root, "", list)
	require.NoError(t, err)
	require.Equal(t, 12, s.Jobs)
	var x []float64
	for _, dir := range folders {
		data, err := os.ReadFile(filepath.Join(dir, ResultsFile))
		require.NoError(t, err)
		_, rest, _ := strings.Cut(string(data), `"name": "Plunger depth at its lowest point"`)
		_, rest, _ = strings.Cut(rest, `"left": `)
		left, _, err := calc.ParseNumber(rest[:strings.Index(rest, ",")])
		require.NoError(t, err)
		x = append(x, (left-3.20)/.05)
	}
	sum, squares, moves := 0.0, 0.0, 0.0
	for i, v := range x {
		sum, squares = sum+v, squares+v*v
		if i > 0 {
			moves += math.Abs(v - x[i-1])
		}
	}
	n := float64(len(x))
	sd := math.Sqrt((squares - sum*sum/n) / (n - 1))
	for _, c := range s.Dimensions {
		if c.Dimension != specs.PlungerDepth {
			continue
		}
		require.Equal(t, 12, c.N)
		require.InDelta(t, sum/n, c.Mean, 1e-9)
		require.InDelta(t, sd, *c.S, 1e-6)
		require.InDelta(t, sum/n+2.660*moves/(n-1), *c.High, 1e-3)
		require.InDelta(t, 1/(3*sd), *c.Cp, 1e-6)
		require.InDelta(t, (1-math.Abs(sum/n))/(3*sd), *c.Cpk, 1e-6)
	}
	_, err = SpreadOf(root, "Vessant S6", list)
	require.ErrorContains(t, err, "there are: Ostrel D4")
	_, err = SpreadOf(root, "", nil)
	require.ErrorContains(t, err, "no job with a report")
}

// An instrument that reads apart is found, and named; one that does not is not.
func TestSpreadNamesTheInstrument(t *testing.T) {
	root := t.TempDir()
	folders := fleet(t, root, 10, want{"saltmarsh", "A4", "en", "one side", "two holes", nil})
	list, err := List(root)
	require.NoError(t, err)
	s, err := SpreadOf(root, "", list)
	require.NoError(t, err)
	require.Empty(t, s.Apart)
	left := []string{"3.24", "3.20"} // in turn; nothing else scatters
	for i, dir := range folders {
		name := filepath.Join(dir, ResultsFile)
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		head, rest, _ := strings.Cut(string(data), `"name": "Plunger depth at its lowest point"`)
		rest = regexp.MustCompile(`"left": 3\.[0-9]+`).ReplaceAllString(rest, `"left": `+left[i%2])
		require.NoError(t, os.WriteFile(name, []byte(head+`"name": "Plunger depth at its lowest point"`+rest), 0o644))
		if i%2 == 1 {
			continue
		}
		shop, err := os.ReadFile(filepath.Join(dir, ShopFile))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, ShopFile), []byte(strings.Replace(string(shop), "DI-4", "DI-9", 1)), 0o644))
		spec, err := os.ReadFile(filepath.Join(dir, SpecFile))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, SpecFile), []byte(strings.Replace(string(spec), "issue C", "issue D", 1)), 0o644))
	}
	list, err = List(root)
	require.NoError(t, err)
	s, err = SpreadOf(root, "", list)
	require.NoError(t, err)
	require.NotEmpty(t, s.Apart)
	a := s.Apart[0]
	require.Equal(t, "instrument", a.By)
	require.Equal(t, specs.PlungerDepth, a.Dimension)
	require.Contains(t, []string{"DI-4 dial indicator", "DI-9 dial indicator"}, a.Name)
	require.Less(t, a.P, .05)
	// The same jobs rest on another sheet: one finding, that names both.
	require.Len(t, s.Apart, 1)
	require.Len(t, a.Also, 1)
	require.Equal(t, a.Name == "DI-9 dial indicator", a.Also[0].Name == "Ostrel D4, test sheet 118, issue D (invented)")
	require.Contains(t, s.String(), "that of the others by 0.80 of half the limits' width (F ∞, p <\u00a00.001)")
	require.Nil(t, a.F)
	_, err = s.JSON()
	require.NoError(t, err)
}

// The pages, as TestEveryDocument looks at the others: in both languages, on both
// papers, of one job and of many, with names as long as they may be.
func TestPagesOverJobs(t *testing.T) {
	for _, c := range []struct {
		w want
		n int
	}{
		{want{"saltmarsh", "A4", "en", "one side", "two holes", nil}, 1},
		{want{"saltmarsh", "Letter", "de", "both sides", "three holes", nil}, 26},
		{want{"prairie", "Letter", "en", "one side", "three holes", nil}, 5},
		{want{"prairie", "A4", "de", "one side", "two holes", nil}, 8},
		{want{"saltmarsh", "A4", "de", "one side", "two holes", long[4:]}, 9},
	} {
		root := t.TempDir()
		fleet(t, root, c.n, c.w)
		list, err := List(root)
		require.NoError(t, err)
		v, err := History(root, list[0].Serial, "", list)
		require.NoError(t, err)
		s, err := SpreadOf(root, "", list)
		require.NoError(t, err)
		for name, print := range map[string]func() ([]byte, error){"history": v.PDF, "spread": s.PDF} {
			t.Run(fmt.Sprintf("%s of %d, %s %s %s", name, c.n, c.w.demo, c.w.paper, c.w.language), func(t *testing.T) {
				pdf, err := print()
				require.NoError(t, err)
				twice, err := print()
				require.NoError(t, err)
				require.Equal(t, pdf, twice)
				d := document{job: v.job, file: filepath.Join(t.TempDir(), "page.pdf"), letter: c.w.paper == "Letter", mirrored: c.w.sides == "both sides",
					holes: map[string]int{"two holes": 2, "three holes": 3}[c.w.holes], typed: typedWords(v.job) + " 6.3.2.2 6.1.6 7.4.3"}
				require.NoError(t, os.WriteFile(d.file, pdf, 0o644))
				require.Contains(t, tool(t, "qpdf", "--check", d.file), "No syntax or stream encoding errors")
				pages := pagesDrawn(t, d.file)
				require.Len(t, pages, 1)
				d.paper(t, pages[0], name)
				d.margins(t, pages[0], 1, name)
				textsKeepApart(t, pages[0], name)
				textsKeepToTheirFrames(t, pages[0], name)
				d.said(t)
				if name == "history" { // years, no parts of them
					require.NotRegexp(t, `\b20[0-9]{2}[.,][0-9]\b`, tool(t, "pdftotext", d.file, "-"))
				}
			})
		}
	}
}

// Whatever is done to a form, the quick comparison with what a report rests on never
// calls it the same where reading it all does not; of a form as it was typed it does.
func TestTypedAsIsWhatReadingSays(t *testing.T) {
	demos, err := MakeDemos(t.TempDir())
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(5, 6))
	for _, d := range demos {
		job, err := Open(d.Folder)
		require.NoError(t, err)
		issue, err := lastIssue(d.Folder)
		require.NoError(t, err)
		form := content(t, d.Folder, FormFile)
		require.True(t, job.typedAs(form, issue.Readings))
		says := func(form []byte) bool {
			r, err := ReadForm(FormFile, form, job.Number, job.Plan)
			return err == nil && string(job.plainForm(job.documented(r))) == issue.Readings
		}
		require.True(t, says(form))
		lines := strings.SplitAfter(string(form), "\n")
		same := 0
		for range 400 {
			now := append([]string(nil), lines...)
			i := rng.IntN(len(now) - 1)
			for !strings.Contains(now[i], ": ") || strings.HasPrefix(now[i], "#") {
				i = rng.IntN(len(now) - 1)
			}
			key, rest, _ := strings.Cut(now[i], ":")
			value := strings.TrimSpace(strings.Split(rest, "#")[0])
			now[i] = []string{
				key + ": " + value + "\n", key + ":  " + value + "0 # x\n", key + ": " + strings.ReplaceAll(value, ".", ",") + "\r\n",
				key + ": " + value + "# x\n", key + ": " + value + " !\n", key + ": " + value + " (a remark)\n", key + ":\n", key + ": \"" + value + "\"\n",
				key + ": '" + value + "' # x\n", key + ":" + value + "\n", key + "\n", "", now[i] + now[i], key + ": " + value + "\n  1\n", now[i] + "  more\n",
				strings.ToLower(key) + ": " + value + "\n", now[i] + key + ":\n", " " + now[i], now[i] + "Z99:\n", key + ": 1\n", key + ": " + value + " 1\n", "? " + now[i], now[i] + "---\n", now[i] + "...\n",
				key + ": " + strings.ToUpper(value) + "\n", key + ":\t" + value + "\n", key + ": &a " + value + "\n", key + ": 1 mm\n", key + ": |\n  " + value + "\n",
			}[rng.IntN(29)]
			text := []byte(strings.Join(now, ""))
			if job.typedAs(text, issue.Readings) {
				require.True(t, says(text), "%q for %q", now[i], lines[i])
				same++
			}
		}
		require.Greater(t, same, 40)
	}
}
