package codes

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// The documents of a job, by a letter that the common national keyboards have
// at the same place.
const (
	Traveller = 'T'
	Report    = 'R'
)

// Page is what the symbol of one page says.
type Page struct {
	Number   string // of the job, 26-0412-B
	Document byte   // Traveller or Report
	Page     int    // 1 to 999
	Digest   string // of a report's record, 16 characters; "" on a traveller
}

// Symbol is the text of the page's symbol.
func (p Page) Symbol() string {
	s := fmt.Sprintf("%s%c%02d%s", plain(p.Number), p.Document, p.Page, p.Digest)
	return s + string(checkCharacter(s))
}

var pageForm = regexp.MustCompile(`^(` + strings.ReplaceAll(numberPattern, "-?", "") + `)(?:` +
	`(T)(\d{2}|[1-9]\d{2})|` +
	`(R)(\d{2}|[1-9]\d{2})([` + digestAlphabet + `]{16})?` + // reports of earlier versions have no digest
	`)([0-9A-Z*])$`)

// ParsePage reads the text of a page's symbol.
func ParsePage(s string) (Page, error) {
	s = capitals(strings.TrimSpace(s))
	m := pageForm.FindStringSubmatch(s)
	if m == nil {
		return Page{}, &refusal{format: "page symbol: found %q, which is no page of a job; scan again or type the job number", args: []any{shortened(s)}}
	}
	number, err := ParseNumber(m[1])
	if err != nil {
		return Page{}, err
	}
	page, _ := strconv.Atoi(m[6] + m[8])
	if checkCharacter(s[:len(s)-1]) != s[len(s)-1] || page == 0 {
		return Page{}, &refusal{format: "page symbol: %s cannot be right: its last character does not fit the rest; scan again or type the job number", args: []any{s}}
	}
	return Page{Number: number, Document: (m[5] + m[7])[0], Page: page, Digest: m[9]}, nil
}

// digestAlphabet are sixteen characters that US, UK, German and French
// keyboards have at the same place, and that neither eye nor pen takes for one
// another: no B for 8, G for 6, I or L for 1, D or O for 0, S for 5, F for E.
const digestAlphabet = "0123456789CEHKPX"

// digits16 writes bytes, four bits to a character.
func digits16(b []byte) string {
	return strings.Map(func(r rune) rune {
		return rune(digestAlphabet[strings.IndexRune("0123456789abcdef", r)])
	}, hex.EncodeToString(b))
}

// File is a file of a job as symbols carry it: its plain name and its bytes.
type File struct {
	Name string
	Data []byte
}

// Digest tells one record of a job from another: 64 bits of the SHA-256 of
// number, document, names and bytes, written in 16 characters. Two records with
// one digest are the same record; it does not prove who made it.
func Digest(number string, document byte, files []File) string {
	return digits16(digest(number, document, files))
}

func digest(number string, document byte, files []File) []byte {
	h := sha256.New()
	part := func(data []byte) {
		var n [8]byte
		binary.BigEndian.PutUint64(n[:], uint64(len(data)))
		h.Write(n[:])
		h.Write(data)
	}
	part([]byte(number))
	part([]byte{document})
	for _, f := range files {
		part([]byte(f.Name))
		part(f.Data)
	}
	return h.Sum(nil)[:8]
}
