package packet

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/packet/codes"
	"shimcard/specs"
	"shimcard/specs/strict"
)

func demoJob(t testing.TB, name string) (*Job, map[string]string) {
	t.Helper()
	var files [3]File
	spec, shop := "ostrel-d4.yaml", "saltmarsh.yaml"
	if name == "prairie" {
		spec, shop = "vessant-s6.yaml", "prairie.yaml"
	}
	for i, n := range []string{"", spec, shop} {
		var err error
		files[i].Name = n
		if i == 0 {
			files[i].Name = "intake.yaml"
			files[i].Data, err = demo.ReadFile("demo/" + name + "-intake.yaml")
		} else {
			files[i].Data, err = readDemoSpecs(n)
		}
		require.NoError(t, err)
	}
	number, ok := codes.NewNumber(2026, "", 412)
	require.True(t, ok)
	job, err := NewJob(number, files[0], files[1], files[2])
	require.NoError(t, err)
	typed, err := demoReadings(name, job.Plan)
	require.NoError(t, err)
	return job, typed
}

func formOf(j *Job, typed map[string]string) []byte {
	return Form(j.Number, j.Plan, func(b *Box) string { return typed[b.Code] })
}

func read(t testing.TB, j *Job, typed map[string]string) *Readings {
	t.Helper()
	r, err := ReadForm("readings.yaml", formOf(j, typed), j.Number, j.Plan)
	require.NoError(t, err)
	return r
}

func TestFormComesBackAsTyped(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		r := read(t, j, typed)
		for _, b := range j.Boxes() {
			require.Equal(t, typed[b.Code] == "", r.Entries[b.Code].Blank(), b.Code)
		}
		require.Empty(t, j.Doubts(r))

		// The office types commas, on Windows, in a word processor.
		form := string(formOf(j, typed))
		for code, v := range typed {
			form = strings.ReplaceAll(form, "\n"+code+": "+v+" ", "\n"+code+": "+strings.ReplaceAll(v, ".", ",")+"\u00a0 ")
		}
		form = "\ufeff" + strings.ReplaceAll(form, "\n", "\r\n")
		again, err := ReadForm("readings.yaml", []byte(form), j.Number, j.Plan)
		require.NoError(t, err)
		for _, b := range j.Boxes() {
			if b.Kind == Number {
				require.Equal(t, r.Entries[b.Code].Number, again.Entries[b.Code].Number, b.Code)
			}
		}
	}
}

func TestFormValues(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	for _, c := range []struct {
		typed     string
		number    float64
		confirmed bool
		remark    string
	}{
		{"3.34", 3.34, false, ""}, {"3,34", 3.34, false, ""}, {"3.34 mm", 3.34, false, ""}, {"3340 µm", 3.34, false, ""},
		{"3.34 (face scored)", 3.34, false, "face scored"}, {"8.90 !", 8.9, true, ""}, {"8,90 ! (worn)", 8.9, true, "worn"},
		{"(illegible)", 0, false, "illegible"},
	} {
		typed["H1a"] = c.typed
		e := read(t, j, typed).Entries["H1a"]
		require.InDelta(t, c.number, e.Number, 1e-12, c.typed)
		require.Equal(t, c.confirmed, e.Confirmed, c.typed)
		require.Equal(t, c.remark, e.Remark, c.typed)
	}
}

// A shop of another language types its own words or the English ones; what is
// stored and compared is the same.
func TestFormInAnotherLanguage(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	want := read(t, j, typed)
	intake, spec, shop := demoFiles(t, "language: en", "language: de", "decimal mark: point", "decimal mark: comma")
	german, err := NewJob(j.Number, intake, spec, shop)
	require.NoError(t, err)
	require.Contains(t, string(formOf(german, nil)), "0,8", "windows have the shop's decimal mark")

	for _, own := range []bool{false, true} {
		for _, b := range german.Boxes() {
			v := typed[b.Code]
			switch i := slices.Index(b.Choices, v); {
			case own && b.Kind == Tick:
				typed[b.Code] = map[string]string{"yes": "ja", "no": "nein"}[v]
			case own && i >= 0:
				typed[b.Code] = b.answers()[i]
			}
		}
		got := read(t, german, typed)
		for _, b := range german.Boxes() {
			w, g := want.Entries[b.Code], got.Entries[b.Code]
			require.Equal(t, w.Yes, g.Yes, b.Code)
			if b.Kind == Choice {
				require.Equal(t, w.Text, g.Text, b.Code)
			}
		}
		require.Empty(t, german.Doubts(got))
		require.Equal(t, j.Judge(want).Overall, german.Judge(got).Overall)
	}
}

func TestFormFaultsNamePlaceAndRemedy(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	form := string(formOf(j, typed))
	for _, c := range []struct{ from, to, says string }{
		{"\nH1a: 3.33", "\nH1a: three", "a figure in mm, like"},
		{"\nH1a: 3.33", "\nH1a: 3.33 bar", "a figure in mm, like"},
		{"\nH1a: 3.33", "\nH1z: 3.33", "a box code of this job, such as H1"},
		{"\nA2: freely", "\nA2: frozen", "freely, stiff, not at all"},
		{"\nA5: yes", "\nA5: maybe", "yes or no"},
		{"\njob: " + j.Number, "\njob: 26-0413-B", "the number of this job, " + j.Number},
		{"\nedition: 1", "\nedition: 7", "edition"},
	} {
		require.Contains(t, form, c.from)
		bad := strings.Replace(form, c.from, c.to, 1)
		_, err := ReadForm("readings.yaml", []byte(bad), j.Number, j.Plan)
		require.Error(t, err, c.to)
		line := 1 + strings.Count(bad[:strings.Index(bad, c.to)+1], "\n")
		require.Contains(t, err.Error(), fmt.Sprintf("readings.yaml:%d:", line), c.to)
		require.Contains(t, err.Error(), c.says, c.to)
		var faults strict.Faults
		require.ErrorAs(t, err, &faults)
	}
}

// Source: the acceptance of the issue: a value outside its window is shown with
// box, value and window, and stops the report until corrected or confirmed.
func TestUnbelievableReadingsStop(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed["H1a"] = "334"
	doubts := stopping(j.Doubts(read(t, j, typed)))
	require.Len(t, doubts, 1)
	for _, s := range []string{"H1a", "334", "1.00 to 6.00", "334 !"} {
		require.Contains(t, doubts[0].String(), s)
	}
	typed["H1a"] = "334 !"
	require.Empty(t, stopping(j.Doubts(read(t, j, typed))))
}

func FuzzReadForm(f *testing.F) {
	j, typed := demoJob(f, "saltmarsh")
	f.Add(formOf(j, typed))
	f.Add([]byte("form: 1\njob: " + j.Number + "\nedition: 1\nH1a: 3,34 ! (x)\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ReadForm("f", data, j.Number, j.Plan)
		if err == nil {
			j.Doubts(r)
			res := j.Judge(r)
			res.found()
			res.did(j)
			j.firstPage(res, rooms[0])
			j.itemBlocks(res)
			j.recordBlocks(res)
		}
	})
}

func readDemoSpecs(name string) ([]byte, error) { return fs.ReadFile(specs.Demo(), name) }
