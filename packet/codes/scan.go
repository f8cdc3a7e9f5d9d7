package codes

import (
	"errors"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// ErrForeign is a text that no job's paper carries.
var ErrForeign = errors.New("no code of a job")

// Scan is what a scanner or a person read off the paper.
type Scan struct {
	Number   string // of the job
	Page     *Page  // where it was a page's symbol
	Part     *Part  // where it was a job symbol
	Keyboard string // how keyboards were set, where that had to be undone; for a hint to set the scanner right
}

// mostText is more than the largest QR code holds.
const mostText = 8000

// Read reads a page symbol, a job symbol or a bare job number, as a
// keyboard-type scanner typed it or a person read it off the paper: in either
// case, with spaces around and a number's dashes or none.
//
// A text that does not check is tried as scanners type it whose keyboard is set
// to another country than the computer's, or with caps lock on. It is accepted
// only when one of those fits and no other meaning does; what was printed is
// always among those that fit. A slip of the finger is not put right by this: no
// layout makes one plain digit into another, and the check character of a number
// stands at the same place on all of them.
func Read(s string) (Scan, error) {
	s = strings.TrimFunc(s, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	if s == "" {
		return Scan{}, &refusal{format: "nothing was read; scan again or type the job number", kind: ErrForeign}
	}
	if len(s) > mostText {
		return Scan{}, &refusal{"found %q and %d characters in all, which is no code of a job; scan one symbol at a time", []any{shortened(s), len(s)}, ErrForeign}
	}
	scan, err := read(s)
	if err == nil {
		return scan, nil
	}
	var found []Scan
	var meant []string
	tried := map[string]bool{}
	for _, m := range mixUps {
		t, ok := m.undo(s)
		if !ok || tried[t] {
			continue
		}
		tried[t] = true
		scan, e := read(t)
		if e != nil {
			// A text with the form of ours says more about what went wrong.
			if errors.Is(err, ErrForeign) && !errors.Is(e, ErrForeign) {
				err = &refusal{"found %q (%v?): %v", []any{shortened(s), m, e}, nil}
			}
			continue
		}
		// Only the check of a whole symbol stands above a letter that moves.
		if scan.Part == nil && strings.IndexByte(steady, scan.Number[len(scan.Number)-1]) < 0 {
			continue
		}
		scan.Keyboard = m.String()
		if !slices.ContainsFunc(found, func(other Scan) bool { return other.text() == scan.text() }) {
			found, meant = append(found, scan), append(meant, shortened(scan.text()))
		}
	}
	switch len(found) {
	case 0:
		return Scan{}, err
	case 1:
		return found[0], nil
	}
	return Scan{}, &refusal{"found %q, which may be %s; set the scanner to the computer's keyboard and scan again, or type the job number", []any{shortened(s), strings.Join(meant, " or ")}, nil}
}

// text is what the paper says.
func (s Scan) text() string {
	switch {
	case s.Part != nil:
		return s.Part.Symbol()
	case s.Page != nil:
		return s.Page.Symbol()
	}
	return s.Number
}

var (
	partLike  = regexp.MustCompile(`^J1\d\d` + sitePattern + `\d{4,6}[0-9A-Z]`)
	laterLike = regexp.MustCompile(`^[JP]([2-9])\d\d` + sitePattern + `\d{4,6}[0-9A-Z]`)
	spaces    = strings.NewReplacer(" ", "", "\t", "", "\u00a0", "", "\u2010", "-", "\u2011", "-", "\u2012", "-", "\u2013", "-", "\u2212", "-")
)

// read reads a text that no keyboard changed.
func read(s string) (Scan, error) {
	found := shortened(s)
	s = capitals(s)
	if c := s[0]; c != 'J' && c != 'P' && (c < '0' || c > '9') {
		return Scan{}, foreign(found)
	}
	if m := laterLike.FindStringSubmatch(s); m != nil {
		return Scan{}, &refusal{"found %q, a symbol of version %s; a later version of these commands reads it", []any{found, m[1]}, nil}
	}
	if partLike.MatchString(s) {
		p, err := parsePart(s)
		if err != nil {
			return Scan{}, &refusal{"job symbol %q: %v; scan it again, set the scanner to the computer's keyboard, or give a picture of the page", []any{found, err}, nil}
		}
		return Scan{Number: p.Number, Part: &p}, nil
	}
	s = spaces.Replace(s)
	if numberForm.MatchString(s) {
		number, err := ParseNumber(s)
		if err != nil {
			return Scan{}, err
		}
		return Scan{Number: number}, nil
	}
	if pageForm.MatchString(s) {
		p, err := ParsePage(s)
		if err != nil {
			return Scan{}, err
		}
		return Scan{Number: p.Number, Page: &p}, nil
	}
	return Scan{}, foreign(found)
}

func foreign(found string) error {
	return &refusal{"found %q, which is no code of a job; scan the symbol at the head of a page, or type the job number as printed there", []any{found}, ErrForeign}
}
