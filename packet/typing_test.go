package packet

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// typingJob is a fresh job folder of a demo, with what is typed in its form.
func typingJob(t testing.TB, typed bool) (dir string, readings map[string]string) {
	t.Helper()
	intake, spec, shop := demoFiles(t)
	dir, job, err := Create(filepath.Join(t.TempDir(), "jobs"), intake, spec, shop)
	require.NoError(t, err)
	_, readings = demoJob(t, "saltmarsh")
	if typed {
		form := Form(job.Number, job.Plan, func(b *Box) string { return readings[b.Code] })
		require.NoError(t, os.WriteFile(filepath.Join(dir, FormFile), form, 0o644))
	}
	return dir, readings
}

func opened(t testing.TB, dir, who string) *Typing {
	t.Helper()
	typing, err := OpenTyping(dir, who)
	require.NoError(t, err)
	typing.now = func() time.Time { return time.Date(2026, 10, 20, 9, 30, 0, 0, time.UTC) }
	return typing
}

func boxOf(t testing.TB, p *Plan, code string) *Box {
	t.Helper()
	for _, b := range p.Boxes() {
		if b.Code == code {
			return b
		}
	}
	t.Fatalf("no box %s", code)
	return nil
}

// A whole job typed box by box is what the form holds, line by line.
func TestPutWholeJob(t *testing.T) {
	dir, readings := typingJob(t, false)
	typing := opened(t, dir, "K.S.")
	for _, b := range typing.Boxes() {
		if text := readings[b.Code]; text != "" {
			require.NoError(t, typing.Put(b, text, ""))
			require.Equal(t, text, typing.Raw(b))
		}
	}
	again := opened(t, dir, "")
	require.Equal(t, "K.S.", again.Readings.TypedBy)
	require.Empty(t, again.Corrections(), "a first entry is no correction")
	for _, b := range again.Boxes() {
		require.Equal(t, readings[b.Code], again.Raw(b), b.Code)
	}
	got, err := os.ReadFile(filepath.Join(dir, FormFile))
	require.NoError(t, err)
	want := Form(typing.Number, typing.Plan, func(b *Box) string { return formValue(readings[b.Code]) })
	want = bytes.Replace(want, []byte("typed by:"), []byte("typed by: K.S."), 1)
	require.Equal(t, string(want), string(got))
}

func TestCheckSaysWhatAndInstead(t *testing.T) {
	dir, _ := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	for _, c := range []struct{ code, typed, reason, instead string }{
		{"H1a", "33.4", "believable is 1.00 to 6.00", "3.34"},
		{"H1a", "334", "believable is", "3.34"},
		{"H1a", "0.131", "believable is", "3.33"},
		{"H1a", "3.3.4", "found 3.3.4", ""},
	} {
		d := typing.Check(boxOf(t, typing.Plan, c.code), c.typed)
		require.NotEmpty(t, d, c.typed)
		require.Contains(t, d[0].Reason, c.reason)
		require.Equal(t, c.instead, d[0].Instead, c.typed)
	}
	for _, b := range typing.Boxes() {
		require.Empty(t, typing.Check(b, typing.Raw(b)), b.Code)
	}
}

func TestCorrectionsAreKept(t *testing.T) {
	dir, _ := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	b := boxOf(t, typing.Plan, "H1a")
	was := typing.Raw(b)
	require.NoError(t, typing.Put(b, "3.34", "misread"))
	require.NoError(t, typing.Put(b, "3.34 !", ""))
	form := filepath.Join(dir, FormFile)
	data, err := os.ReadFile(form)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(form, []byte(strings.Replace(string(data), "H1a: 3.34 !", "H1a: 3.32", 1)), 0o644))
	got := opened(t, dir, "").Corrections()
	require.Len(t, got, 2)
	require.Equal(t, Change{"H1a", was, "3.34", "K.S.", time.Date(2026, 10, 20, 9, 30, 0, 0, time.UTC), Entered, "misread"}, got[0])
	require.Equal(t, []any{"3.34 !", "3.32", "K.S.", InForm}, []any{got[1].Old, got[1].New, got[1].Who, got[1].How})
}
