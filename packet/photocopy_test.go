package packet

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/packet/codes"
)

// copied is a page as a copier set to black and white gives it back: what is
// darker than 60 % of white turns black, the rest white.
type copied struct {
	w, h int
	pix  []byte
}

// copyOf copies page n of a document at so many dots per inch.
func copyOf(t *testing.T, file string, n, dpi int) copied {
	t.Helper()
	base := filepath.Join(t.TempDir(), "page")
	page := strconv.Itoa(n)
	tool(t, "pdftoppm", "-gray", "-r", strconv.Itoa(dpi), "-f", page, "-l", page, "-singlefile", file, base)
	data, err := os.ReadFile(base + ".pgm")
	require.NoError(t, err)
	r := bufio.NewReader(bytes.NewReader(data))
	var c copied
	var depth int
	_, err = fmt.Fscanf(r, "P5\n%d %d\n%d\n", &c.w, &c.h, &depth)
	require.NoError(t, err)
	c.pix, err = io.ReadAll(r)
	require.NoError(t, err)
	require.Len(t, c.pix, c.w*c.h)
	for i, v := range c.pix {
		c.pix[i] = 0
		if int(v)*100 >= 60*depth {
			c.pix[i] = 255
		}
	}
	return c
}

// larger is a page enlarged so many times, its steps smoothed between the dots,
// as a scanner would see the copy.
func (c copied) larger(times int) copied {
	out := copied{c.w * times, c.h * times, make([]byte, c.w*c.h*times*times)}
	between := func(i, most int) (a, b, share int) { // dots on either side, and how near the second is, in 2·times parts
		at := max(0, min(2*i+1-times, 2*times*(most-1)))
		return at / (2 * times), min(at/(2*times)+1, most-1), at % (2 * times)
	}
	for y := range out.h {
		y0, y1, down := between(y, c.h)
		for x := range out.w {
			x0, x1, right := between(x, c.w)
			upper := int(c.pix[y0*c.w+x0])*(2*times-right) + int(c.pix[y0*c.w+x1])*right
			lower := int(c.pix[y1*c.w+x0])*(2*times-right) + int(c.pix[y1*c.w+x1])*right
			out.pix[y*out.w+x] = byte((upper*(2*times-down) + lower*down) / (4 * times * times))
		}
	}
	return out
}

func (c copied) write(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "copy.pgm")
	require.NoError(t, os.WriteFile(file, append(fmt.Appendf(nil, "P5\n%d %d\n255\n", c.w, c.h), c.pix...), 0o644))
	return file
}

// nearly reports whether two words are the same but for one letter.
func nearly(a, b string) bool {
	x, y := []rune(a), []rune(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(y)-len(x) > 1 {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	if len(x) == len(y) {
		return i == len(x) || slices.Equal(x[i+1:], y[i+1:])
	}
	return slices.Equal(x[i:], y[i+1:])
}

// A page survives a copier: what Tesseract reads off a black and white copy at
// 100 dpi, enlarged to the 300 dpi it is made for, is what Poppler finds in the
// document, but for one word in seven at most; and ZBar reads the symbol of a
// copy at 150 dpi. Words of four letters and more; the share and the threshold
// are ours, no standard says them.
func TestPhotocopyIsRead(t *testing.T) {
	long := regexp.MustCompile(`\pL{4,}`)
	for _, c := range []struct {
		want     want
		document string
		page     string // a stage's first page; a report's by number
	}{
		{want{demo: "saltmarsh", paper: "A4", language: "en"}, "packet", "G"},
		{want{demo: "prairie", paper: "Letter", language: "de"}, "packet", "H"},
		{want{demo: "prairie", paper: "Letter", language: "en"}, "packet", "M"},
		{want{demo: "saltmarsh", paper: "A4", language: "de"}, "packet", "M"},
		{want{demo: "prairie", paper: "Letter", language: "en"}, "report", "1"},
		{want{demo: "saltmarsh", paper: "A4", language: "de"}, "report", "1"},
	} {
		c.want.sides, c.want.holes = "one side", "two holes"
		t.Run(fmt.Sprintf("%s %s, %s %s", c.want.demo, c.want.language, c.document, c.page), func(t *testing.T) {
			t.Parallel()
			j := jobOf(t, c.want)
			want := codes.Page{Number: j.Number, Document: codes.Report, Page: 1}
			var pdf []byte
			var err error
			if c.document == "report" {
				typed, err := demoReadings(c.want.demo, j.Plan)
				require.NoError(t, err)
				res := j.Judge(read(t, j, typed))
				pdf, err = j.ReportPDF(res)
				require.NoError(t, err)
				want.Digest = j.reportRecord(res).Digest()
			} else {
				d := j.document()
				pdf, err = d.Bytes()
				require.NoError(t, err)
				for _, p := range d.Pages() {
					if slices.Contains(p.Marks, c.page) {
						want.Page, want.Document = p.Number, codes.Traveller
						break
					}
				}
			}
			file := filepath.Join(t.TempDir(), "document.pdf")
			require.NoError(t, os.WriteFile(file, pdf, 0o644))
			n := want.Page
			require.Equal(t, []string{want.Symbol()}, scanned(t, copyOf(t, file, n, 150).write(t)))

			ocr := exec.Command("tesseract", copyOf(t, file, n, 100).larger(3).write(t), "-", "-l", map[string]string{"en": "eng", "de": "deu"}[c.want.language], "--psm", "3")
			ocr.Env = append(os.Environ(), "OMP_THREAD_LIMIT=1") // the pages share the cores
			text, err := ocr.Output()
			require.NoError(t, err, "tesseract, of the packages tesseract-ocr and tesseract-ocr-deu")
			seen := oneWord.FindAllString(strings.ToLower(string(text)), -1)
			var missing []string
			words := long.FindAllString(strings.ToLower(tool(t, "pdftotext", "-f", strconv.Itoa(n), "-l", strconv.Itoa(n), file, "-")), -1)
			require.Greater(t, len(words), 100)
			for _, w := range words {
				if !slices.ContainsFunc(seen, func(s string) bool { return nearly(w, s) }) {
					missing = append(missing, w)
				}
			}
			t.Logf("%d of %d words read", len(words)-len(missing), len(words))
			require.LessOrEqual(t, float64(len(missing)), .15*float64(len(words)), "of %d words not read: %q", len(words), missing)
		})
	}
}
