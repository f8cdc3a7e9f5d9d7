package packet

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// recompute runs testdata/recompute/recompute.py, which works out every figure
// of a report from what was typed, with Python's own library and none of our
// code, and holds the printed PDF against it.
func recompute(t testing.TB, args ...string) (said string, agrees bool) {
	t.Helper()
	cmd := exec.Command("python3", append([]string{"-B", "../testdata/recompute/recompute.py"}, args...)...)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	err := cmd.Run()
	if err != nil {
		require.IsType(t, (*exec.ExitError)(nil), err)
	}
	require.Empty(t, stderr.String(), "recompute.py stopped; it needs python3, and python3-yaml")
	return stdout.String(), err == nil
}

// Every number on the reports of the demonstrations, from the typed form alone,
// to the last printed digit.
func TestEveryPrintedFigureRecomputed(t *testing.T) {
	demos, err := MakeDemos(t.TempDir())
	require.NoError(t, err)
	for _, d := range demos {
		said, agrees := recompute(t, d.Folder)
		require.True(t, agrees, said)
		require.Regexp(t, `^\S+, \d+ pages: [3-9]\d\d figures recomputed, [3-9]\d\d copied, \d+ at axes, 0 not accounted for\n$`, said)
		t.Log(strings.TrimSpace(said))
		// A figure of the report that is altered is noticed.
		said, agrees = recompute(t, "--altered", "101", d.Folder)
		require.True(t, agrees, said)
		require.Regexp(t, `: (\d+) of \d+ figures altered, \d+ noticed\n$`, said)
	}
}

// The recomputation sees figures that were changed in their last place after the
// report was printed: readings, limits, instruments.
func TestRecomputingSeesDoctoredFigures(t *testing.T) {
	demos, err := MakeDemos(t.TempDir())
	require.NoError(t, err)
	folder := demos[0].Folder
	var says []string
	for file, changes := range map[string][][3]string{ // what, as what, what is then said
		FormFile: {
			{`: 6\.21( +# reads now, mm)`, `: 6.22$1`, "Plunger spring preset: printed “6.21”, worked out “6.22”"},
			{`: 33\.6( +# full load, low speed, outlet 1, cm³)`, `: 33.8$1`, "deliveries as left, full load, low speed: printed “"},
			{`: 5\.9( +# pressure at 1600 rev/min)`, `: 6.1$1`, "supply pressure rises, for 1000 rev/min: printed “2.74”"},
			{`: 31\.4( +# falling branch, all outlets added at step 6)`, `: 33.4$1`, "governor run-out at 10 cm³/1000: printed “2353”"},
			{`: 480( +# returned, cm³, 1 to 5000 \(req)`, `: 490$1`, "return flow: printed “58”, worked out “59”"},
			{`: 45( +# governing begins, oil)`, `: 46$1`, "deliveries as left, governing begins: printed “45 0.9955"},
		},
		SpecFile: {
			{`\[6\.10 mm, 6\.30 mm\]`, `[6.10 mm, 6.31 mm]`, "printed “6.30”, worked out “6.31”"},
			{`pin radius: 24 mm`, `pin radius: 23 mm`, "degrees at 800 rev/min"},
			{`specific consumption: 245`, `specific consumption: 265`, "estimate: fuel at full load"},
		},
		ShopFile: {
			{`permissible error: 0\.06 bar`, `permissible error: 0.16 bar`, "pressure at 500 rev/min: printed “0.1”, worked out “0.2 99.8 %”"},
			{`number: TH-5`, `number: TH-6`, "['oil thermometer'] were used and are not printed"},
		},
	} {
		path := filepath.Join(folder, file)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, c := range changes {
			from := regexp.MustCompile(c[0])
			require.Regexp(t, from, string(data))
			data, says = from.ReplaceAll(data, []byte(c[1])), append(says, c[2])
		}
		require.NoError(t, os.WriteFile(path, data, 0o644))
	}
	said, agrees := recompute(t, folder)
	require.False(t, agrees)
	for _, s := range says {
		require.Contains(t, said, s)
	}
	require.NotContains(t, said, " 0 not accounted for")
}

// Packets and reports are sound for MuPDF, hold no bitmaps at all (pdfimages),
// so no bitmaps of text, and their text can be taken out: every row of every
// item has its limits, its figures and its unit in one line.
func TestTextNotPictures(t *testing.T) {
	demos, err := MakeDemos(t.TempDir())
	require.NoError(t, err)
	for _, d := range demos {
		for _, name := range []string{PacketFile, ReportFile} {
			file := filepath.Join(d.Folder, name)
			require.Equal(t, 2, strings.Count(tool(t, "pdfimages", "-list", file), "\n"), "a heading and a rule, no image")
			said, err := exec.Command("mutool", "draw", "-q", "-o", filepath.Join(t.TempDir(), "%d.pgm"), "-r", "50", file).CombinedOutput()
			require.NoError(t, err)
			// Debian builds MuPDF without colour profiles, and it says so each time.
			require.Empty(t, strings.TrimSpace(strings.ReplaceAll(string(said), "warning: ICC support is not available", "")))
			said, err = exec.Command("mutool", "info", file).CombinedOutput()
			require.NoError(t, err)
			require.NotRegexp(t, `(?i)warning|error|repair`, string(said))
		}
		text := tool(t, "pdftotext", "-layout", filepath.Join(d.Folder, ReportFile), "-")
		_, text, _ = strings.Cut(text, "Every item")
		for _, it := range d.Results.Items {
			if it.Unit == "" {
				continue
			}
			row := regexp.MustCompile(`(?m)^ *` + regexp.QuoteMeta(it.Code) + ` .*$`).FindString(text)
			require.Contains(t, row, it.Name)
			require.Contains(t, row, " "+it.Unit+" ", it.Code)
			require.Contains(t, row, d.Results.Fixed(*it.Left, it.Decimals), it.Code)
		}
	}
}
