package packet

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// tool runs a program from Debian on a file; a missing program fails the test.
func tool(t testing.TB, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	require.NoError(t, err, "%s %s: %s", name, strings.Join(args, " "), out)
	return string(out)
}

// documents prints both documents of a demo.
func documents(t testing.TB, name string) map[byte]string {
	t.Helper()
	j, typed := demoJob(t, name)
	packet, err := j.Traveller()
	require.NoError(t, err)
	report, err := j.ReportPDF(j.Judge(read(t, j, typed)))
	require.NoError(t, err)
	dir := t.TempDir()
	out := map[byte]string{travellerPage: filepath.Join(dir, "packet.pdf"), reportPage: filepath.Join(dir, "report.pdf")}
	require.NoError(t, os.WriteFile(out[travellerPage], packet, 0o644))
	require.NoError(t, os.WriteFile(out[reportPage], report, 0o644))
	return out
}

// The PDF is sound by qpdf, and every font in it is embedded by pdffonts.
// Every page's symbol (ISO/IEC 18004) is read back from its picture by ZBar, a
// decoder that is not in our build, and says this job and this page.
func TestDocumentsAsOthersSeeThem(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		for kind, file := range documents(t, name) {
			t.Run(fmt.Sprintf("%s %c", name, kind), func(t *testing.T) {
				t.Parallel()
				require.Contains(t, tool(t, "qpdf", "--check", file), "No syntax or stream encoding errors")
				for _, line := range strings.Split(strings.TrimSpace(tool(t, "pdffonts", file)), "\n")[2:] {
					require.Regexp(t, `yes +(yes|no) +yes\s+\d+\s+\d+$`, line)
				}
				j, _ := demoJob(t, name)
				pages := strings.Split(strings.TrimSuffix(tool(t, "pdftotext", "-layout", file, "-"), "\f"), "\f")
				prefix := filepath.Join(t.TempDir(), "p")
				tool(t, "pdftoppm", "-r", "100", "-gray", file, prefix)
				pictures, err := filepath.Glob(prefix + "*")
				require.NoError(t, err)
				require.Len(t, pictures, len(pages))
				for i, text := range pages {
					require.Contains(t, text, j.Number)
					require.Contains(t, text, j.Intake.Pump.Serial)
					require.Contains(t, text, fmt.Sprintf("page %d of %d", i+1, len(pages)))
					require.Contains(t, text, "INVENTED FIGURES")
					seen := strings.Fields(tool(t, "zbarimg", "-q", "--raw", pictures[i]))
					require.Contains(t, seen, symbolText(j.Number, kind, i+1))
				}
				if kind == reportPage {
					require.Contains(t, pages[len(pages)-1], "end of report")
				}
			})
		}
	}
}

// A § stands before a sentence that the catalogue lacks.
func TestNothingIsPrintedThatTheCatalogueLacks(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		for _, file := range documents(t, name) {
			require.NotContains(t, tool(t, "pdftotext", file, "-"), "§", name)
		}
		j, typed := demoJob(t, name)
		require.NotContains(t, string(formOf(j, typed)), "§", name)
		pdf, err := (&Job{Intake: &Intake{}, Plan: j.Plan}).Traveller()
		require.NoError(t, err)
		file := filepath.Join(t.TempDir(), "blank.pdf")
		require.NoError(t, os.WriteFile(file, pdf, 0o644))
		require.NotContains(t, tool(t, "pdftotext", file, "-"), "§", name)
	}
}

// word is one word of a page with its box, in points from the upper left.
type word struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

type seenPage struct {
	W     float64 `xml:"width,attr"`
	H     float64 `xml:"height,attr"`
	Words []word  `xml:"word"`
}

func seenPages(t testing.TB, file string) []seenPage {
	t.Helper()
	var doc struct {
		Pages []seenPage `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(strings.NewReader(tool(t, "pdftotext", "-bbox", file, "-")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	require.NoError(t, d.Decode(&doc))
	return doc.Pages
}

// No word lies on another or in the margins, on either paper; the holes' strip
// stays clear (ISO 838: 12 mm from the edge).
func TestWordsKeepApart(t *testing.T) {
	const point = 72 / 25.4
	for _, name := range []string{"saltmarsh", "prairie", "torture A4", "torture Letter"} {
		files := map[byte]string{}
		if paper, ok := strings.CutPrefix(name, "torture "); ok {
			files[travellerPage] = torture(t, paper)
		} else {
			files = documents(t, name)
		}
		for kind, file := range files {
			for n, p := range seenPages(t, file) {
				for i, a := range p.Words {
					at := fmt.Sprintf("%s %c page %d: %q", name, kind, n+1, a.Text)
					require.Greater(t, a.XMin, 19.5*point, at)
					require.Less(t, a.XMax, p.W-9.5*point, at)
					require.Greater(t, a.YMin, 7*point, at)
					require.Less(t, a.YMax, p.H-7*point, at)
					for _, b := range p.Words[i+1:] {
						if a.Text == "." || b.Text == "." {
							continue // a decimal mark's box is as high as its figures, its ink at the foot
						}
						// Line boxes may touch; letters overlap when the boxes
						// share more than a third of the lower one's height.
						x := math.Min(a.XMax, b.XMax) - math.Max(a.XMin, b.XMin)
						y := math.Min(a.YMax, b.YMax) - math.Max(a.YMin, b.YMin)
						low := math.Min(a.YMax-a.YMin, b.YMax-b.YMin)
						require.False(t, x > .5 && y > low/3, "%s lies on %q", at, b.Text)
					}
				}
			}
		}
	}
}

// torture prints a packet with everything as long as it may be: names of 60
// characters in Greek and Cyrillic, a complaint of five lines, twelve outlets,
// trays of forty sizes.
func torture(t testing.TB, paper string) string {
	t.Helper()
	long := "Αγροτικός Συνεταιρισμός Θεσσαλίας και Водоканал Северный"
	pump := "Ostrel D12 with a name that is as long as sixty chars may be"
	intake, spec, shop := demoFiles(t, "name: Ostrel D4", "name: "+pump, "outlets: 4", "outlets: 12", "Brackwater Growers", long,
		"serial: 7719-204", "serial: 7719-204-0000-0123456789-ABCDEFGHIJKLMNOPQRSTUVWXYZ0123",
		"complaint: Hard to start hot, smoke under load, low on power since harvest.",
		"complaint: "+strings.Repeat("Hard to start hot and smokes under load, hunts at idle. ", 7),
		"foot shims: {from: 1.90 mm, to: 2.90 mm, step: 0.05 mm}", "foot shims: {from: 1.00 mm, to: 2.95 mm, step: 0.05 mm}",
		"end plugs: {from: 8.00 mm, to: 9.60 mm, step: 0.10 mm, part: end plug}", "end plugs: {from: 6.00 mm, to: 9.90 mm, step: 0.10 mm, part: end plug}",
		"paper: A4", "paper: "+paper)
	j, err := NewJob("26-0412-B", intake, spec, shop)
	require.NoError(t, err)
	pdf, err := j.Traveller()
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "packet.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	return file
}

func TestSameInputSameBytes(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		var before map[byte][]byte
		for range 2 {
			now := map[byte][]byte{}
			for kind, file := range documents(t, name) {
				data, err := os.ReadFile(file)
				require.NoError(t, err)
				now[kind] = data
			}
			for kind := range before {
				require.True(t, bytes.Equal(before[kind], now[kind]), "%s %c", name, kind)
			}
			before = now
		}
	}
}

// A half-typed job says so on every page of its report.
func TestIncompleteOnEveryPage(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	delete(typed, "M1")
	pdf, err := j.ReportPDF(j.Judge(read(t, j, typed)))
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "report.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	pages := strings.Split(strings.TrimSuffix(tool(t, "pdftotext", "-layout", file, "-"), "\f"), "\f")
	for _, p := range pages {
		require.Contains(t, p, "INCOMPLETE")
	}
	require.NotContains(t, pages[0], "Meets its test sheet")
}

func BenchmarkTraveller(b *testing.B) {
	j, _ := demoJob(b, "saltmarsh")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := j.Traveller(); err != nil {
			b.Fatal(err)
		}
	}
}
