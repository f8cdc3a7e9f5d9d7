package packet

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
)

// compiled is the schema of the results as a public validator reads it, which
// checks it against its own draft (JSON Schema 2020-12) first.
func compiled(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(ResultsSchema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	require.NoError(t, c.AddResource("results.schema.json", doc))
	s, err := c.Compile("results.schema.json")
	require.NoError(t, err)
	return s
}

func valid(t *testing.T, s *jsonschema.Schema, r *Results) {
	t.Helper()
	data, err := r.JSON()
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	require.NoError(t, err)
	require.NoError(t, s.Validate(doc))
}

// The results of whatever is typed keep to their schema: both demonstrations,
// blank, half typed, failing, fuel at shut-off, every figure confirmed at the end
// of its window, remarks everywhere, overdue instruments, a later issue.
func TestResultsKeepToTheirSchema(t *testing.T) {
	s := compiled(t)
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, good := demoJob(t, name)
		doctored := map[string]map[string]string{"good": good, "blank": {}}
		change := func(as string, of func(b *Box, v string) string) {
			m := maps.Clone(good)
			for _, b := range j.Boxes() {
				if v := of(b, good[b.Code]); v == "" {
					delete(m, b.Code)
				} else {
					m[b.Code] = v
				}
			}
			doctored[as] = m
		}
		change("half", func(b *Box, v string) string {
			if b.Code[0] >= 'K' {
				return ""
			}
			return v
		})
		change("every other", func(b *Box, v string) string {
			if len(b.Code)%2 == 0 {
				return ""
			}
			return v
		})
		change("fuel at shut-off", func(_ *Box, v string) string { return strings.Replace(v, "0.0", "4.0", 1) })
		change("remarks", func(b *Box, v string) string {
			if v == "" || b.Kind == Initials || b.Kind == Date || b.Kind == Text {
				return v
			}
			return v + " (seen)"
		})
		for _, edge := range []float64{0, 1} {
			change(fmt.Sprint("edge ", edge), func(b *Box, v string) string {
				if b.Kind != Number || b.From != nil || v == "" {
					return v
				}
				return strings.ReplaceAll(b.Decimal(b.Low+edge*(b.High-b.Low)), "−", "-") + " !"
			})
		}
		for as, typed := range doctored {
			t.Run(name+" "+as, func(t *testing.T) {
				form := Form(j.Number, j.Plan, func(b *Box) string { return formValue(typed[b.Code]) })
				r, err := ReadForm("form", form, j.Number, j.Plan)
				require.NoError(t, err)
				valid(t, s, j.Judge(r))
			})
		}
		for _, i := range j.Shop.Instruments {
			i.Due = i.Due.AddDate(-9, 0, 0)
		}
		r, err := ReadForm("form", Form(j.Number, j.Plan, func(b *Box) string { return formValue(good[b.Code]) }), j.Number, j.Plan)
		require.NoError(t, err)
		res := j.Judge(r)
		require.True(t, res.Instruments[0].Overdue)
		require.Contains(t, res.beside(), "overdue")
		valid(t, s, res)
	}
	dir := demoFolders(t)[0].Folder
	retype(t, dir, map[string]string{projection(t, dir): "4.33"})
	res := remade(t, dir)
	require.NotNil(t, res.Issue.Replaces)
	require.NotEmpty(t, res.Corrections)
	valid(t, s, res)
}

// Every property of the schema says what it is, and a figure its unit.
func TestSchemaSaysEverything(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(ResultsSchema))
	require.NoError(t, err)
	seen := 0
	var walk func(at string, x any)
	walk = func(at string, x any) {
		switch x := x.(type) {
		case []any:
			for i, y := range x {
				walk(fmt.Sprint(at, "/", i), y)
			}
		case map[string]any:
			if properties, ok := x["properties"].(map[string]any); ok {
				require.Equal(t, false, x["additionalProperties"], at)
				for name, p := range properties {
					seen++
					require.NotEmpty(t, p.(map[string]any)["description"], at+"/"+name)
				}
			}
			for k, y := range x {
				walk(at+"/"+k, y)
			}
		}
	}
	walk("", doc)
	require.Greater(t, seen, 150)
}

// A report goes by e-mail: under 300 kB. On both papers and in both languages the
// first page of a full one has the full-lever curve, and the short form is one page.
func TestReportIsSmall(t *testing.T) {
	for _, d := range everyDocument(t) {
		if !strings.Contains(d.name, "report") {
			continue
		}
		pdf, err := d.print()
		require.NoError(t, err)
		require.Less(t, len(pdf), 300_000, d.name)
		if !strings.Contains(d.name, ": report") {
			continue
		}
		name := filepath.Join(t.TempDir(), "report.pdf")
		require.NoError(t, os.WriteFile(name, pdf, 0o644))
		text := tool(t, "pdftotext", "-l", "1", name, "-")
		if !strings.Contains(d.name, "failing, short") { // where much fails, the short form leaves it to the report
			require.Contains(t, text, d.job.T("pump speed, rev/min"), d.name)
			require.Contains(t, strings.Join(strings.Fields(text), " "), d.job.T("Full lever: mean delivery, cm³ per 1000 strokes; bars: limits"), d.name)
		}
		if strings.Contains(d.name, "short") {
			require.Contains(t, tool(t, "pdfinfo", name), "Pages:           1\n", d.name)
		}
	}
}
