package pictures

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-pdf/fpdf"
	"github.com/stretchr/testify/require"
	scaling "golang.org/x/image/draw"

	"shimcard/layout"
	"shimcard/packet/codes"
)

// pageSymbol is what the head of a page says.
func pageSymbol(page int) string {
	return codes.Page{Number: "26-0412-B", Document: codes.Traveller, Page: page}.Symbol()
}

// sheets is a document as the traveller draws it: on each page the symbol of
// the head, and eight symbols of so many characters in modules of 0.5 mm.
func sheets(t testing.TB, pages, characters int) (pdf []byte, texts [][]string) {
	t.Helper()
	r := rand.New(rand.NewPCG(1, uint64(characters)))
	d := layout.New(layout.A4, layout.Meta{Title: "symbols"}, layout.Frame{Number: "26-0412-B", Lines: []string{"invented"}, Symbol: pageSymbol})
	for n := range pages {
		all := []string{pageSymbol(n + 1)}
		var rows []layout.Block
		for range 4 {
			var cols [][]layout.Block
			for range 2 {
				text := randomText(r, characters)
				all = append(all, text)
				side := float64(len(matrix(t, text, 1))+8) * 0.5
				cols = append(cols, []layout.Block{layout.Symbol{Text: text, Size: side}})
			}
			rows = append(rows, layout.Columns{Weights: []float64{1, 1}, Cols: cols})
		}
		d.Add(layout.Section{Key: fmt.Sprint(n), Blocks: rows})
		texts = append(texts, all)
	}
	pdf, err := d.Bytes()
	require.NoError(t, err)
	require.Len(t, d.Pages(), pages)
	return pdf, texts
}

// randomText is of the characters of a symbol's alphanumeric mode.
func randomText(r *rand.Rand, n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"[r.IntN(45)]
	}
	b[0], b[n-1] = 'A', 'Z' // the other readers print spaces nobody sees
	return string(b)
}

func run(t testing.TB, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	require.NoError(t, err, "%s %v", name, args)
	return string(out)
}

// drawn is a page of a PDF as poppler draws it.
func drawn(t testing.TB, pdf []byte, page, dpi int) (file string) {
	t.Helper()
	base := filepath.Join(t.TempDir(), "page")
	require.NoError(t, os.WriteFile(base+".pdf", pdf, 0o666))
	n := fmt.Sprint(page)
	run(t, "pdftoppm", "-png", "-gray", "-r", fmt.Sprint(dpi), "-f", n, "-l", n, "-singlefile", base+".pdf", base)
	return base + ".png"
}

// enlarged is a picture at twice its size, its steps smoothed.
func enlarged(t testing.TB, file string) string {
	t.Helper()
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	out := image.NewGray(image.Rect(0, 0, 2*img.Bounds().Dx(), 2*img.Bounds().Dy()))
	scaling.CatmullRom.Scale(out, out.Rect, img, img.Bounds(), scaling.Src, nil)
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, out))
	file = filepath.Join(t.TempDir(), "twice.png")
	require.NoError(t, os.WriteFile(file, b.Bytes(), 0o666))
	return file
}

func texts(found []Found) []string {
	var out []string
	for _, f := range found {
		out = append(out, f.Text)
	}
	return out
}

// Symbols as printed, read by this package and by two readers not in our
// build: ZBar and ZXing's C++ line.
func TestPrintedPagesByThreeReaders(t *testing.T) {
	pdf, want := sheets(t, 1, 640) // version 16, level M
	for _, dpi := range []int{300, 200, 150} {
		file := drawn(t, pdf, 1, dpi)
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		start := time.Now()
		found, err := Read(file, data)
		require.NoError(t, err)
		require.Equal(t, want[0], texts(found), "%d dpi", dpi) // in reading order
		t.Logf("%d dpi: %v", dpi, time.Since(start).Round(time.Millisecond))
		zbar := strings.Split(strings.TrimSpace(run(t, "zbarimg", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", file)), "\n")
		require.ElementsMatch(t, want[0], zbar, "ZBar, %d dpi", dpi)
		zxing := run(t, "ZXingReader", "-format", "QRCode", file)
		if dpi < 200 { // it counts a module in whole dots; three of them leave it no room
			zxing += run(t, "ZXingReader", "-format", "QRCode", enlarged(t, file))
		}
		for _, text := range want[0] {
			require.True(t, strings.Contains(zxing, text), "ZXing, %d dpi: %s not read", dpi, text)
		}
	}
}

// A document as drawn, and the same as a scanner sends it: a PDF of pictures,
// upright and on its side.
func TestPDF(t *testing.T) {
	pdf, want := sheets(t, 3, 900)
	start := time.Now()
	found, err := Read("packet.pdf", pdf)
	require.NoError(t, err)
	t.Logf("three pages: %v", time.Since(start).Round(time.Millisecond))
	for n, page := range want {
		var got []string
		for _, f := range found {
			if f.Page == n+1 {
				got = append(got, f.Text)
			}
		}
		require.Equal(t, page, got, "page %d", n+1)
	}
	scan := pdfOf(t, 0, 210, 297, func(d *fpdf.Fpdf) {
		d.AddPage()
		d.Image(drawn(t, pdf, 1, 200), 0, 0, 210, 297, false, "", 0, "")
		d.AddPage()
		d.TransformBegin()
		d.TransformRotate(90, 105, 148.5)
		d.Image(drawn(t, pdf, 3, 150), 0, 0, 210, 297, false, "", 0, "")
		d.TransformEnd()
	})
	found, err = Read("scan.pdf", scan)
	require.NoError(t, err)
	for n, page := range map[int][]string{1: want[0], 2: want[2]} {
		for _, text := range page {
			// What was turned over the edge of the paper is not there to be read.
			if n == 1 || slices.Contains(page[3:7], text) {
				require.Contains(t, found, Found{text, n})
			}
		}
	}
}

// Whole pages as a scanner or a phone gives them: every one of nine symbols.
func TestWholePages(t *testing.T) {
	pdf, want := sheets(t, 1, 900) // version 20, level M
	f, err := os.Open(drawn(t, pdf, 1, 400))
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	page := print{gray: grayOf(img), module: fine * 25.4 / 400}
	const degree = math.Pi / 180
	for _, c := range []struct {
		name string
		camera
	}{
		{"flatbed, 300 dpi, turned 3°", camera{dpi: 300, turn: 3 * degree, blur: 0.7, noise: 4}},
		{"flatbed, 200 dpi, upside down", camera{dpi: 200, turn: 180 * degree, blur: 0.6, noise: 4}},
		{"flatbed, 150 dpi, turned 3°", camera{dpi: 150, turn: 3 * degree, blur: 0.5, noise: 4}},
		{"copier, 200 dpi", camera{dpi: 200, turn: -2 * degree, blur: 0.6, copier: 0.6}},
		{"copier, 150 dpi", camera{dpi: 150, turn: 1 * degree, blur: 0.5, copier: 0.5}},
		{"phone, 12 megapixels, tilted 12°", camera{dpi: 300, turn: 80 * degree, tilt: 12 * degree, tiltAxis: 0.5, blur: 1.3, noise: 6, dim: 0.4, dimTurn: 1}},
		{"phone, 12 megapixels, tilted 20°", camera{dpi: 300, turn: 5 * degree, tilt: 20 * degree, tiltAxis: 2, blur: 1.2, noise: 8, dim: 0.5, dimTurn: 4}},
	} {
		c.paper, c.toner = 230, 35
		r := rand.New(rand.NewPCG(2, 3))
		picture := c.look(page, r)
		start := time.Now()
		got, _ := search(picture, start.Add(patience))
		t.Logf("%s: %d × %d dots, %d of %d in %v", c.name, picture.w, picture.h, len(got), len(want[0]), time.Since(start).Round(time.Millisecond))
		require.ElementsMatch(t, want[0], got, c.name)
	}
}

func TestSymbolOfAnotherFirm(t *testing.T) {
	var b bytes.Buffer
	r := rand.New(rand.NewPCG(1, 1))
	text := "https://example.org/größe?№=1"
	require.NoError(t, png.Encode(&b, camera{dpi: 200, paper: 250, toner: 10}.look(printed(matrix(t, text, 1), 0.5, r), r).image()))
	found, err := Read("x.png", b.Bytes())
	require.NoError(t, err)
	require.Equal(t, []Found{{Text: text}}, found)
	require.False(t, slices.Contains(texts(found), ""))
}
