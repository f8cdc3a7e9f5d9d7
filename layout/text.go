package layout

import (
	"math"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"shimcard/fonts"
)

const (
	sans     = fonts.Regular
	sansBold = fonts.Bold
	cond     = fonts.Condensed
	condBold = fonts.CondensedBold
)

type font struct {
	face fonts.Face
	size float64 // points
}

func (f font) bold() font             { return font{f.face | 1, f.size} }
func (f font) at(size float64) font   { return font{f.face, size} }
func (f font) mm() float64            { return f.size * mmPerPoint }
func (f font) lead() float64          { return 1.32 * f.mm() }
func (f font) of(w int) float64       { return float64(w) / 1000 * f.mm() } // mm, of thousandths of the size
func (f font) base(y float64) float64 { return y + f.lead()/2 + 0.35*f.mm() }

// width is the length of text on one line, mm.
func (s *sheet) width(f font, text string) float64 { return f.of(s.advance(f.face, text)) }

// advance is the length of text on one line, in thousandths of its size; 0 for a text
// that cannot be drawn.
func (s *sheet) advance(face fonts.Face, text string) int {
	s.measure(face)
	sum := 0
	for _, r := range text {
		a, has := face.Advance(r)
		if !has && !s.known(text) {
			return 0
		}
		sum += a
	}
	return sum
}

// text sets one line as it is, its baseline at y.
func (s *sheet) text(x, y float64, f font, grey float64, text string) {
	text = flat(text)
	if text == "" || !s.known(text) {
		return
	}
	s.use(f)
	s.fill(grey) // else fpdf would set the colour of every text, and set it back
	if s.letters != grey {
		s.letters = grey
		g := int(math.Round(grey * 255))
		s.pdf.SetTextColor(g, g, g)
	}
	s.pdf.Text(x, y, text)
}

var flatten = strings.NewReplacer("\r\n", " ", "\n", " ", "\r", " ", "\t", " ")

func flat(text string) string {
	if !strings.ContainsAny(text, "\r\n\t") {
		return text
	}
	return flatten.Replace(text)
}

// fit shrinks text to width w, to the floor and then to "…".
func (s *sheet) fit(f font, text string, w float64) (font, string) {
	text = flat(text)
	full := s.width(f, text)
	if full <= w {
		return f, text
	}
	if size := math.Floor(f.size*w/full*20) / 20; size >= floorSize {
		return f.at(size), text
	}
	f = f.at(min(f.size, floorSize))
	runes := []rune(text)
	for n := len(runes) - 1; n > 0; n-- {
		if t := strings.TrimRight(string(runes[:n]), " ") + "…"; s.width(f, t) <= w {
			return f, t
		}
	}
	return f, ""
}

// fitted sets one line in w, aligned L, C or R, shrunk as need be.
func (s *sheet) fitted(x, y, w float64, f font, grey float64, align, text string) {
	f, text = s.fit(f, text, w)
	x += alignment(align) * (w - s.width(f, text))
	s.text(x, y, f, grey, text)
}

// alignment is the share of the slack that goes to the left of a text.
func alignment(align string) float64 {
	switch align {
	case "C":
		return 0.5
	case "R", "D":
		return 1
	}
	return 0
}

// run is a piece of a line in one face, at x from the line's start.
type run struct {
	text string
	bold bool
	x    float64
}

type line struct {
	runs []run
	w    float64
}

// word is what is not parted at the end of a line. Widths of what is not set yet are
// in thousandths of the size of the type, which may shrink.
type word struct {
	bits []bit
	w    int
	brk  bool // a new line before it
	tied bool // it stays with the word before it where the line is wide enough
}

// bit is a piece of a word in one face, by its bytes in the text.
type bit struct {
	from, to int
	bold     bool
	w        int
}

// wordOf is a word of text as one string.
func wordOf(text string, wd word) string {
	if len(wd.bits) == 1 {
		return text[wd.bits[0].from:wd.bits[0].to]
	}
	var out strings.Builder
	for _, b := range wd.bits {
		out.WriteString(text[b.from:b.to])
	}
	return out.String()
}

// set is a text as it is to be set in a width. In words both the width and the size
// of the type are 0.
type set struct {
	font font
	text string
	w    float64
}

// kept is what a map has, made when it has it not; meanwhile the map is free.
func kept[V any](lock *sync.Mutex, m map[set]V, key set, made func() V) V {
	lock.Lock()
	out, ok := m[key]
	lock.Unlock()
	if !ok {
		out = made()
		lock.Lock()
		m[key] = out
		lock.Unlock()
	}
	return out
}

// words parts text at its spaces and reads **bold** runs. It is asked for the same
// text many times, while a page is fitted and when it is drawn, and keeps what it
// answered: nobody may change that.
func (s *sheet) words(face fonts.Face, text string) []word {
	return kept(&s.lock, s.parted, set{font{face: face}, text, 0}, func() []word { return s.partWords(face, text) })
}

func (s *sheet) partWords(face fonts.Face, text string) []word {
	n := 1 + strings.Count(text, " ")
	out, bits := make([]word, 0, n), make([]bit, 0, n+strings.Count(text, "**"))
	var cur word
	first := 0 // of the bits of cur
	bold := face&1 == 1
	open := bold
	end := func() {
		if first < len(bits) {
			cur.bits = bits[first:len(bits):len(bits)]
			out = append(out, cur)
			cur, first = word{}, len(bits)
		}
	}
	from := 0 // where the bit begins that is open
	flush := func(to int) {
		if from == to {
			return
		}
		g := face
		if open {
			g |= 1
		}
		w := s.advance(g, text[from:to])
		bits = append(bits, bit{from, to, open, w})
		cur.w += w
	}
	for i := 0; i < len(text); i++ { // what is looked for is not part of a character
		switch text[i] {
		case '*':
			if strings.HasPrefix(text[i:], "**") {
				flush(i)
				open = !open || bold
				from = i + 2
				i++
			}
		case '\n', ' ', '\t', '\r':
			flush(i)
			end()
			from = i + 1
			cur.brk = cur.brk || text[i] == '\n'
		}
	}
	flush(len(text))
	end()
	tie(text, out)
	return out
}

// shortFormula is how many words and signs in brackets stay on one line.
const shortFormula = 7

// tie keeps together what is read as one: a figure and its unit, a sign of
// arithmetic and what follows it, a range, a short formula in brackets.
func tie(text string, ws []word) {
	texts := make([]string, len(ws))
	for i, wd := range ws {
		texts[i] = wordOf(text, wd)
	}
	for i := 1; i < len(ws); i++ {
		a, b := texts[i-1], texts[i]
		switch {
		case ws[i].brk:
		case figured(a) && units[strings.TrimRight(b, ".,;:)!?")]:
			ws[i].tied = true
		case figured(a) && b == "–": // of a range
			ws[i].tied = true
		case a == "–":
			ws[i].tied = i > 1 && figured(texts[i-2])
		case strings.HasSuffix(a, "("):
			ws[i].tied = true
		case signed(a):
			ws[i].tied = true
		}
	}
	for i, t := range texts {
		if strings.Count(t, "(") <= strings.Count(t, ")") {
			continue
		}
		formula := false
		for k := i; k < len(ws) && k-i < shortFormula && (k == i || !ws[k].brk); k++ {
			formula = formula || signed(strings.Trim(texts[k], "()")) || texts[k] == "–"
			if strings.Contains(texts[k], ")") {
				for j := i + 1; formula && j <= k; j++ {
					ws[j].tied = true
				}
				break
			}
		}
	}
}

// figured reports whether a word ends in a figure.
func figured(word string) bool {
	word = strings.TrimRight(word, "()")
	return word != "" && word[len(word)-1] >= '0' && word[len(word)-1] <= '9'
}

// signed reports whether a word is a sign of arithmetic.
func signed(word string) bool {
	return utf8.RuneCountInString(word) == 1 && strings.ContainsAny(word, "+−×÷=±<>≤≥")
}

// units are what a figure is not parted from.
var units = func() map[string]bool {
	out := map[string]bool{}
	for _, u := range strings.Fields(`mm cm m µm in mm² cm² mm³ cm³ L mL g kg s min h N kN kgf lbf N·m lbf·ft lbf·in kgf·m
		Pa kPa MPa bar psi °C °F K ° % W kW V mV A N/mm lbf/in kg/m³ L/h mL/h cm³/s rev/min 1/min r/min cm³/1000 mm³/stroke g/kWh turns`) {
		out[u] = true
	}
	return out
}()

// wrap breaks text into lines no wider than w, between words that are not tied.
// What is wider than that is parted where it must. As with words, nobody may
// change the answer.
func (s *sheet) wrap(f font, text string, w float64) []line {
	key := set{f, text, w}
	return kept(&s.lock, s.wrapped, key, func() []line { return s.wrapWords(f, text, w) })
}

func (s *sheet) wrapWords(f font, text string, w float64) []line {
	if !s.known(text) {
		return []line{{}}
	}
	var out []line
	var cur line
	at := 0 // the width of cur
	end := bit{to: -1}
	turn := func() {
		cur.w = f.of(at)
		out = append(out, cur)
		cur, at, end = line{}, 0, bit{to: -1}
	}
	// add puts bits on the line. What is in one face is one string where it can be, so
	// that a reader copying text gets its spaces.
	add := func(bits []bit, gap int) {
		for _, b := range bits {
			n := len(cur.runs)
			switch {
			case n == 0 || cur.runs[n-1].bold != b.bold:
				cur.runs = append(cur.runs, run{text[b.from:b.to], b.bold, f.of(at + gap)})
				end = b
			case end.from >= 0 && gap == 0 && b.from == end.to, end.from >= 0 && gap > 0 && b.from == end.to+1 && text[end.to] == ' ':
				end.to = b.to
				cur.runs[n-1].text = text[end.from:end.to]
			default:
				if gap > 0 {
					cur.runs[n-1].text += " "
				}
				cur.runs[n-1].text += text[b.from:b.to]
				end.from = -1 // no longer as it stands in the text
			}
			at += gap + b.w
			gap = 0
		}
	}
	space := s.advance(f.face, " ")
	words := s.words(f.face, text)
	parted := false // what ends just now is a word that had no room on one line
	for i, wd := range words {
		together := clusterWidth(words[i:], space)
		if f.of(together) > w+1e-6 {
			together = wd.w
		}
		if wd.brk && len(out)+len(cur.runs) > 0 && !parted {
			turn()
		}
		for len(wd.bits) > 0 && f.of(wd.w) > w+1e-6 {
			if len(cur.runs) > 0 {
				turn()
			}
			head, tail := part(f, text, wd, w)
			add(head.bits, 0)
			turn()
			wd = tail
		}
		if parted = len(wd.bits) == 0; parted {
			continue
		}
		gap := 0
		if len(cur.runs) > 0 {
			gap = space
			if f.of(at+gap+together) > w+1e-6 {
				turn()
				gap = 0
			}
		}
		add(wd.bits, gap)
	}
	if len(cur.runs) > 0 || len(out) == 0 {
		turn()
	}
	return out
}

// clusterWidth is the width of the first word and those tied to it.
func clusterWidth(words []word, space int) int {
	w := words[0].w
	for _, wd := range words[1:] {
		if !wd.tied {
			break
		}
		w += space + wd.w
	}
	return w
}

// part cuts a word too long for a line after as many characters as fit, at
// least one.
func part(f font, text string, wd word, w float64) (head, tail word) {
	for i, b := range wd.bits {
		face := f.face
		if b.bold {
			face |= 1
		}
		whole := head.w
		for j, c := range text[b.from:b.to] {
			a, _ := face.Advance(c)
			if f.of(head.w+a) > w && head.w > 0 {
				if j > 0 {
					head.bits = append(head.bits, bit{b.from, b.from + j, b.bold, head.w - whole})
				}
				tail.bits = append([]bit{{b.from + j, b.to, b.bold, b.w - (head.w - whole)}}, wd.bits[i+1:]...)
				tail.w = wd.w - head.w
				return head, tail
			}
			head.w += a
		}
		head.bits = append(head.bits, b)
	}
	return head, tail
}

// wrapMax is wrap in at most n lines: type shrinks to the floor, then the last
// line ends in "…". It shrinks also for words that can to stay whole, and
// together that are tied.
func (s *sheet) wrapMax(f font, text string, w float64, n int) (font, []line) {
	for _, long := range []float64{s.longest(f, text), s.longestWord(f, text)} {
		if long <= w {
			break
		}
		if size := math.Floor(f.size*w/long*20) / 20; size >= floorSize {
			f.size = size
			break
		}
	}
	for {
		ls := s.wrap(f, text, w)
		if len(ls) <= n {
			return f, ls
		}
		if f.size > floorSize {
			f.size = max(floorSize, f.size-0.25)
			continue
		}
		ls = slices.Clone(ls[:n])
		last := &ls[n-1]
		if len(last.runs) == 0 {
			return f, ls
		}
		last.runs = slices.Clone(last.runs)
		r := &last.runs[len(last.runs)-1]
		g := f
		if r.bold {
			g = f.bold()
		}
		for r.text != "" && r.x+s.width(g, r.text+"…") > w {
			_, size := utf8.DecodeLastRuneInString(r.text)
			r.text = strings.TrimRight(r.text[:len(r.text)-size], " ")
		}
		r.text += "…"
		last.w = r.x + s.width(g, r.text)
		return f, ls
	}
}

// lines sets wrapped lines from the top y down and returns where they end.
func (s *sheet) lines(x, y, w float64, f font, grey float64, align string, ls []line) float64 {
	for _, l := range ls {
		at := x + alignment(align)*(w-l.w)
		for _, r := range l.runs {
			g := f
			if r.bold {
				g = f.bold()
			}
			s.text(at+r.x, f.base(y), g, grey, r.text)
		}
		y += f.lead()
	}
	return y
}
