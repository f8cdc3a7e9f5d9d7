package packet

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Exported and read back it is the same, with point and comma.
func TestCSVComesBackTheSame(t *testing.T) {
	for _, edits := range [][]string{nil, {"decimal mark: point", "decimal mark: comma"}} {
		dir, typed := typingJob(t, true, edits...)
		typing := opened(t, dir, "K.S.")
		for code, text := range map[string]string{
			"A9": "=1+1", "A10": `hose; "old", cut`, "A11": "'tis wet", "H1a": "3.33 ! (face scored)", "H1b": "(illegible)", "H1c": "3,32",
		} {
			require.NoError(t, typing.Put(boxOf(t, typing.Plan, code), text, ""))
			typed[code] = text
		}
		table := typing.CSV()
		require.NotContains(t, string(table), ";=1+1")
		require.NotContains(t, string(table), ",=1+1")

		other, _ := typingJob(t, false, edits...)
		empty := opened(t, other, "M.L.")
		n, err := empty.PutCSV(File{"table.csv", table})
		require.NoError(t, err)
		require.Equal(t, len(typed), n)
		for _, b := range typing.Boxes() {
			require.True(t, b.same(typing.Readings.Entries[b.Code], empty.Readings.Entries[b.Code]), "%s: %q, %q", b.Code, typing.Raw(b), empty.Raw(b))
		}
		require.Equal(t, string(table), string(empty.CSV()))
		require.Empty(t, empty.Readings.Corrections)

		// Twice is once.
		before, err := os.ReadFile(filepath.Join(other, FormFile))
		require.NoError(t, err)
		n, err = empty.PutCSV(File{"table.csv", table})
		require.NoError(t, err)
		require.Zero(t, n)
		after, err := os.ReadFile(filepath.Join(other, FormFile))
		require.NoError(t, err)
		require.Equal(t, string(before), string(after))
	}
}

// A row with a remark and no value leaves the value as it is.
func TestCSVRemarkAlone(t *testing.T) {
	dir, _ := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	_, err := typing.PutCSV(File{"t", []byte("box,value,confirmed,remark\nH1a,,,scored\nH1b,,yes,\n")})
	require.NoError(t, err)
	require.Equal(t, "3.33 (scored)", typing.Raw(boxOf(t, typing.Plan, "H1a")))
	require.Equal(t, "3.34 !", typing.Raw(boxOf(t, typing.Plan, "H1b")))
	require.Empty(t, typing.Readings.Corrections)

	_, err = typing.PutCSV(File{"t", []byte("box,value,remark\nH1a,3.33,ge\xe4ndert\n")})
	require.ErrorContains(t, err, "a text that is not UTF-8")
	name := filepath.Join(t.TempDir(), "table.csv")
	require.NoError(t, os.WriteFile(name, inUTF16("box\tvalue\tremark\r\nH1a\t3.33\tgeändert\r\n", binary.LittleEndian), 0o644))
	f, err := ReadFile(name)
	require.NoError(t, err)
	_, err = typing.PutCSV(f)
	require.NoError(t, err)
	require.Equal(t, "3.33 (geändert)", typing.Raw(boxOf(t, typing.Plan, "H1a")))
}

// Source: RFC 4180: CRLF, a header line, quotes round what needs them, as many
// fields in every line; read here by encoding/csv, which is not ours.
func TestCSVIsRFC4180(t *testing.T) {
	dir, typed := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	table := bytes.TrimPrefix(typing.CSV(), []byte("\uFEFF"))
	require.Equal(t, bytes.Count(table, []byte("\n")), bytes.Count(table, []byte("\r\n")))
	rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, csvColumns, rows[0])
	require.Len(t, rows, len(typing.Boxes())+1)
	for _, row := range rows[1:] {
		require.Equal(t, typed[row[0]], row[slices.Index(rows[0], csvValue)], row[0])
	}
}

// What spreadsheets make of a table, and people who write one by hand.
func TestCSVFromSpreadsheets(t *testing.T) {
	dir, _ := typingJob(t, false)
	j := opened(t, dir, "K.S.").Job
	for _, c := range []struct{ table, code, text string }{
		{"box,value\nH1a,3.34\n", "H1a", "3.34"},
		{"Value;Box\r\n3,34;h1a\r\n", "H1a", "3,34"},
		{"\uFEFFbox\tremark\tvalue\tmine\nH1a\tscored\t3.34\tx\n", "H1a", "3.34 (scored)"},
		{"box;value;confirmed\nH1a;3,34;yes\n\n;;\n", "H1a", "3,34 !"},
		{"box,value\nA13,05.10.2026\nH1a,\n", "A13", "05.10.2026"},
	} {
		got, err := j.readCSV("table.csv", []byte(c.table))
		require.NoError(t, err, c.table)
		require.Equal(t, map[string]string{c.code: c.text}, got)
	}
	for _, c := range []struct{ table, says string }{
		{"", "an empty file"},
		{"box,reading\nH1a,3.3\n", "table.csv:1:1: found no column value"},
		{"box,value\nH1a,3.3.3\n", "table.csv:2:5: H1a: found \"3.3.3\""},
		{"box,value\nH1z,3.33\n", "table.csv:2:1: box: found \"H1z\""},
		{"box,value\nH1a,3.33\nh1a,3.33\n", "H1a a second time (first in line 2)"},
		{"box,value\nH1a,\"3.33\n", "table.csv:2"},
	} {
		_, err := j.readCSV("table.csv", []byte(c.table))
		require.ErrorContains(t, err, c.says)
	}
}

func FuzzReadCSV(f *testing.F) {
	j, _ := demoJob(f, "saltmarsh")
	f.Add([]byte("box,value\nH1a,3.34\n"))
	f.Add([]byte("\uFEFFbox;label;value;confirmed;remark\r\nA9;x;'=1;;\r\nH1a;;3,34;yes;(a"))
	f.Add([]byte("\"box\"\t\"value\"\nA10\t\"a\nb\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		in, err := j.readCSV("f", data)
		if err != nil {
			return
		}
		form := Form(j.Number, j.Plan, nil)
		r, err := ReadForm("f", form, j.Number, j.Plan)
		require.NoError(t, err)
		if _, again, err := j.withTexts(form, r, in); err == nil { // else of characters that are not printed
			for code, text := range in {
				require.Equal(t, strings.TrimSpace(text), again.Entries[code].Raw)
			}
		}
	})
}
