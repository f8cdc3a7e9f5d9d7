package pictures

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/boombuler/barcode/qr"
	"github.com/go-pdf/fpdf"
	"github.com/klippa-app/go-pdfium"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"

	"shimcard/layout"
)

func sample(t testing.TB) (image.Image, string) {
	r := rand.New(rand.NewPCG(5, 5))
	text := pageSymbol(3)
	return camera{dpi: 200, turn: 0.3, paper: 240, toner: 20, blur: 0.4}.look(printed(matrix(t, text, qr.H), 0.6, r), r).image(), text
}

func TestMain(m *testing.M) {
	patience *= 6
	os.Exit(m.Run())
}

func TestFormats(t *testing.T) {
	m, text := sample(t)
	clear := image.NewNRGBA(m.Bounds()) // ink on nothing
	deep := image.NewNRGBA64(m.Bounds())
	few := image.NewPaletted(m.Bounds(), color.Palette{color.Black, color.White})
	for y := range m.Bounds().Dy() {
		for x := range m.Bounds().Dx() {
			v := m.At(x, y).(color.Gray).Y
			clear.SetNRGBA(x, y, color.NRGBA{0, 0, 0, 255 - v})
			deep.Set(x, y, color.Gray{v})
			few.SetColorIndex(x, y, v>>7)
		}
	}
	for name, write := range map[string]func(b *bytes.Buffer) error{
		"png":              func(b *bytes.Buffer) error { return png.Encode(b, m) },
		"png, transparent": func(b *bytes.Buffer) error { return png.Encode(b, clear) },
		"png, 16 bit":      func(b *bytes.Buffer) error { return png.Encode(b, deep) },
		"png, 1 bit":       func(b *bytes.Buffer) error { return png.Encode(b, few) },
		"jpeg, grey":       func(b *bytes.Buffer) error { return jpeg.Encode(b, m, nil) },
		"jpeg, colour":     func(b *bytes.Buffer) error { return jpeg.Encode(b, deep, nil) },
		"gif":              func(b *bytes.Buffer) error { return gif.Encode(b, m, nil) },
		"tiff":             func(b *bytes.Buffer) error { return tiff.Encode(b, m, nil) },
		"tiff, deflate":    func(b *bytes.Buffer) error { return tiff.Encode(b, m, &tiff.Options{Compression: tiff.Deflate}) },
		"bmp":              func(b *bytes.Buffer) error { return bmp.Encode(b, m) },
	} {
		var b bytes.Buffer
		require.NoError(t, write(&b), name)
		found, err := Read(name, b.Bytes())
		require.NoError(t, err, name)
		require.Equal(t, []Found{{Text: text}}, found, name)
	}
}

// pngHead is the beginning of a picture of any size, by hand: nothing follows.
func pngHead(w, h uint32, format ...byte) []byte {
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h)
	if format == nil {
		format = []byte{8, 0} // bits, grey
	}
	head = append(append(head, format...), 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\r"), head...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(head))
}

// pdfOf is a document of so many blank pages of a size in millimetres.
func pdfOf(t testing.TB, pages int, w, h float64, change func(*fpdf.Fpdf)) []byte {
	t.Helper()
	d := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: w, Ht: h}})
	if change != nil {
		change(d)
	}
	for range pages {
		d.AddPage()
	}
	var b bytes.Buffer
	require.NoError(t, d.Output(&b))
	return b.Bytes()
}

func TestBadInput(t *testing.T) {
	m, _ := sample(t)
	var whole bytes.Buffer
	require.NoError(t, jpeg.Encode(&whole, m, nil))
	var blank, noise bytes.Buffer
	require.NoError(t, png.Encode(&blank, image.NewGray(image.Rect(0, 0, 2000, 3000))))
	speckles := image.NewGray(image.Rect(0, 0, 1500, 1500))
	r := rand.New(rand.NewPCG(7, 7))
	for i := range speckles.Pix {
		speckles.Pix[i] = byte(r.Uint32())
	}
	require.NoError(t, png.Encode(&noise, speckles))
	good, _ := sheets(t, 1, 300)
	for _, c := range []struct {
		name string
		data []byte
		says []string
	}{
		{"empty", nil, []string{"empty"}},
		{"text", []byte("26-0412-B\n"), []string{"not a picture or PDF", "PNG"}},
		{"heic", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), []string{"HEIC", "save it as JPEG"}},
		{"cut short", whole.Bytes()[:whole.Len()/2], []string{"damaged or cut short", "again"}},
		{"head only", whole.Bytes()[:30], []string{"not a picture"}},
		{"too large", pngHead(10_000, 5_001), []string{"10000 × 5001", "50 megapixels", "300 dpi"}},
		{"far too large", pngHead(1_000_000, 1_000_000), []string{"50 megapixels"}},
		{"large, 16 bits", pngHead(6_000, 6_000, 16, 2), []string{"6000 × 6000", "25 megapixels"}},
		{"large, progressive", []byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xff\xc2\x00\x0b\x08\x17\x70\x17\x70\x01\x01\x11\x00"), []string{"6000 × 6000", "ordinary JPEG"}},
		{"large and cut short", pngHead(7_000, 7_000), []string{"cut short"}},
		{"one dot", func() []byte {
			var b bytes.Buffer
			_ = png.Encode(&b, image.NewGray(image.Rect(0, 0, 1, 1)))
			return b.Bytes()
		}(), []string{"no code symbol"}},
		{"blank", blank.Bytes(), []string{"no code symbol", "nearer", "light", "type the number"}},
		{"noise", noise.Bytes(), []string{"no code symbol"}},
		{"pdf head", []byte("%PDF-1.7\n"), []string{"damaged or cut short"}},
		{"pdf of nothing", append([]byte("%PDF-1.7\n"), make([]byte, 5000)...), []string{"damaged or cut short"}},
		{"pdf cut short", good[:len(good)*2/3], nil},
		{"pdf, blank", pdfOf(t, 2, 210, 297, nil), []string{"no code symbol", "300 dpi"}},
		{"pdf, a thousand pages", pdfOf(t, 1000, 210, 297, nil), []string{"1000 pages", "at most 100"}},
		{"pdf, giant page", pdfOf(t, 1, 1e6, 1e6, nil), []string{"no code symbol"}},
		{"pdf, locked", pdfOf(t, 1, 210, 297, func(d *fpdf.Fpdf) { d.SetProtection(fpdf.CnProtectPrint, "secret", "owner") }), []string{"password", "print it into a new PDF"}},
	} {
		start := time.Now()
		found, err := Read(c.name+".x", c.data)
		took := time.Since(start)
		if c.says == nil && err == nil {
			continue // mended by pdfium
		}
		require.Error(t, err, c.name)
		require.Empty(t, found, c.name)
		require.Contains(t, err.Error(), c.name+".x: ")
		for _, s := range c.says {
			require.Contains(t, err.Error(), s)
		}
		require.NotContains(t, err.Error(), "\n")
		t.Logf("%-22s %8v  %v", c.name, took.Round(time.Millisecond), err)
		require.Less(t, took, patience+5*time.Second, c.name)
	}
}

// document is a PDF of these objects, the first its catalogue.
func document(objects ...string) []byte {
	var b bytes.Buffer
	b.WriteString("%PDF-1.4\n")
	var table strings.Builder
	for i, o := range objects {
		fmt.Fprintf(&table, "%010d 00000 n \n", b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", i+1, o)
	}
	at := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n%strailer<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n", len(objects)+1, table.String(), len(objects)+1, at)
	return b.Bytes()
}

// Drawing is stopped at the deadline, and the next PDF is read as ever. A page filled
// fifty thousand times takes minutes to draw on any machine, and little memory: the
// deadline is what stops it.
func TestPDFWithoutEnd(t *testing.T) {
	_, err := engine()
	require.NoError(t, err)
	defer func(was time.Duration) { patience = was }(patience)
	patience = time.Second
	start := time.Now()
	fills := strings.Repeat("0 0 m 595 842 l 595 0 l f\n", 50_000)
	found, err := Read("endless.pdf", document("<</Type/Catalog/Pages 2 0 R>>", "<</Type/Pages/Kids[3 0 R]/Count 1>>",
		"<</Type/Page/Parent 2 0 R/MediaBox[0 0 595 842]/Contents 4 0 R>>", fmt.Sprintf("<</Length %d>>stream\n%s\nendstream", len(fills), fills)))
	require.ErrorIs(t, err, ErrTime)
	require.ErrorContains(t, err, "endless.pdf: time ran out")
	require.Empty(t, found)
	require.Less(t, time.Since(start), 15*time.Second)
	patience = time.Minute
	pdf, want := sheets(t, 1, 300)
	found, err = Read("packet.pdf", pdf)
	require.NoError(t, err)
	require.Equal(t, want[0], texts(found))
}

// Files that a document carries come out to the byte, as QPDF takes them out.
func TestAttachments(t *testing.T) {
	want := []File{{"readings.yaml", []byte("H1a: 3,34\n")}, {"intake.yaml", bytes.Repeat([]byte("größe µ\r\n"), 10_000)}}
	meta := layout.Meta{Title: "report"}
	for _, f := range want {
		meta.Attachments = append(meta.Attachments, layout.Attachment{Name: f.Name, Data: f.Data})
	}
	d := layout.New(layout.A4, meta, layout.Frame{Number: "26-0412-B"})
	d.Add(layout.Section{Key: "a", Blocks: []layout.Block{layout.Heading{Text: "a"}}})
	pdf, err := d.Bytes()
	require.NoError(t, err)
	all := func(string) bool { return true }
	got, err := Attachments("report.pdf", pdf, all)
	require.NoError(t, err)
	require.Len(t, got, len(want))
	file := filepath.Join(t.TempDir(), "report.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o666))
	list := strings.Fields(run(t, "qpdf", "--list-attachments", file))
	for i := range want {
		require.Equal(t, want[i].Name, got[i].Name)
		require.True(t, bytes.Equal(want[i].Data, got[i].Data), "%s: %.40q", want[i].Name, got[i].Data)
		require.Equal(t, string(want[i].Data), run(t, "qpdf", "--show-attachment="+list[3*i], file), "QPDF: %s", want[i].Name)
	}
	// Files of nothing, small when packed.
	bomb := func(files, size int) []byte {
		meta := layout.Meta{Title: "bomb"}
		for i := range files {
			meta.Attachments = append(meta.Attachments, layout.Attachment{Name: fmt.Sprint(i), Data: make([]byte, size)})
		}
		d := layout.New(layout.A4, meta, layout.Frame{Number: "26-0412-B"})
		d.Add(layout.Section{Key: "a", Blocks: []layout.Block{layout.Heading{Text: "a"}}})
		pdf, err := d.Bytes()
		require.NoError(t, err)
		return pdf
	}
	packed := bomb(3, 30<<20)
	_, err = Attachments("bomb.pdf", packed, all)
	require.ErrorContains(t, err, `bomb.pdf: the attached "0" is larger than 1 MiB`)
	// Nothing is taken out that nobody asked for.
	none, err := Attachments("bomb.pdf", packed, func(name string) bool { return name == "spec.yaml" })
	require.NoError(t, err)
	require.Empty(t, none)
	_, err = Attachments("many.pdf", bomb(101, 1), all)
	require.ErrorContains(t, err, "many.pdf: 101 files are attached")
	none, err = Attachments("plain.pdf", pdfOf(t, 1, 210, 297, nil), all)
	require.NoError(t, err)
	require.Empty(t, none)
	_, err = Attachments("x.png", []byte("\x89PNG"), all)
	require.ErrorContains(t, err, "x.png: not a PDF")
	_, err = Attachments("x.pdf", pdf[:len(pdf)/3], all)
	if err != nil {
		require.ErrorContains(t, err, "cut short")
	}
}

// small is a picture of about a hundred dots a side with a symbol.
func small(t testing.TB) gray {
	r := rand.New(rand.NewPCG(6, 6))
	return camera{dpi: 100, paper: 240, toner: 20}.look(printed(matrix(t, pageSymbol(4), qr.H), 0.6, r), r)
}

// A picture with more than there is time for gives what was read, and says so.
func TestTimeRunsOut(t *testing.T) {
	pdf, want := sheets(t, 1, 300)
	data, err := os.ReadFile(drawn(t, pdf, 1, 150))
	require.NoError(t, err)
	defer func(was time.Duration) { patience = was }(patience)
	patience = time.Nanosecond
	found, err := Read("page.png", data)
	require.ErrorIs(t, err, ErrTime)
	require.ErrorContains(t, err, "page.png: time ran out")
	require.Less(t, len(found), len(want[0]))
}

// nested is a page that draws a form twenty times, which draws a form twenty
// times, and so on: endless to draw, short to write.
func nested(levels int) []byte {
	twenty := strings.Repeat("/X Do ", 20)
	objects := []string{"<</Type/Catalog/Pages 2 0 R>>", "<</Type/Pages/Kids[3 0 R]/Count 1>>",
		"<</Type/Page/Parent 2 0 R/MediaBox[0 0 595 842]/Contents 4 0 R/Resources<</XObject<</X 5 0 R>>>>>>",
		fmt.Sprintf("<</Length %d>>stream\n%s\nendstream", len(twenty), twenty)}
	for range levels {
		objects = append(objects, fmt.Sprintf("<</Type/XObject/Subtype/Form/BBox[0 0 595 842]/Resources<</XObject<</X %d 0 R>>>>/Length %d>>stream\n%s\nendstream", len(objects)+2, len(twenty), twenty))
	}
	return document(append(objects, "<</Type/XObject/Subtype/Form/BBox[0 0 595 842]/Length 18>>stream\n0 0 400 400 re f   \nendstream")...)
}

// PDFs, small as they lie there, that ask for more memory than they get, or for no end of it.
func TestPDFBombs(t *testing.T) {
	packed := func(piece string, size int) string {
		var b bytes.Buffer
		z, err := zlib.NewWriterLevel(&b, 9)
		require.NoError(t, err)
		chunk := []byte(strings.Repeat(piece, 1<<20/len(piece)))
		for range size >> 20 {
			_, err = z.Write(chunk)
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		return b.String()
	}
	page := func(box, resources, filter, content string) []byte {
		return document("<</Type/Catalog/Pages 2 0 R>>", "<</Type/Pages/Kids[3 0 R]/Count 1>>",
			fmt.Sprintf("<</Type/Page/Parent 2 0 R/MediaBox[%s]/Contents 4 0 R/Resources<<%s>>>>", box, resources),
			fmt.Sprintf("<<%s/Length %d>>stream\n%s\nendstream", filter, len(content), content))
	}
	const a4 = "0 0 595 842"
	bomb := packed("0 0 1 1 re f\n", 400<<20)
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"operators":          {page(a4, "", "/Filter/FlateDecode", bomb), "takes more memory than it is given"},
		"spaces":             {page(a4, "", "/Filter/FlateDecode", packed(" ", 800<<20)), "takes more memory than it is given"},
		"states kept":        {page(a4, "", "", strings.Repeat("q ", 3_000_000)), "takes more memory than it is given"},
		"forms in forms":     {nested(8), ""}, // its memory, or on a slow machine its time
		"lists in lists":     {page(a4, "", "", strings.Repeat("[", 1_000_000)), "no code symbol"},
		"lists in resources": {page(a4, "/X "+strings.Repeat("[", 200_000), "", "q"), ""},
		"page without end":   {page("0 0 1e30 1e30", "", "", "q"), "no code symbol"},
		"page of no height":  {page("0 0 2000000000 1", "", "", "q"), "a size of"},
		"its own parent":     {document("<</Type/Catalog/Pages 2 0 R>>", "<</Type/Pages/Kids[2 0 R 2 0 R]/Count 99>>"), "page 1"},
	} {
		found, err := Read(name, c.data)
		require.ErrorContains(t, err, name+": ")
		require.ErrorContains(t, err, c.says, name)
		require.NotContains(t, err.Error(), "\n", name)
		require.Empty(t, found, name)
	}
}

// The sandbox's memory is not Go's, of which as much again may become garbage; and it
// is given back, also where reading was ended in the middle of drawing.
func TestMemoryOfPDFs(t *testing.T) {
	held := func() (pages int) {
		said, err := os.ReadFile("/proc/self/statm")
		require.NoError(t, err)
		_, err = fmt.Sscan(string(said), &pages)
		require.NoError(t, err)
		return pages * os.Getpagesize()
	}
	pdf := pdfOf(t, 1, 210, 297, nil)
	require.NoError(t, withPDF("a.pdf", pdf, 1, func(pdfium.Pdfium, references.FPDF_DOCUMENT, int, time.Time) error {
		return withPDF("b.pdf", pdf, 1, func(pdfium.Pdfium, references.FPDF_DOCUMENT, int, time.Time) error {
			runtime.GC()
			var heap runtime.MemStats
			runtime.ReadMemStats(&heap)
			require.Less(t, heap.HeapAlloc, uint64(memoryPages<<16))
			return nil
		})
	}))
	defer func(was time.Duration) { patience = was }(patience)
	endless, before := nested(8), held()
	for n := range 20 {
		patience = time.Duration(10*n) * time.Millisecond // before, while it opens, while it draws
		_, err := Read("endless.pdf", endless)
		require.Error(t, err)
	}
	require.Less(t, held()-before, 10*memoryPages<<16)
}

// A scan in a PDF is told from a page that was drawn.
func TestPictured(t *testing.T) {
	pdf, _ := sheets(t, 1, 300)
	pages, err := Pictured("drawn.pdf", pdf)
	require.NoError(t, err)
	require.Empty(t, pages)
	pages, err = Pictured("scan.pdf", pdfOf(t, 1, 210, 297, func(d *fpdf.Fpdf) {
		d.AddPage()
		d.Image(drawn(t, pdf, 1, 100), 0, 0, 210, 297, false, "", 0, "")
	}))
	require.NoError(t, err)
	require.Equal(t, map[int]bool{1: true}, pages)
}

func FuzzRead(f *testing.F) {
	m := small(f).image()
	var b bytes.Buffer
	require.NoError(f, png.Encode(&b, m))
	f.Add(bytes.Clone(b.Bytes()))
	b.Reset()
	require.NoError(f, jpeg.Encode(&b, m, nil))
	f.Add(bytes.Clone(b.Bytes()))
	f.Add(pdfOf(f, 1, 30, 30, nil))
	f.Add(pngHead(30, 30))
	f.Fuzz(func(t *testing.T, data []byte) {
		found, err := Read("x", data)
		if (err == nil) != (len(found) > 0) {
			t.Fatalf("%d symbols and error %v", len(found), err)
		}
	})
}

// However a picture with a symbol is changed, it says its own text or nothing.
func FuzzSearch(f *testing.F) {
	g := small(f)
	found, _ := search(g, time.Now().Add(patience))
	require.Equal(f, []string{pageSymbol(4)}, found)
	f.Add(g.pix)
	f.Add(make([]byte, 441))
	f.Fuzz(func(t *testing.T, pix []byte) {
		if len(pix) < g.w || len(pix) > 1<<16 {
			return
		}
		h := len(pix) / g.w
		found, _ := search(gray{g.w, h, pix[:g.w*h]}, time.Now().Add(patience))
		for _, text := range found {
			if text != pageSymbol(4) {
				t.Fatalf("read %q", text)
			}
		}
	})
}

// Bits that are no symbol's must not stop the reader.
func FuzzGrid(f *testing.F) {
	f.Add(uint8(1), []byte{1, 2, 3})
	f.Fuzz(func(t *testing.T, version uint8, bits []byte) {
		g := grid{21 + 4*(int(version)%40), nil}
		g.v = make([]float32, g.size*g.size)
		for i := range g.v {
			if len(bits) > 0 && bits[i/8%len(bits)]>>(i%8)&1 == 1 {
				g.v[i] = -1
			}
		}
		g.text()
	})
}
