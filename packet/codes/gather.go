package codes

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// ErrOtherSet is a job symbol of another job, or of another packing of the same
// job: of a report made again, say.
var ErrOtherSet = errors.New("a job symbol of another set")

// Gather collects the job symbols of one set, in any order. The first one added
// says which set that is. The zero Gather is empty and ready.
type Gather struct {
	first Part
	have  map[int]Part
}

// Add takes the text of a job symbol, as Read takes it. fresh is false when it
// was read before. A text that is not of this set is an error and changes nothing.
func (g *Gather) Add(text string) (fresh bool, err error) {
	scan, err := Read(text)
	if err != nil {
		return false, err
	}
	p := scan.Part
	switch {
	case p == nil:
		return false, &refusal{"found %q, which names job %s but holds nothing of it; scan the page with the whole job in symbols", []any{shortened(scan.text()), scan.Number}, nil}
	case g.have == nil:
		g.first, g.have = *p, map[int]Part{}
	case p.Number != g.first.Number:
		return false, &refusal{"symbol %d of %d belongs to job %s, not to %s; put its paper aside", []any{p.Index, p.Total, p.Number, g.first.Number}, ErrOtherSet}
	case p.Document != g.first.Document:
		return false, &refusal{"symbol %d of %d of job %s is printed on its %s, the ones before on its %s; scan one of the two", []any{p.Index, p.Total, p.Number, documentName(p.Document), documentName(g.first.Document)}, ErrOtherSet}
	case p.Set != g.first.Set || p.Total != g.first.Total:
		return false, &refusal{"symbol %d of %d of job %s is of another printing (%s) than the ones before (%s, %d symbols); scan the paper of one printing", []any{p.Index, p.Total, p.Number, p.Set, g.first.Set, g.first.Total}, ErrOtherSet}
	}
	if old, ok := g.have[p.Index]; ok {
		if !bytes.Equal(old.chunk, p.chunk) {
			return false, &refusal{"symbol %d of %d of job %s says something else than the one scanned before; one of the two was not made by these commands", []any{p.Index, p.Total, p.Number}, nil}
		}
		return false, nil
	}
	g.have[p.Index] = *p
	return true, nil
}

func documentName(document byte) string {
	if document == Report {
		return "report"
	}
	return "packet"
}

// Set is the number, document, count and name of the set; its Index is 0. It is
// the zero Part while nothing was added.
func (g *Gather) Set() Part {
	p := g.first
	p.Index, p.chunk = 0, nil
	return p
}

// Missing are the symbols not read yet.
func (g *Gather) Missing() []int {
	var list []int
	for i := 1; i <= g.first.Total; i++ {
		if _, ok := g.have[i]; !ok {
			list = append(list, i)
		}
	}
	return list
}

// Complete reports whether every symbol of the set was read.
func (g *Gather) Complete() bool { return g.have != nil && len(g.Missing()) == 0 }

// String names what is missing: "3 and 5 of 7 missing".
func (g *Gather) String() string {
	missing := g.Missing()
	switch {
	case g.have == nil:
		return "no job symbol read"
	case len(missing) == 0:
		return fmt.Sprintf("all %d read", g.first.Total)
	}
	var w strings.Builder
	for i, n := range missing {
		switch {
		case i > 0 && i == len(missing)-1:
			w.WriteString(" and ")
		case i > 0:
			w.WriteString(", ")
		}
		w.WriteString(strconv.Itoa(n))
	}
	return fmt.Sprintf("%s of %d missing", w.String(), g.first.Total)
}

// Files are the files of a complete set, as they were packed to the byte.
func (g *Gather) Files() ([]File, error) {
	if !g.Complete() {
		return nil, fmt.Errorf("job symbols: %v", g)
	}
	var stream []byte
	for i := 1; i <= g.first.Total; i++ {
		stream = append(stream, g.have[i].chunk...)
	}
	fault := func(why string) error {
		return fmt.Errorf("job symbols of %s: every symbol reads well, but their whole cannot be trusted: %s; it was not made by these commands", g.first.Number, why)
	}
	const sumLength = 8
	if setID(stream) != g.first.Set || len(stream) < sumLength {
		return nil, fault("it is not the set that its symbols name")
	}
	files, err := expand(stream[sumLength:])
	if err != nil {
		return nil, fault(err.Error())
	}
	if !bytes.Equal(digest(g.first.Number, g.first.Document, files), stream[:sumLength]) {
		return nil, fault("its checksum does not fit its files")
	}
	return files, nil
}
