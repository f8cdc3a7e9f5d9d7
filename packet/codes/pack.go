package codes

import (
	"bytes"
	"compress/flate"
	"crypto/sha256"
	_ "embed"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"regexp"
	"strconv"
	"strings"
)

// What a set of job symbols may hold; more is refused, packing and unpacking.
const (
	mostSymbols = 99
	mostBytes   = 3 << 20 // of all files together
	mostFiles   = 16
)

// dictionary holds words and lines that job files are likely to have, the
// likeliest last. Version 1 is frozen: every printed symbol of version 1 needs
// these very bytes.
//
//go:embed dictionary-1.txt
var dictionary []byte

var fileName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]*(\.[A-Za-z0-9_-]+)*$`)

// Pack writes files as the texts of job symbols, each of at most most characters
// in a QR code's alphanumeric mode, and as equal in length as can be.
func Pack(number string, document byte, files []File, most int) ([]string, error) {
	number, err := ParseNumber(number)
	if err != nil {
		return nil, err
	}
	if document != Traveller && document != Report {
		return nil, fmt.Errorf("job symbols: document %q; say Traveller or Report", document)
	}
	body, err := compress(files)
	if err != nil {
		return nil, fmt.Errorf("job symbols: %w", err)
	}
	stream := append(digest(number, document, files), body...)
	free := most - headerLength(number)
	room := free*2/3 - crc32.Size // of three characters two bytes, of two one
	if room < 1 {
		return nil, fmt.Errorf("job symbols: %d characters hold no symbol; give more", most)
	}
	total := (len(stream) + room - 1) / room
	if total > mostSymbols {
		return nil, fmt.Errorf("job symbols: the files make %d symbols of %d characters where %d can be counted; shorten remarks and notes", total, most, mostSymbols)
	}
	set := setID(stream)
	var texts []string
	for i := range total {
		p := Part{Number: number, Document: document, Index: i + 1, Total: total, Set: set,
			chunk: stream[i*len(stream)/total : (i+1)*len(stream)/total]}
		texts = append(texts, p.Symbol())
	}
	return texts, nil
}

// compress makes the body of a set: the number of files, and of each file the
// length of its name, its name, its length and its bytes; deflated.
func compress(files []File) ([]byte, error) {
	if len(files) == 0 || len(files) > mostFiles {
		return nil, fmt.Errorf("%d files; a set holds 1 to %d", len(files), mostFiles)
	}
	all, size := binary.AppendUvarint(nil, uint64(len(files))), 0
	seen := map[string]bool{}
	for _, f := range files {
		if err := checkName(f.Name, seen); err != nil {
			return nil, err
		}
		if size += len(f.Data); size > mostBytes {
			return nil, errors.New("the files are more than 3 MiB together")
		}
		all = append(binary.AppendUvarint(all, uint64(len(f.Name))), f.Name...)
		all = append(binary.AppendUvarint(all, uint64(len(f.Data))), f.Data...)
	}
	var w bytes.Buffer
	z, err := flate.NewWriterDict(&w, flate.BestCompression, dictionary)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(all); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return w.Bytes(), nil
}

func checkName(name string, seen map[string]bool) error {
	if len(name) > 64 || !fileName.MatchString(name) {
		return fmt.Errorf("file name %q; a plain name like intake.yaml is needed", shortened(name))
	}
	folded := strings.ToLower(name)
	if seen[folded] {
		return fmt.Errorf("two files are named %s", name)
	}
	seen[folded] = true
	return nil
}

// expand reads the body of a set.
func expand(body []byte) ([]File, error) {
	in := bytes.NewReader(body)
	const most = mostBytes + mostFiles*80
	all, err := io.ReadAll(io.LimitReader(flate.NewReaderDict(in, dictionary), most+1))
	switch {
	case err != nil:
		return nil, errors.New("it cannot be expanded")
	case len(all) > most:
		return nil, errors.New("it expands to more than 3 MiB")
	case in.Len() > 0:
		return nil, errors.New("something follows its end")
	}
	rest, broken := all, false
	count := func() uint64 {
		n, k := binary.Uvarint(rest)
		if k <= 0 {
			broken = true
			return 0
		}
		rest = rest[k:]
		return n
	}
	take := func() []byte {
		n := count()
		if n > uint64(len(rest)) {
			broken = true
			return nil
		}
		b := rest[:n:n]
		rest = rest[n:]
		return b
	}
	n := count()
	if n == 0 || n > mostFiles {
		return nil, errors.New("its list of files is broken")
	}
	var files []File
	seen, size := map[string]bool{}, 0
	for range n {
		f := File{Name: string(take()), Data: take()}
		if broken {
			return nil, errors.New("its list of files is broken")
		}
		if err := checkName(f.Name, seen); err != nil {
			return nil, err
		}
		size += len(f.Data)
		files = append(files, f)
	}
	if len(rest) > 0 || size > mostBytes {
		return nil, errors.New("its list of files is broken")
	}
	return files, nil
}

// Part is what one job symbol says.
type Part struct {
	Number   string // of the job, 26-0412-B
	Document byte   // Traveller or Report: the document it is printed on
	Index    int    // 1 to Total
	Total    int    // symbols in the set
	Set      string // tells one packing of a job from another, 8 characters
	chunk    []byte
}

const partMark = "J1"

func headerLength(number string) int { return len(partMark) + len(plain(number)) + 1 + 2 + 2 + 8 }

// setID names a packing: 32 bits of the SHA-256 of the stream.
func setID(stream []byte) string {
	sum := sha256.Sum256(stream)
	return digits16(sum[:4])
}

// Symbol is the text of the symbol.
func (p Part) Symbol() string {
	header := fmt.Sprintf("%s%s%c%02d%02d%s", partMark, plain(p.Number), p.Document, p.Index, p.Total, p.Set)
	sum := crc32.NewIEEE()
	io.WriteString(sum, header)
	sum.Write(p.chunk)
	return header + encode45(sum.Sum(p.chunk[:len(p.chunk):len(p.chunk)]))
}

var partForm = regexp.MustCompile(`^` + partMark + `(\d\d` + sitePattern + `\d{4,6}[0-9A-Z])([TR])(\d\d)(\d\d)([` + digestAlphabet + `]{8})`)

// parsePart reads the text of a job symbol.
func parsePart(s string) (Part, error) {
	m := partForm.FindStringSubmatch(s)
	if m == nil {
		return Part{}, errors.New("its beginning cannot be read")
	}
	index, _ := strconv.Atoi(m[3])
	total, _ := strconv.Atoi(m[4])
	data, err := decode45(s[len(m[0]):])
	if err != nil || len(data) <= crc32.Size {
		return Part{}, fmt.Errorf("symbol %d of %d was misread", index, total)
	}
	chunk, sum := data[:len(data)-crc32.Size], crc32.NewIEEE()
	io.WriteString(sum, m[0])
	sum.Write(chunk)
	if binary.BigEndian.Uint32(data[len(chunk):]) != sum.Sum32() {
		return Part{}, fmt.Errorf("symbol %d of %d was misread", index, total)
	}
	number, err := ParseNumber(m[1])
	if err != nil || index < 1 || index > total {
		return Part{}, errors.New("it was not made by these commands")
	}
	return Part{Number: number, Document: m[2][0], Index: index, Total: total, Set: m[5], chunk: chunk}, nil
}
