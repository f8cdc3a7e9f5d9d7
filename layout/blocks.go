package layout

// Block is one thing on a page, as wide as its column. The blocks are the
// structs of this package, used as values, not through pointers.
type Block interface {
	// height is what the block takes at width w, mm.
	height(s *sheet, w float64) float64
	// draw draws it, its upper left corner at x, y.
	draw(s *sheet, x, y, w float64)
}

// rowed is a block that may break over pages between its rows.
type rowed interface {
	Block
	rows(s *sheet, w float64) []float64 // heights
	part(s *sheet, w float64, from, to int) Block
}

// Band opens a section: its mark white on black, title and purpose, and at the
// right a large figure with a small line under it. Under is set small below all
// that; **bold** runs.
type Band struct{ Mark, Title, Purpose, RightTop, RightBottom, Under string }

// Heading is a bold line with a rule under it. It stays with the block after it.
type Heading struct{ Text, Right string }

// Para is running text; **bold** runs, line breaks kept.
type Para struct {
	Text       string
	Size       float64 // 0 = 9.5 pt
	Bold, Grey bool

	cut []line // what a page break left of it
}

// Steps are numbered instructions. The numbers go on when the list breaks over
// a page.
type Steps struct {
	Items []Step
	After int     // how many stand before them, above or on the page before
	Size  float64 // 0 = 9.5 pt
}

// Step is one instruction. Its caution, if any, follows it in a framed box
// with a warning triangle.
type Step struct{ Text, Caution string }

// Caution is a warning standing alone.
type Caution struct {
	Text string
	Size float64 // 0 = 9.5 pt
}

// Bullets is an unnumbered list.
type Bullets struct{ Items []string }

// Findings is a numbered list of findings. It breaks over pages only between
// them, and the numbers go on.
type Findings struct {
	Items []Finding

	before int // findings on the pages before
}

// Finding is what was found, in bold, and lines in smaller type under it that
// say what it rests on and what to do; **bold** runs.
type Finding struct {
	Text  string
	Lines []string
}

// Columns puts stacks of blocks side by side; it stays on one page.
type Columns struct {
	Weights []float64 // empty = equal widths
	Cols    [][]Block
}

// Group keeps its blocks on one page.
type Group struct{ Blocks []Block }

// Boxed draws a thin frame round its blocks and keeps them on one page.
type Boxed struct{ Blocks []Block }

// Space is empty height.
type Space struct{ H float64 }

// PenKind says what a pen is to write.
type PenKind int

const (
	PenFigures  PenKind = iota // a number, one cell a figure
	PenTick                    // a 5 mm box
	PenChoice                  // several boxes with words, one to be ticked
	PenLine                    // a line to write on
	PenInitials                // a box for initials
	PenDate                    // year, month, day
)

// Pen is a place to write one thing by hand. Code and label stand above it (or
// beside a tick box), the unit after it.
type Pen struct {
	Code, Label   string
	Kind          PenKind
	Before, After int      // PenFigures: cells before and after the decimal mark
	Sign          bool     // PenFigures: a cell more for + or −
	Unit          string   // printed after
	Choices       []string // PenChoice
	Lines         int      // PenLine: ruled one below the other; 0 = one
	Width         float64  // PenLine, PenDate as a box: mm; 0 = rest of the row, or one cell a figure
	Computed      bool     // to be worked out, not measured: drawn with a heavier frame
	Printed       string   // printed in place of what would be written; "" = empty
}

// PenRow sets pens from left to right, in as many rows as they take.
type PenRow struct{ Pens []Pen }

// Arith is a sum to be done by pen: boxes and printed figures with signs
// between. A sign is never parted from the box after it.
type Arith struct{ Terms []Term }

// Term is one operand: Pen, or the printed figure Fixed with Label above it.
// Sign, if any, stands before it.
type Term struct {
	Pen                *Pen
	Sign, Fixed, Label string
}

// TickList is a list of boxes to tick, code and label beside each.
type TickList struct {
	Pens    []Pen
	Columns int // 0 = 1
}

// Chart is a grid of figures to be read off, in condensed type. A chart too
// wide for the page goes on below itself, one too long on the next page, with
// its headings repeated.
type Chart struct {
	Corner  string // heading of the headings: "down \ across"
	Head    []string
	Rows    []ChartRow
	Outline bool // a heavier line round each zone of shaded cells
	Whole   bool // never parted: its columns belong together

	set *chartSet // what a page break keeps, so that the parts line up
}

// ChartRow is one row of a Chart.
type ChartRow struct {
	Head  string
	Cells []ChartCell
}

// ChartCell is one figure of a Chart. Mark frames it heavily; Head makes it a
// head like those at the left.
type ChartCell struct {
	Text                     string
	Shade, Faint, Mark, Head bool
}

// PenTable is a table with cells to write into, at least 9 mm high and 11 mm
// wide. It breaks between rows, with its heads repeated.
//
// Rows joined by Keep are one entry: they are never parted, the rule between
// them is fainter than the one between entries, and words with nothing under
// them in the rows joined below stand in the middle of the entry. Words in the
// first column that are said again in the next row of the entry are printed
// once.
type PenTable struct {
	Cols []PenCol
	Rows []PenTableRow

	set []float64 // column widths a page break keeps
}

// PenCol heads a column of a PenTable.
type PenCol struct {
	Head, Sub string
	Weight    float64 // share of the width; 0 = 1
	MinWidth  float64 // mm
}

// PenTableRow is one row of a PenTable.
type PenTableRow struct {
	Cells []PenCell
	Keep  bool // one entry with the next row
}

// PenCell is text, or a cell to write into.
type PenCell struct {
	Text, Sub string
	Bold      bool
	Pen       *Pen
	Told      bool // row and column tell the pen's code: its label is printed in place of it
}

// Table is a printed table with rules between its rows. It breaks between
// rows, with its heads repeated.
type Table struct {
	Cols      []Col
	Rows      [][]Cell
	Size      float64 // 0 = 9 pt
	RowHeight float64 // least height of a row, mm

	set []float64 // column widths a page break keeps
}

// Col heads a column of a Table. Align is L, R, C or D (on the decimal mark);
// "" = L.
type Col struct {
	Head   string
	Weight float64 // share of the width; 0 in all columns = by content
	Align  string
}

// Cell is one cell of a Table.
type Cell struct {
	Text       string
	Bold, Grey bool
	Strip      *Strip
	PageOf     string // prints the page number of the section with this key
	Pen        *Pen
}

// Strip is a tolerance at a glance: the limits as a grey box, the target as a
// tick, what was found as an open circle and what was left as a filled one with
// a bar of ± U. A value beyond the strip is drawn at its end with an arrowhead.
// Limits may be infinite, Target NaN (none).
type Strip struct {
	Low, High, Target float64
	Found, Left       *float64
	Expected          *float64 // drawn as a small cross above; nil = none
	U                 float64
}

// Plot draws readings, fitted curves and limit bars on axes. Where two curves
// or more have names, the names stand over the frame. A figure that is not a
// number, or infinite, is a gap in its curve.
type Plot struct {
	Title, XLabel, YLabel  string
	Height                 float64 // 0 = 70 mm; more where many names stand over it
	Series                 []Series
	Fits                   []Fit
	Limits                 []LimitBar
	XMin, XMax, YMin, YMax float64 // equal = by the data
	Whole                  bool    // X is of whole things, years or jobs: no parts of them at the axis
	Empty                  string  // printed in the frame when there is no reading: "no readings"
}

// Series is one row of readings of a Plot, in the order they were taken. In
// black and white, series are told apart by Mark, Open and Dash.
type Series struct {
	Name  string
	X, Y  []float64
	Dash  bool // dashed line
	Open  bool // open marks
	Mark  Mark
	Loose bool // marks without a line through them
	Join  bool // its line begins where the series before ends: the way back of a loop
}

// Mark is the shape at each reading of a Series; its centre of gravity is where
// the reading lies.
type Mark int

const (
	MarkRound Mark = iota
	MarkDown       // triangle on its tip
	MarkUp         // triangle on its side
	MarkSquare
	MarkDiamond // square on its tip
)

// Fit is a curve without marks on a Plot: a thin line through X, Y over a light
// band of Y ± Half. Both end at the frame.
type Fit struct {
	Name string
	X, Y []float64
	Half []float64 // half-width of the band at each X; nil = no band
	Dash bool      // dashed line
}

// LimitBar is a vertical bar from Low to High at X; either may be infinite.
type LimitBar struct{ X, Low, High float64 }

// SketchGrid is squared paper with axes, to sketch a curve on by hand. The axes
// hold what is asked for and every limit bar.
type SketchGrid struct {
	Title, XLabel, YLabel  string
	XMin, XMax, YMin, YMax float64
	Limits                 []LimitBar
	Height                 float64 // 0 = 70 mm
}

// Figure is a line drawing. Draw is called once for each time the figure is
// printed.
type Figure struct {
	Height float64
	Draw   func(c *Canvas)
}

// Verdict is the framed answer at the head of a report.
type Verdict struct{ Big, Small, Note string }

// SignOff is a rule with places to sign under it. Tick, if any, is printed at
// the right beside a box to tick.
type SignOff struct {
	Fields []Pen
	Tick   string
}

// TearOff is a tag to be cut off at the bottom of the page, under a dashed
// line.
type TearOff struct {
	Cut    string // printed at the dashed line: "cut here"
	Blocks []Block
	Height float64 // 0 = as needed
}

// Symbol is a QR symbol (ISO/IEC 18004), Size mm square with its quiet zone of
// four modules. Choose Size so that a module is no smaller than about 0.4 mm
// (common practice, no source): n bytes at level M take about 3.6·√n + 5 of
// them, and the quiet zone 8.
type Symbol struct {
	Text  string
	Size  float64
	Level string // error correction L, M, Q or H; "" = M
}

// None is the fill level of an outline.
const None = -1.0
