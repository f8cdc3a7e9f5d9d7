package layout

import (
	"bytes"
	"crypto/md5"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"sync"
	"unicode/utf16"

	"github.com/klauspost/compress/zlib"
)

// objectFile is a PDF that is written object by object.
type objectFile struct {
	w       io.Writer
	at      int64
	places  []int64 // of the objects, by their number less 1; 0 for not written yet
	failure error
}

func (f *objectFile) write(parts ...[]byte) {
	for _, p := range parts {
		if f.failure == nil {
			var n int
			n, f.failure = f.w.Write(p)
			f.at += int64(n)
		}
	}
}

func (f *objectFile) object(n int, parts ...[]byte) {
	f.places[n-1] = f.at
	f.write(fmt.Appendf(nil, "%d 0 obj\n", n))
	f.write(parts...)
	f.write([]byte("\nendobj\n"))
}

// end writes where the objects are, and the trailer.
func (f *objectFile) end(trailer []byte) {
	table := f.at
	out := fmt.Appendf(nil, "xref\n0 %d\n0000000000 65535 f \n", len(f.places)+1)
	for _, p := range f.places {
		out = fmt.Appendf(out, "%010d 00000 n \n", p)
	}
	f.write(out, []byte("trailer\n"), trailer, fmt.Appendf(nil, "startxref\n%d\n%%%%EOF\n", table))
}

// pdfHead begins a file of ISO 32000-1, 7.5.2; its bytes over 127 tell programs that
// it is no text.
const pdfHead = "%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"

var (
	plainStream = regexp.MustCompile(`^<<(/Type /EmbeddedFile .*)?/Length \d+>>\nstream\n`)
	endStream   = []byte("\nendstream")
	noFiles     = []byte("/EmbeddedFiles << /Names [\n  \n] >>")
	objectCount = regexp.MustCompile(`/Size \d+`)
)

// packed is a document, as fpdf makes it without compression and attachments, with
// its streams compressed, and with these files: fpdf takes a new compressor for each,
// which costs more than the compressing, and leaves the name empty by which some
// readers, pdfium among them, find an attachment.
func packed(pdf []byte, files []Attachment) ([]byte, error) {
	objects, err := objectsOf(pdf)
	if err != nil {
		return nil, err
	}
	if objects, err = attach(objects, files); err != nil {
		return nil, err
	}
	compressStreams(objects)
	var out bytes.Buffer
	out.Grow(len(pdf) / 3)
	f := objectFile{w: &out, places: make([]int64, len(objects)-1)}
	f.write([]byte(pdfHead))
	for n, body := range objects[1:] {
		f.object(n+1, body)
	}
	trailer := pdf[bytes.LastIndex(pdf, []byte("trailer\n"))+len("trailer\n") : bytes.LastIndex(pdf, []byte("startxref"))]
	f.end(objectCount.ReplaceAll(trailer, fmt.Appendf(nil, "/Size %d", len(objects))))
	return out.Bytes(), f.failure
}

// attach adds files to a document's objects: ISO 32000-1, 7.7.4 and 7.11.4.
func attach(objects [][]byte, files []Attachment) ([][]byte, error) {
	var names []byte // in the order of their keys
	for i, file := range files {
		data := len(objects)
		objects = append(objects,
			slices.Concat(fmt.Appendf(nil, "<</Type /EmbeddedFile /Params <</Size %d /CheckSum <%x>>> /Length %d>>\nstream\n", len(file.Data), md5.Sum(file.Data), len(file.Data)), file.Data, endStream),
			fmt.Appendf(nil, "<</Type /Filespec /F (-) /UF %s /EF <</F %d 0 R>> /Desc %s>>", textString(file.Name), data, textString(file.Description)))
		names = fmt.Appendf(names, "(%04d) %d 0 R ", i, data+1)
	}
	for n, body := range objects {
		if bytes.Contains(body, noFiles) && bytes.Contains(body, []byte("/Type /Catalog")) {
			objects[n] = bytes.Replace(body, noFiles, fmt.Appendf(nil, "/EmbeddedFiles <</Names [%s]>>", names), 1)
			return objects, nil
		}
	}
	return nil, errNoDocument
}

// textString is a text as a PDF has it outside the pages.
func textString(text string) []byte {
	out := []byte("<FEFF")
	for _, unit := range utf16.Encode([]rune(text)) {
		out = fmt.Appendf(out, "%04X", unit)
	}
	return append(out, '>')
}

// compressors are what is large to make and can be used again.
var compressors = sync.Pool{New: func() any {
	z, err := zlib.NewWriterLevel(nil, zlib.BestSpeed)
	if err != nil {
		panic(err) // there is this level
	}
	return z
}}

// compressStreams compresses the streams of objects that are not compressed yet, on all cores.
func compressStreams(objects [][]byte) {
	each(len(objects), func(n int) {
		head := plainStream.FindSubmatch(objects[n])
		if head == nil {
			return
		}
		var flat bytes.Buffer
		z := compressors.Get().(*zlib.Writer)
		z.Reset(&flat)
		_, _ = z.Write(bytes.TrimSuffix(objects[n][len(head[0]):], endStream)) // a buffer takes it
		_ = z.Close()
		z.Reset(nil)
		compressors.Put(z)
		objects[n] = slices.Concat(fmt.Appendf(nil, "<<%s/Filter /FlateDecode /Length %d>>\nstream\n", head[1], flat.Len()), flat.Bytes(), endStream)
	})
}

// objectsOf are the objects of a document by number, from << to endobj; there is no
// object 0.
func objectsOf(pdf []byte) ([][]byte, error) {
	tail := pdf[max(0, len(pdf)-64):]
	var table int
	if k := bytes.LastIndex(tail, []byte("startxref")); k < 0 {
		return nil, errNoDocument
	} else if _, err := fmt.Sscanf(string(tail[k:]), "startxref\n%d", &table); err != nil || table < 0 || table > len(pdf) {
		return nil, errNoDocument
	}
	var from, many int
	if _, err := fmt.Sscanf(string(pdf[table:min(table+40, len(pdf))]), "xref\n%d %d", &from, &many); err != nil || from != 0 || many < 2 {
		return nil, errNoDocument
	}
	const entry = 20
	rows := pdf[table:]
	for range 2 {
		rows = rows[bytes.IndexByte(rows, '\n')+1:]
	}
	if many > len(rows)/entry {
		return nil, errNoDocument
	}
	places, ends := make([]int, many), []int{table}
	for n := 1; n < many; n++ {
		p, err := strconv.Atoi(string(rows[n*entry : n*entry+10]))
		if err != nil || p < 0 || p >= table {
			return nil, errNoDocument
		}
		places[n] = p
		ends = append(ends, p)
	}
	slices.Sort(ends)
	out := make([][]byte, many)
	for n := 1; n < many; n++ {
		i, _ := slices.BinarySearch(ends, places[n]+1)
		o := pdf[places[n]:ends[i]]
		head, foot := fmt.Appendf(nil, "%d 0 obj\n", n), bytes.LastIndex(o, []byte("endobj"))
		if !bytes.HasPrefix(o, head) || foot < 0 {
			return nil, errNoDocument
		}
		out[n] = bytes.TrimRight(o[len(head):foot], "\n")
	}
	return out, nil
}
