package packet

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/packet/codes"
)

// demoFolders makes both demonstrations.
func demoFolders(t *testing.T) []Demo {
	t.Helper()
	demos, err := MakeDemos(t.TempDir())
	require.NoError(t, err)
	return demos
}

// through takes a record through its symbols' texts, the last one first.
func through(t *testing.T, r Record) Record {
	t.Helper()
	texts, err := codes.Pack(r.Number, r.Document, r.Files, symbolMost)
	require.NoError(t, err)
	var g codes.Gather
	for i := range texts {
		fresh, err := g.Add(texts[len(texts)-1-i])
		require.NoError(t, err)
		require.True(t, fresh)
	}
	files, err := g.Files()
	require.NoError(t, err)
	out, err := RecordOf(r.Number, files)
	require.NoError(t, err)
	return out
}

// With the folder lost, what the symbols carry makes it again: the same packet,
// the same report, the same data, to the byte. The hours, for the books alone, are
// in no document.
func TestFolderFromItsSymbols(t *testing.T) {
	for _, d := range demoFolders(t) {
		job, err := Open(d.Folder)
		require.NoError(t, err)
		form := regexp.MustCompile(`(?m)^`+job.Hours.Code+`: \S+ *#`).ReplaceAll(content(t, d.Folder, FormFile), fmt.Appendf(nil, "%-22s #", job.Hours.Code+":"))
		require.NoError(t, os.WriteFile(filepath.Join(d.Folder, FormFile), form, 0o644))
		for document, names := range map[byte][]string{
			codes.Traveller: {IntakeFile, SpecFile, ShopFile, PacketFile},
			codes.Report:    {IntakeFile, SpecFile, ShopFile, PacketFile, ReportFile, ResultsFile, FormFile},
		} {
			was, err := recordIn(d.Folder, document)
			require.NoError(t, err)
			root := t.TempDir()
			dir, err := Rebuild(root, through(t, was))
			require.NoError(t, err)
			for _, name := range names {
				want, err := os.ReadFile(filepath.Join(d.Folder, name))
				require.NoError(t, err)
				got, err := os.ReadFile(filepath.Join(dir, name))
				require.NoError(t, err)
				require.True(t, bytes.Equal(want, got), "%s %s", d.Name, name)
			}
			now, err := recordIn(dir, document)
			require.NoError(t, err)
			require.Equal(t, was.Digest(), now.Digest())
			_, err = Rebuild(root, was)
			require.ErrorIs(t, err, fs.ErrExist, "a folder is never written over")
		}
	}
}

// Whatever a person may type comes back from the short form of the record.
func TestTypedComesBack(t *testing.T) {
	d := demoFolders(t)[0]
	job, err := Open(d.Folder)
	require.NoError(t, err)
	typed := map[string]string{}
	odd := map[Kind][]string{
		Number: {"3,34", "3.34 !", "(illegible)", "3.34 (face scored)", "0.131 in", ""}, Tick: {"ja", "no", "x", "(not looked)"},
		Text: {"filter #4: changed", `say "no"`, "- 3", "yes", "ä € Ω", "[a, b]", "& so", "null", "~", "0x10", "it's"}, Initials: {"R.T.", "n/a: ill"}, Date: {"2026-10-08", "8.10.2026"},
	}
	seen := map[Kind]int{}
	for _, b := range job.Boxes() {
		if texts := odd[b.Kind]; len(texts) > 0 {
			text := texts[seen[b.Kind]%len(texts)]
			var e Entry
			if _, want := b.read(text, &e); want != "" {
				text = ""
			}
			typed[b.Code] = text
			seen[b.Kind]++
		}
	}
	typed[job.Hours.Code] = "1.5"
	form := Form(job.Number, job.Plan, func(b *Box) string { return formValue(typed[b.Code]) })
	r, err := ReadForm("form", typedBy(form, "A: \"B\""), job.Number, job.Plan)
	require.NoError(t, err)
	for _, b := range job.Boxes() {
		require.Equal(t, typed[b.Code], r.Entries[b.Code].Raw, b.Code)
	}
	for _, again := range [][]byte{job.plainForm(r), job.fullForm(r)} {
		back, err := ReadForm("record", again, job.Number, job.Plan)
		require.NoError(t, err)
		require.Equal(t, r.TypedBy, back.TypedBy)
		for _, b := range job.Boxes() {
			x, y := r.Entries[b.Code], back.Entries[b.Code]
			x.Line, y.Line = 0, 0
			require.Equal(t, x, y, b.Code)
		}
	}
	// As documents hold it, it is the same still.
	back, err := ReadForm("record", job.plainForm(job.documented(r)), job.Number, job.Plan)
	require.NoError(t, err)
	for _, b := range job.Boxes() {
		require.Equal(t, b != job.Hours, b.same(r.Entries[b.Code], back.Entries[b.Code]), b.Code)
	}
}

// One value, however it is typed, is one text in a document.
func TestDocumentedForm(t *testing.T) {
	length := &Box{Kind: Number, Unit: calc.MM, Decimals: 2}
	for _, c := range []struct {
		b           *Box
		typed, want string
	}{
		{length, "1.5", "1.50"}, {length, "1,50", "1.50"}, {length, "1.500 mm", "1.50"}, {length, "1.505", "1.505"}, {length, "-1.5!", "-1.50 !"},
		{length, "0.5 in (by eye)", "12.70 (by eye)"}, {length, "(illegible)", "(illegible)"}, {length, "", ""},
		{&Box{Kind: Number, Unit: calc.PerMin}, "500.0", "500"},
		{&Box{Kind: Tick}, "x", "yes"}, {&Box{Kind: Tick}, "nein", "no"}, {&Box{Kind: Date}, "8.10.2026", "2026-10-08"},
		{&Box{Kind: Choice, Choices: []string{"dry", "wet"}}, "DRY (inside)", "dry (inside)"},
		{&Box{Kind: Text}, "1,5 (one)", "1,5 (one)"}, {&Box{Kind: Initials}, "R.T.", "R.T."},
	} {
		e := Entry{Raw: c.typed}
		_, want := c.b.read(c.typed, &e)
		require.Empty(t, want)
		require.Equal(t, c.want, c.b.documented(e).Raw, c.typed)
	}
}

// A figure changed anywhere in a record is found: its digest is another, and
// results that no longer follow from the readings are named by their boxes.
func TestChangedRecordIsFound(t *testing.T) {
	d := demoFolders(t)[0]
	sound, err := recordIn(d.Folder, codes.Report)
	require.NoError(t, err)
	pages := []codes.Page{{Number: sound.Number, Document: codes.Report, Page: 1, Digest: sound.Digest()}}
	agree := func(r Record) (agrees bool, said string) {
		checks, err := r.Verify(pages)
		require.NoError(t, err)
		require.Len(t, checks, 2)
		agrees = true
		for _, c := range checks {
			agrees = agrees && c.Agrees
			said += c.Detail
		}
		return agrees, said
	}
	ok, said := agree(sound)
	require.True(t, ok, said)

	forged := func(name, from, to string) Record {
		r := sound
		r.Files = nil
		for _, f := range sound.Files {
			if f.Name == name {
				require.Contains(t, string(f.Data), from)
				f.Data = []byte(strings.Replace(string(f.Data), from, to, 1))
			}
			r.Files = append(r.Files, f)
		}
		return r
	}
	job, err := Open(d.Folder)
	require.NoError(t, err)
	ok, said = agree(forged(RecordedResults, string(PumpMeets), string(PumpFails)))
	require.False(t, ok)
	require.Contains(t, said, string(PumpFails))
	checks, err := sound.Compare(d.Folder)
	require.NoError(t, err)
	for _, c := range checks {
		require.True(t, c.Agrees, c.What)
	}
	var measured, reading string
	for _, b := range job.Boxes() {
		if b.Kind == Number && b.From == nil && bytes.Contains(sound.file(FormFile), []byte("\n"+b.Code+": ")) {
			measured = b.Code
		}
	}
	for line := range strings.Lines(string(sound.file(FormFile))) {
		if strings.HasPrefix(line, measured+": ") {
			reading = strings.TrimSpace(line)
		}
	}
	require.NotEmpty(t, reading)
	other := forged(FormFile, reading, reading+" !")
	require.NotEqual(t, sound.Digest(), other.Digest())
	checks, err = other.Compare(d.Folder)
	require.NoError(t, err)
	var differ string
	for _, c := range checks {
		if !c.Agrees {
			differ += c.Detail
		}
	}
	require.Contains(t, differ, measured+":", "the box is named")
}

// A record that lacks a file, or holds one too many, makes no job.
func TestRecordsAreWhole(t *testing.T) {
	f := func(names ...string) (out []codes.File) {
		for _, n := range names {
			out = append(out, codes.File{Name: n, Data: []byte("x")})
		}
		return out
	}
	for _, files := range [][]codes.File{
		nil, f(IntakeFile, SpecFile), f(IntakeFile, SpecFile, ShopFile, FormFile), f(IntakeFile, SpecFile, ShopFile, "more.yaml"),
	} {
		_, err := RecordOf("26-0001-C", files)
		require.Error(t, err)
	}
	_, err := RecordOfDocument(f("invoice.pdf"))
	require.ErrorIs(t, err, ErrNoRecord)
	_, err = RecordOfDocument(f("26-0001-C-intake.yaml", "26-0003-8-intake.yaml"))
	require.ErrorContains(t, err, "one by one")
	_, err = RecordOfDocument(f("26-0001-C-intake.yaml", "26-0001-C-spec.yaml"))
	require.ErrorContains(t, err, "shop.yaml is not attached")
}
