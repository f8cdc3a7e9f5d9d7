package packet

import (
	"cmp"
	"encoding/xml"
	"fmt"
	"math"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/layout"
	"shimcard/packet/words"
	"shimcard/specs"
)

// every drawing, and whether a measured dimension is lettered on it.
var everyDrawing = []struct {
	drawing  Drawing
	measures bool
}{
	{DrawTimingPack, true}, {DrawColdStart, true}, {DrawSpringPreset, true}, {DrawPlungerDepth, true},
	{DrawPreStroke, true}, {DrawShaftProjection, true}, {DrawEndFloat, true}, {DrawStartingGap, true},
	{DrawRing, false}, {DrawOutlets, false}, {DrawLever, false}, {DrawAbove, false},
}

// printedWord is a printed word and where it stands, in points.
type printedWord struct {
	Page int     `xml:"-"`
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

func (w printedWord) middle() (x, y float64) { return (w.XMin + w.XMax) / 2, (w.YMin + w.YMax) / 2 }

// printedWords reads the words of a document with pdftotext (poppler-utils), a
// reader that is none of our own.
func printedWords(t *testing.T, pdf []byte) []printedWord {
	t.Helper()
	cmd := exec.Command("pdftotext", "-bbox", "-", "-")
	cmd.Stdin = strings.NewReader(string(pdf))
	out, err := cmd.Output()
	require.NoError(t, err, "pdftotext (package poppler-utils) must be installed")
	var doc struct {
		Pages []struct {
			Words []printedWord `xml:"word"`
		} `xml:"body>doc>page"`
	}
	require.NoError(t, xml.Unmarshal(out, &doc))
	var words []printedWord
	for i, p := range doc.Pages {
		for _, w := range p.Words {
			w.Page = i
			words = append(words, w)
		}
	}
	require.NotEmpty(t, words)
	return words
}

// printed prints drawings two abreast, as wide as they are on a sheet, and
// returns the words of them; K1 to K9 are taken in order for the codes.
func printed(t *testing.T, spec *specs.Spec, paper layout.Paper, drawings ...Drawing) []printedWord {
	t.Helper()
	d := layout.New(paper, layout.Meta{Title: "drawings"}, layout.Frame{})
	var blocks []layout.Block
	for i, w := range drawings {
		blocks = append(blocks, layout.Columns{Weights: []float64{1.15, 1}, Cols: [][]layout.Block{{}, {w.figure(words.Printer{}, spec, fmt.Sprint("K", i+1))}}})
	}
	d.Add(layout.Section{Blocks: blocks})
	pdf, err := d.Bytes()
	require.NoError(t, err)
	return printedWords(t, pdf)
}

func pumpWith(rotation specs.Rotation, marks ...string) *specs.Spec {
	return &specs.Spec{Pump: specs.Pump{Outlets: len(marks), Marks: marks, Rotation: rotation}}
}

func numbered(n int) (marks []string) {
	for i := range n {
		marks = append(marks, strconv.Itoa(i+1))
	}
	return marks
}

func texts(words []printedWord) (out []string) {
	for _, w := range words {
		out = append(out, w.Text)
	}
	return out
}

func find(t *testing.T, words []printedWord, text string) printedWord {
	t.Helper()
	i := slices.IndexFunc(words, func(w printedWord) bool { return w.Text == text })
	require.GreaterOrEqual(t, i, 0, "the word %q is not on the page: %q", text, texts(words))
	return words[i]
}

// assertApart fails where two words lie over each other. A word's box is a line
// high, so a fifth is taken off at top and bottom.
func assertApart(t *testing.T, words []printedWord) {
	t.Helper()
	for i, a := range words {
		for _, b := range words[i+1:] {
			inset := func(w printedWord) (float64, float64) {
				h := (w.YMax - w.YMin) / 5
				return w.YMin + h, w.YMax - h
			}
			at, ab := inset(a)
			bt, bb := inset(b)
			over := a.Page == b.Page && min(a.XMax, b.XMax) > max(a.XMin, b.XMin) && min(ab, bb) > max(at, bt)
			assert.False(t, over, "%q and %q lie over each other", a.Text, b.Text)
		}
	}
}

func TestDrawingsKeepTheirWordsApart(t *testing.T) {
	var drawings []Drawing
	for _, e := range everyDrawing {
		drawings = append(drawings, e.drawing)
	}
	require.Len(t, drawings, len(sketches), "a drawing is missing from the test")
	for _, rotation := range []specs.Rotation{specs.Right, specs.Left} {
		for n := 2; n <= 12; n++ {
			t.Run(fmt.Sprint(rotation, n), func(t *testing.T) {
				paper := []layout.Paper{layout.A4, layout.Letter}[n%2]
				words := printed(t, pumpWith(rotation, numbered(n)...), paper, drawings...)
				assertApart(t, words)
				all := texts(words)
				for i, e := range everyDrawing {
					code := fmt.Sprint("K", i+1)
					assert.Equal(t, e.measures, slices.Contains(all, code), "%s: code %s", e.drawing, code)
				}
				assert.NotContains(t, strings.Join(all, " "), "…", "a word was cut short")
				assert.Contains(t, all, strings.ToUpper(string(rotation))+"-HAND")
			})
		}
	}
}

// Common practice, no source: right-hand rotation is clockwise seen from the
// drive end, and outlets follow one another in the direction of rotation.
func TestOutletsFollowTheRotation(t *testing.T) {
	for _, c := range []struct {
		rotation specs.Rotation
		marks    []string
		step     float64 // degrees clockwise from one outlet to the next
	}{
		{specs.Right, []string{"A", "B", "C", "D"}, 90},
		{specs.Left, []string{"A", "B", "C", "D", "E", "F"}, -60},
		{specs.Right, numbered(12)[1:], 360.0 / 11},
	} {
		words := printed(t, pumpWith(c.rotation, c.marks...), layout.A4, DrawOutlets)
		for view, step := range []float64{c.step, -c.step} { // from the drive end, and turned round from the head end
			var xs, ys float64
			var at [][2]float64
			for _, m := range c.marks {
				var seen [][2]float64
				for _, w := range words {
					if w.Text == m {
						x, y := w.middle()
						seen = append(seen, [2]float64{x, y})
					}
				}
				require.Len(t, seen, 2, "%s in both views", m)
				slices.SortFunc(seen, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
				at = append(at, seen[view])
				xs, ys = xs+seen[view][0], ys+seen[view][1]
			}
			cx, cy := xs/float64(len(at)), ys/float64(len(at))
			angle := func(p [2]float64) float64 { return math.Atan2(p[1]-cy, p[0]-cx) * 180 / math.Pi } // y runs down: clockwise
			for i := range at {
				got := math.Remainder(angle(at[(i+1)%len(at)])-angle(at[i]), 360)
				assert.InDelta(t, step, got, 1, "%s-hand, view %d, after %s", c.rotation, view, c.marks[i])
			}
		}
	}
}

func TestLongOutletMarksAreListed(t *testing.T) {
	var marks []string
	for i := range 12 {
		marks = append(marks, fmt.Sprintf("holder-%d", i+1))
	}
	words := printed(t, pumpWith(specs.Left, marks...), layout.A4, DrawOutlets)
	assertApart(t, words)
	y := 0.0
	for _, m := range marks {
		_, at := find(t, words, m).middle()
		assert.Greater(t, at, y, "%s stands out of order", m)
		y = at
	}
}

// The hole that lies farther from the inner wall is on the right for right-hand
// rotation and on the left for left-hand. Common practice, no source.
func TestRingIsMirroredForLeftHand(t *testing.T) {
	for rotation, side := range map[specs.Rotation]float64{specs.Right: 1, specs.Left: -1} {
		words := printed(t, pumpWith(rotation, numbered(4)...), layout.A4, DrawRing)
		named, _ := find(t, words, "farther").middle()
		middle, _ := find(t, words, "governor").middle()
		assert.Positive(t, side*(named-middle), "%s-hand", rotation)
	}
}

// Where turning the shaft out makes the dimension smaller, its end must lie
// within the face, so the gauge stands flat on the face instead of bridging.
func TestShaftEndFollowsTheSpec(t *testing.T) {
	for _, grows := range []bool{true, false} {
		spec := pumpWith(specs.Right, numbered(4)...)
		spec.Dimensions = []*specs.Dimension{{Name: specs.ShaftProjection, Thread: &specs.Thread{Pitch: calc.LengthOf(1, calc.MM), OutGrows: grows}}}
		words := printed(t, spec, layout.A4, DrawShaftProjection)
		assertApart(t, words)
		assert.Equal(t, grows, slices.Contains(texts(words), "bridge,"))
		assert.Contains(t, texts(words), "K1")
	}
}
