// Package layout is the paper: page frame, boxes to write into by hand, charts,
// tables, plots and code symbols, on A4 or Letter, in black and grey. It knows
// nothing of what the pages are about.
//
// A document is a list of sections, a section a list of blocks:
//
//	d := layout.New(layout.A4, layout.Meta{Title: "Traveller"}, layout.Frame{Number: "26-0412-B"})
//	d.Add(layout.Section{Key: "H", Blocks: []layout.Block{
//		layout.Heading{Text: "Measure"},
//		layout.PenRow{Pens: []layout.Pen{{Code: "H1", Label: "first", Before: 1, After: 2, Unit: "mm"}}},
//	}})
//	pdf, err := d.Bytes()
//
// Lengths are millimetres, type sizes points, grey levels run from 0 (black)
// to 1 (white). Text is measured before it is drawn: it wraps, shrinks to a
// floor of 6.5 points and at last ends in "…", and never leaves its box. The
// same input gives the same bytes.
package layout

import "time"

// Paper is a sheet in portrait, in millimetres.
type Paper struct {
	Name string
	W, H float64
}

var (
	A4     = Paper{Name: "A4", W: 210, H: 297}         // ISO 216
	Letter = Paper{Name: "Letter", W: 215.9, H: 279.4} // ANSI/ASME Y14.1, size A: 8.5 × 11 in
)

// Meta is what the file says of itself. Date is written as the date of
// creation and of modification; nothing of the clock gets into the file.
type Meta struct {
	Title, Subject, Author string
	Language               string // such as "en-GB"
	Date                   time.Time
	Attachments            []Attachment
}

// Attachment is a file carried inside the document.
type Attachment struct {
	Name, Description string
	Data              []byte
}

// Frame is what every page carries in the same places.
type Frame struct {
	Over         string                // small line above the number
	Number       string                // large
	Lines        []string              // one or two lines below the number; **bold** runs
	Notice       string                // printed framed and grey in the head of each page, such as "INVENTED FIGURES"; "" = none
	Symbol       func(page int) string // text of a page's symbol, in the upper outer corner; nil or "" = none; asked ahead of the page too
	Foot         string                // small grey line at the bottom left
	PageOf       string                // "page %d of %d"
	Continued    string                // "continued"
	DecimalComma bool                  // decimal mark printed in cells to write into
	Rules        bool                  // the number and the ends of the lines are ruled, to be written in by hand
	ThreeHoles   bool                  // guides for three filing holes instead of the two of ISO 838
	TwoSided     bool                  // every other page is a back: its margins mirrored
}

// PageInfo says which sections are on a page: those that start or go on there.
type PageInfo struct {
	Number int
	Marks  []string // section keys, in order
}

// Section is a run of blocks that belong together.
type Section struct {
	Key      string // for page references
	Bookmark string // outline entry; "" = none
	NewPage  bool   // false: goes on the current page when it fits there whole
	Blocks   []Block
	// Shorter gives the same with less in it, the more so the higher n, from 1 to
	// Shortest, 0 when there is none. The first that saves a page is used. Shorter
	// may be called while those of other sections are.
	Shorter   func(n int) []Block
	Shortest  int
	LastLeast bool  // the last is the least high: where it saves no page, no other is tried
	Foot      Block // sign-off, kept whole, at the bottom of the page when nothing follows there; nil = none
}
