package layout

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
)

// Book is one PDF of many documents of this package, one after another, each with
// a bookmark. It is written as they come, so that its memory does not grow with its
// pages. What documents carry besides their pages, attachments and bookmarks of
// their own, stays out.
type Book struct {
	objectFile
	docs   []int // their page trees
	first  []int // their first pages
	titles []string
	pages  int
}

// The objects of a book that are written last.
const (
	bookCatalog = 1
	bookPages   = 2
	bookOutline = 3
)

// NewBook begins a book.
func NewBook(w io.Writer) *Book {
	b := &Book{objectFile: objectFile{w: w, places: make([]int64, bookOutline)}}
	b.write([]byte("%PDF-1.5\n%\xe2\xe3\xcf\xd3\n"))
	return b
}

var (
	reference = regexp.MustCompile(`\b(\d+) 0 R\b`)
	onePage   = regexp.MustCompile(`^<<\s*/Type /Page\b`)
	pageTree  = []byte("<</Type /Pages\n")
	mediaBox  = regexp.MustCompile(`/MediaBox \[[^\]]*\]`)
)

// Add appends the pages of a document, as Bytes made it. even adds a blank page
// where their number is odd, so that printed on both sides the next document
// begins on paper of its own.
func (b *Book) Add(title string, pdf []byte, even bool) error {
	objects, err := objectsOf(pdf)
	if err != nil {
		return err
	}
	root := 0
	for n, o := range objects {
		if bytes.HasPrefix(o, pageTree) {
			root = n
		}
	}
	if root == 0 {
		return errNoDocument
	}
	// Everything that the pages rest on, in the order in which it is found.
	number, order := map[int]int{}, []int{}
	take := func(n int) int {
		if number[n] == 0 && n < len(objects) && objects[n] != nil {
			b.places = append(b.places, 0)
			number[n] = len(b.places)
			order = append(order, n)
		}
		return number[n]
	}
	take(root)
	first, count := 0, 0
	for i := 0; i < len(order); i++ { // it grows meanwhile
		n := order[i]
		body := objects[n]
		// What follows a stream's dictionary is not text; a page tree is no stream.
		rest := []byte(nil)
		if k := bytes.Index(body, []byte("\nstream")); k >= 0 && n != root {
			body, rest = body[:k], body[k:]
		}
		if onePage.Match(body) {
			if count++; first == 0 {
				first = number[n]
			}
		}
		body = reference.ReplaceAllFunc(body, func(r []byte) []byte {
			m, _ := strconv.Atoi(string(r[:len(r)-len(" 0 R")]))
			return fmt.Appendf(nil, "%d 0 R", take(m))
		})
		if n == root {
			body = slices.Concat(pageTree, fmt.Appendf(nil, "/Parent %d 0 R\n", bookPages), body[len(pageTree):])
		}
		b.object(number[n], body, rest)
	}
	if count == 0 {
		return errNoDocument
	}
	b.docs, b.first, b.titles, b.pages = append(b.docs, number[root]), append(b.first, first), append(b.titles, title), b.pages+count
	if even && count%2 == 1 {
		b.places = append(b.places, 0)
		n := len(b.places)
		b.object(n, fmt.Appendf(nil, "<</Type /Page\n/Parent %d 0 R\n/Resources <<>>\n%s>>", bookPages, mediaBox.Find(objects[root])))
		b.docs, b.pages = append(b.docs, n), b.pages+1
	}
	return b.failure
}

var errNoDocument = errors.New("not a document as this program makes it")

// Close writes what ends a book. A book without a document is not one.
func (b *Book) Close() error {
	if len(b.titles) == 0 {
		return errors.New("no document to put in")
	}
	b.object(bookCatalog, fmt.Appendf(nil, "<</Type /Catalog\n/Pages %d 0 R\n/Outlines %d 0 R\n/PageMode /UseOutlines>>", bookPages, bookOutline))
	var kids []byte
	for _, d := range b.docs {
		kids = fmt.Appendf(kids, "%d 0 R ", d)
	}
	b.object(bookPages, fmt.Appendf(nil, "<</Type /Pages\n/Kids [%s]\n/Count %d>>", kids, b.pages))
	at := len(b.places)
	b.object(bookOutline, fmt.Appendf(nil, "<</Type /Outlines\n/First %d 0 R\n/Last %d 0 R\n/Count %d>>", at+1, at+len(b.titles), len(b.titles)))
	for i, t := range b.titles {
		o := fmt.Appendf(nil, "<</Title %s\n/Parent %d 0 R\n/Dest [%d 0 R /Fit]\n", textString(t), bookOutline, b.first[i])
		if i > 0 {
			o = fmt.Appendf(o, "/Prev %d 0 R\n", at+i)
		}
		if i+1 < len(b.titles) {
			o = fmt.Appendf(o, "/Next %d 0 R\n", at+i+2)
		}
		b.places = append(b.places, 0)
		b.object(len(b.places), append(o, ">>"...))
	}
	b.end(fmt.Appendf(nil, "<</Size %d\n/Root %d 0 R>>\n", len(b.places)+1, bookCatalog))
	return b.failure
}
