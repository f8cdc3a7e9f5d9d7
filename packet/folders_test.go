package packet

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A job number is found in the name that somebody gave its folder, and no part of
// another word is taken for one.
func TestNumbersInNamesOfFolders(t *testing.T) {
	for name, want := range map[string][]string{
		"26-0001-C":                       {"26-0001-C"},
		"26-0001-c":                       {"26-0001-C"},
		"26-0001-C_done":                  {"26-0001-C"},
		"Brackwater 26-0001-C":            {"26-0001-C"},
		"Kopie von 26-0001-C (2)":         {"26-0001-C"},
		"2026-10-05 26-0001-C":            {"26-0001-C"},
		"2026-10-05-26-0001-C":            {"26-0001-C"},
		"26-0001-C with 26-0412-B's pump": {"26-0001-C", "26-0412-B"},
		"26-0001-C, 26-0001-c":            {"26-0001-C"},
		"260001c done":                    {"26-0001-C"},
		"26-0001-C.zip":                   {"26-0001-C"},
		"26-0001-D":                       nil, // its check character does not fit
		"26-0001-CX":                      nil,
		"126-0001-C":                      nil,
		"ä26-0001-C":                      nil,
		"26-0001-Cé":                      nil,
		"pump":                            nil,
		"":                                nil,
		"\xff26-0001-C\xff":               {"26-0001-C"},
	} {
		require.Equal(t, want, numbersIn(name), name)
	}
}

// Not every name with one of ours in it is a second one: pictures, tables and other
// words are left alone, and so is what these commands write.
func TestSecondOnesByName(t *testing.T) {
	for name, want := range map[string]string{
		"readings (conflicted copy 2026-10-06).yaml":  FormFile,
		"readings.sync-conflict-20261006-101530.yaml": FormFile,
		"READINGS.YAML":               FormFile,
		"readings.bak":                FormFile,
		"readings-second (1).yaml":    secondFile,
		"readings-second-history~":    secondHistoryFile,
		"readings-history.jsonl.orig": HistoryFile,
		"intake (1).yaml":             IntakeFile,
		"report - Copy.json":          ResultsFile,
		"report - Copy.pdf":           ReportFile,
		"report-short (1).pdf":        ShortFile,
		"Kopie von issue-12.yaml":     "issue-12.yaml",
		"report-issue-2 (1).pdf":      "report-issue-2.pdf",
		"packet.pdf":                  "",
		"packet-01.png":               "",
		"report-1.png":                "",
		"report-issue-1.pdf":          "",
		"issue-10.yaml":               "",
		"lines.csv":                   "",
		"readings.csv":                "",
		".readings.yaml.swp":          "",
		".lock":                       "",
		"workshop.pdf":                "",
		"inspection of report-holder": ReportFile,
		"special.txt":                 "",
	} {
		require.Equal(t, want, secondOf(name), name)
	}
	for _, own := range ownFiles {
		require.Empty(t, secondOf(own))
	}
}
