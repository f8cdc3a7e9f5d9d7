package layout

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// bookPage is a document of some pages with a word on each.
func bookPage(t *testing.T, word string, pages int) []byte {
	d := New(A4, Meta{Title: word, Attachments: []Attachment{{Name: "a.txt", Data: []byte(word)}}}, Frame{Number: word})
	for range pages {
		d.Add(Section{NewPage: true, Bookmark: word, Blocks: []Block{Para{Text: "page of " + word}}})
	}
	pdf, err := d.Bytes()
	require.NoError(t, err)
	return pdf
}

// The documents' pages in order, sound to qpdf, each document to its bookmark, and
// on paper of its own where it is printed on both sides.
func TestBookOfDocuments(t *testing.T) {
	for _, c := range []struct {
		even  bool
		pages int
	}{{false, 6}, {true, 8}} {
		var out bytes.Buffer
		b := NewBook(&out)
		require.NoError(t, b.Add("first (ä)", bookPage(t, "first", 1), c.even))
		require.NoError(t, b.Add("second", bookPage(t, "second", 2), c.even))
		require.NoError(t, b.Add("third", bookPage(t, "third", 3), c.even))
		require.NoError(t, b.Close())
		file := filepath.Join(t.TempDir(), "book.pdf")
		require.NoError(t, os.WriteFile(file, out.Bytes(), 0o644))
		said, err := exec.Command("qpdf", "--check", file).CombinedOutput()
		require.NoError(t, err, string(said))
		text, err := exec.Command("pdftotext", file, "-").Output()
		require.NoError(t, err)
		pages := strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
		require.Len(t, pages, c.pages)
		var words []string
		for _, p := range pages {
			word := "blank"
			for _, w := range []string{"first", "second", "third"} {
				if strings.Contains(p, "page of "+w) {
					word = w
				}
			}
			words = append(words, word)
		}
		want := []string{"first", "second", "second", "third", "third", "third"}
		if c.even {
			want = []string{"first", "blank", "second", "second", "third", "third", "third", "blank"}
		}
		require.Equal(t, want, words)
		outline, err := exec.Command("mutool", "show", file, "outline").Output()
		require.NoError(t, err)
		require.Contains(t, string(outline), "first (ä)")
		require.Equal(t, 3, strings.Count(string(outline), "#page="))
		require.NotContains(t, out.String(), "/EmbeddedFile")
	}
}

func TestWhatIsNoDocumentIsRefused(t *testing.T) {
	whole := bookPage(t, "word", 1)
	for name, data := range map[string][]byte{
		"nothing": nil, "text": []byte("hello"), "cut": whole[:len(whole)/2], "no table": bytes.Replace(whole, []byte("xref\n0"), []byte("xxxx\n0"), 1),
		"place beyond": bytes.Replace(whole, []byte("startxref\n"), []byte("startxref\n9999"), 1),
		"place below":  regexp.MustCompile(`\d(\d{9}) 00000 n`).ReplaceAll(whole, []byte("-$1 00000 n")),
		"places moved": append([]byte("%%%%%"), whole...),
	} {
		b := NewBook(&bytes.Buffer{})
		require.Error(t, b.Add("x", data, false), name)
		require.Error(t, b.Close(), name)
	}
}

// Whatever lies in a job folder in place of a packet: a book takes it, and is whole
// itself, or refuses it.
func FuzzBook(f *testing.F) {
	for _, tree := range []string{"<</Type /Pages\n/Kids [2 0 R]\n/Count 1\n/MediaBox [0 0 595 842]\n>>", "<</Type /Pages\nstream"} {
		var pdf bytes.Buffer
		o := objectFile{w: &pdf, places: make([]int64, 3)}
		for n, body := range []string{tree, "<</Type /Page\n/Parent 1 0 R\n/Contents 3 0 R>>", "<</Length 5>>\nstream\n0 0 R\nendstream"} {
			o.object(n+1, []byte(body))
		}
		o.end([]byte("<</Size 4>>\n"))
		f.Add(pdf.Bytes())
	}
	f.Fuzz(func(t *testing.T, pdf []byte) {
		var out bytes.Buffer
		b := NewBook(&out)
		if b.Add("x", pdf, true) != nil {
			return
		}
		require.NoError(t, b.Close())
		_, err := objectsOf(out.Bytes())
		require.NoError(t, err)
	})
}
