package packet

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/packet/codes"
)

// demoFiles are the input files of the first demo, changed by some edits.
func demoFiles(t testing.TB, edits ...string) (intake, spec, shop File) {
	t.Helper()
	r := strings.NewReplacer(edits...)
	get := func(data []byte, err error) []byte {
		require.NoError(t, err)
		return []byte(r.Replace(string(data)))
	}
	return File{"intake.yaml", get(demo.ReadFile("demo/saltmarsh-intake.yaml"))},
		File{"ostrel-d4.yaml", get(readDemoSpecs("ostrel-d4.yaml"))},
		File{"saltmarsh.yaml", get(readDemoSpecs("saltmarsh.yaml"))}
}

func names(t testing.TB, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var out []string
	for _, e := range entries {
		if e.Name() == numbersFolder {
			for _, half := range names(t, filepath.Join(dir, numbersFolder)) {
				require.False(t, strings.HasPrefix(half, unfinished), half)
			}
			continue
		}
		out = append(out, e.Name())
	}
	return out
}

func TestCreateMakesTheWholeFolder(t *testing.T) {
	root := t.TempDir()
	intake, spec, shop := demoFiles(t)
	dir, job, err := Create(root, intake, spec, shop)
	require.NoError(t, err)
	require.Equal(t, job.Number, filepath.Base(dir))
	require.ElementsMatch(t, []string{IntakeFile, SpecFile, ShopFile, FormFile, PacketFile}, names(t, dir))
	frozen, err := os.ReadFile(filepath.Join(dir, SpecFile))
	require.NoError(t, err)
	require.Equal(t, spec.Data, frozen)

	again, err := Open(dir)
	require.NoError(t, err)
	require.Equal(t, job.Number, again.Number)
	res, doubts, err := again.Report(dir)
	require.NoError(t, err)
	require.Empty(t, doubts)
	require.Equal(t, PumpIncomplete, res.Overall) // nothing typed yet
}

func TestNumbersAreGivenOutOnce(t *testing.T) {
	root := t.TempDir()
	intake, spec, shop := demoFiles(t)
	var wg sync.WaitGroup
	var mu sync.Mutex
	seen := map[string]bool{}
	for range 4 {
		wg.Go(func() {
			for range 5 {
				_, job, err := Create(root, intake, spec, shop)
				mu.Lock()
				if err != nil || seen[job.Number] {
					t.Errorf("%v %v", err, job)
				} else {
					seen[job.Number] = true
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	require.Len(t, seen, 20)
	require.Len(t, names(t, root), 20)
}

// A folder that somebody renamed still holds its number.
func TestRenamedFoldersKeepTheirNumbers(t *testing.T) {
	root := t.TempDir()
	intake, spec, shop := demoFiles(t)
	for i, name := range []string{"%s Brackwater", "old pump"} {
		dir, job, err := Create(root, intake, spec, shop)
		require.NoError(t, err)
		to := filepath.Join(root, strings.ReplaceAll(name, "%s", job.Number))
		require.NoError(t, os.Rename(dir, to))
		if i == 1 {
			again, err := Open(to)
			require.NoError(t, err)
			require.Equal(t, job.Number, again.Number)
		}
	}
	_, job, err := Create(root, intake, spec, shop)
	require.NoError(t, err)
	var given []string
	for n := 1; len(given) < 3; n++ {
		if number, ok := codes.NewNumber(2026, "", n); ok {
			given = append(given, number)
		}
	}
	require.Equal(t, given[2], job.Number)
}

func TestContradictionsAreRefusedWithBothValues(t *testing.T) {
	for _, c := range []struct{ from, to, says string }{
		{"outlets: 4, rotation: right}\nengine", "outlets: 6, rotation: right}\nengine", "the intake says 6, the spec 4"},
		{"outlets: 4, rotation: right}\nengine", "outlets: 4, rotation: left}\nengine", "the intake says left, the spec right"},
		{"{name: Ostrel D4, serial", "{name: Ostrel D6, serial", `the intake says "Ostrel D6", the spec is for "Ostrel D4"`},
	} {
		root := t.TempDir()
		intake, spec, shop := demoFiles(t, c.from, c.to)
		_, _, err := Create(root, intake, spec, shop)
		require.ErrorContains(t, err, c.says)
		require.Empty(t, names(t, root), "half-made folder")
	}
}

func TestHostileIntakesLeaveNothing(t *testing.T) {
	for name, data := range map[string]string{
		"empty": "", "binary": "\x00\x01\x02", "not text": "\xff\xfe\xfa", "list": "- a\n- b\n", "open quote": "intake: \"1\n",
		"alias bomb": "a: &a [x,x]\nb: [*a,*a]\n", "deep": strings.Repeat("[", 10000),
		"no glyph": "", "override": "", "missing": "intake: 1\n", "year zero": "",
	} {
		root := t.TempDir()
		intake, spec, shop := demoFiles(t)
		switch name {
		case "no glyph":
			data = strings.Replace(string(intake.Data), "Brackwater Growers", "Brackwater 中 Growers", 1)
		case "override":
			data = strings.Replace(string(intake.Data), "Brackwater Growers", "Brackwater \u202e Growers", 1)
		case "year zero":
			data = strings.Replace(string(intake.Data), "2026-10-05", "0000-00-00", 1)
		}
		intake.Data = []byte(data)
		_, _, err := Create(root, intake, spec, shop)
		require.Error(t, err, name)
		require.Contains(t, err.Error(), "intake.yaml", name)
		if name == "no glyph" {
			require.Contains(t, err.Error(), "中", "text the typeface lacks is named, not dropped")
		}
		require.Empty(t, names(t, root), name)
	}
}

func TestReadOnlyFolder(t *testing.T) {
	root := t.TempDir()
	file := filepath.Join(root, "jobs")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	intake, spec, shop := demoFiles(t)
	_, _, err := Create(file, intake, spec, shop)
	require.ErrorContains(t, err, "jobs")
	require.NotErrorIs(t, err, fs.ErrExist)
}

// A reading that cannot be believed leaves the old report as it was.
func TestDoubtsWriteNothing(t *testing.T) {
	root := t.TempDir()
	intake, spec, shop := demoFiles(t)
	dir, job, err := Create(root, intake, spec, shop)
	require.NoError(t, err)
	form := Form(job.Number, job.Plan, func(b *Box) string {
		if b.Code == "G1" {
			return "620"
		}
		return ""
	})
	require.NoError(t, os.WriteFile(filepath.Join(dir, FormFile), form, 0o644))
	_, doubts, err := job.Report(dir)
	require.NoError(t, err)
	require.Len(t, doubts, 1)
	require.NotContains(t, names(t, dir), ReportFile)
}

func TestFilesThatAreNoFiles(t *testing.T) {
	dir := t.TempDir()
	huge := filepath.Join(dir, "huge.yaml")
	require.NoError(t, os.WriteFile(huge, make([]byte, mostBytes+1), 0o644))
	_, err := ReadFile(huge)
	require.ErrorContains(t, err, "larger than 1 MiB")
	_, err = ReadFile(dir)
	require.ErrorContains(t, err, "is a directory")
	_, _, err = Check(filepath.Join(dir, "none.yaml"))
	require.ErrorContains(t, err, "no such file")
	empty := filepath.Join(dir, "empty.yaml")
	require.NoError(t, os.WriteFile(empty, nil, 0o644))
	_, _, err = Check(empty)
	require.ErrorContains(t, err, "empty")
}

// Two asterisks in a name are asterisks, not bold type; the longest names and
// complaint that an intake may have still make a packet.
func TestLongAndOddNames(t *testing.T) {
	long := strings.TrimSpace(string([]rune(strings.Repeat("Überlänge ", 6))[:60]))
	intake, spec, shop := demoFiles(t, "Brackwater Growers", long, "serial: 7719-204", "serial: \"7719**204**\"",
		"Hard to start hot, smoke under load, low on power since harvest.", strings.Repeat("Raucht stark, ", 28))
	j, err := NewJob("26-0412-B", intake, spec, shop)
	require.NoError(t, err)
	pdf, err := j.Traveller()
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "p.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	text := strings.NewReplacer("\u200a", "", " ", "").Replace(tool(t, "pdftotext", "-layout", file, "-"))
	require.True(t, strings.Contains(text, "7719**204**"))
	require.False(t, strings.Contains(text, "7719204"))
}
