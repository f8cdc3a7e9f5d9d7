// Package words is the one catalogue of every sentence that is printed, in
// every language. Code says a sentence in English and gets it back in the
// language of the shop:
//
//	p := words.In("de", true)
//	p.T("%d of %d items met", 3, 4) // "3 von 4 Punkten erfüllt"
//	p.Fixed(3.2, 2)                 // "3,20"
//
// A sentence that the catalogue lacks is printed in English behind a §, so that
// a page test finds it. Texts that people typed are not sentences of it.
package words

import (
	_ "embed"
	"fmt"
	"regexp"
	"strings"
	"sync"
	"time"

	"gopkg.in/yaml.v3"

	"shimcard/calc"
)

// Languages are those of the catalogue, the one it is written from first.
var Languages = []string{"en", "de"}

// catalogue is a list of entries, each with the sentence in every language.
//
//go:embed catalogue.yaml
var catalogue []byte

// table is the catalogue by English sentence, then by language.
var table = sync.OnceValue(func() map[string]map[string]string {
	var list []map[string]string
	if err := yaml.Unmarshal(catalogue, &list); err != nil {
		panic("words: catalogue.yaml: " + err.Error())
	}
	t := make(map[string]map[string]string, len(list))
	for _, e := range list {
		t[e["en"]] = e
	}
	return t
})

// Printer writes sentences and figures in one language. Its zero value is
// English with a decimal point.
type Printer struct {
	language string
	comma    bool
}

// In is the printer of a language, with a decimal comma where the shop writes
// one.
func In(language string, comma bool) Printer { return Printer{language, comma} }

// Language is that of the documents: "en", "de".
func (p Printer) Language() string {
	if p.language == "" {
		return Languages[0]
	}
	return p.language
}

// T is a sentence of the catalogue in the printer's language, with its verbs
// filled in as by fmt.Sprintf. Another language may take them in another order:
// %[2]s.
func (p Printer) T(sentence string, a ...any) string {
	if sentence == "" {
		return ""
	}
	format := sentence
	if l := p.Language(); l != Languages[0] { // which the code is written in
		if format = table()[sentence][l]; format == "" {
			format = "§" + sentence
		}
	}
	if len(a) == 0 {
		return format
	}
	return fmt.Sprintf(format, a...)
}

// Unit is a unit's symbol as the language writes it; most are the same in all.
func (p Printer) Unit(symbol string) string {
	switch symbol {
	case "turns", "rev/min", "mm³/stroke":
		return p.T(symbol)
	}
	return symbol
}

// Quantity is a value with its unit.
func (p Printer) Quantity(q calc.Quantity) string {
	text := q.String()
	if u := q.Unit.Symbol; u != "" {
		text = strings.TrimSuffix(text, u) + p.Unit(u)
	}
	return p.Mark(text)
}

// Date is a date in the short form of the language; each has its own layout in
// the catalogue, of figures alone where months are not named as in English.
func (p Printer) Date(t time.Time) string { return t.Format(p.T("2 Jan 2006")) }

// Fixed prints x with so many decimals and the printer's decimal mark.
func (p Printer) Fixed(x float64, decimals int) string { return p.Mark(calc.Fixed(x, decimals)) }

var point = regexp.MustCompile(`(\d)\.(\d)`)

// Mark puts the printer's decimal mark into figures written with a point, such
// as those of a calc.Quantity. Not for texts with box codes in them.
func (p Printer) Mark(figures string) string {
	if !p.comma {
		return figures
	}
	return point.ReplaceAllString(figures, "$1,$2")
}
