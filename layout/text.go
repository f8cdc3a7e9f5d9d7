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
func (f font) base(y float64) float64 { return y + f.lead()/2 + 0.35*f.mm() }

// width is the length of text on one line, mm.
func (s *sheet) width(f font, text string) float64 {
	s.measure(f.face)
	sum := 0
	for _, r := range text {
		a, has := f.face.Advance(r)
		if !has && !s.known(text) {
			return 0
		}
		sum += a
	}
	return float64(sum) / 1000 * f.mm()
}

// text sets one line as it is, its baseline at y.
func (s *sheet) text(x, y float64, f font, grey float64, text string) {
	text = flat(text)
	if text == "" || !s.known(text) {
		return
	}
	s.use(f)
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

// word is what is not parted at the end of a line.
type word struct {
	runs []run
	w    float64
	brk  bool // a new line before it
	tied bool // it stays with the word before it where the line is wide enough
}

// text is a word as one string.
func (wd word) text() string {
	var out strings.Builder
	for _, r := range wd.runs {
		out.WriteString(r.text)
	}
	return out.String()
}

// set is a text as it is to be set: in a width, or in words, 0.
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
func (s *sheet) words(f font, text string) []word {
	key := set{f, text, 0}
	return kept(&s.lock, s.parted, key, func() []word { return s.partWords(f, text) })
}

func (s *sheet) partWords(f font, text string) []word {
	var out []word
	var cur word
	bold := f.face&1 == 1
	open := bold
	end := func() {
		if len(cur.runs) > 0 {
			out = append(out, cur)
			cur = word{}
		}
	}
	from := 0 // where the piece begins that is open
	flush := func(to int) {
		if from == to {
			return
		}
		r := run{text: text[from:to], bold: open, x: cur.w}
		g := f
		if open {
			g = f.bold()
		}
		cur.w += s.width(g, r.text)
		cur.runs = append(cur.runs, r)
	}
	for i := 0; i < len(text); {
		if strings.HasPrefix(text[i:], "**") {
			flush(i)
			open = !open || bold
			i += 2
			from = i
			continue
		}
		r, n := utf8.DecodeRuneInString(text[i:])
		switch r {
		case '\n', ' ', '\t', '\r':
			flush(i)
			end()
			from = i + n
			cur.brk = cur.brk || r == '\n'
		}
		i += n
	}
	flush(len(text))
	end()
	tie(out)
	return out
}

// shortFormula is how many words and signs in brackets stay on one line.
const shortFormula = 7

// tie keeps together what is read as one: a figure and its unit, a sign of
// arithmetic and what follows it, a range, a short formula in brackets.
func tie(ws []word) {
	texts := make([]string, len(ws))
	for i, wd := range ws {
		texts[i] = wd.text()
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
	var last strings.Builder // the text of the last run of cur
	end := func() {
		if n := len(cur.runs); n > 0 {
			cur.runs[n-1].text = last.String()
			last = strings.Builder{}
		}
	}
	turn := func() {
		end()
		out = append(out, cur)
		cur = line{}
	}
	space := s.width(f, " ")
	words := s.words(f, text)
	for i, wd := range words {
		together := clusterWidth(words[i:], space)
		if together > w+1e-6 {
			together = wd.w
		}
		if wd.brk && len(out)+len(cur.runs) > 0 {
			turn()
		}
		for wd.w > w+1e-6 {
			if len(cur.runs) > 0 {
				turn()
			}
			head, tail := s.part(f, wd, w)
			out = append(out, line{runs: head.runs, w: head.w})
			wd = tail
			if len(wd.runs) == 0 {
				break
			}
		}
		if len(wd.runs) == 0 {
			continue
		}
		gap := 0.0
		if len(cur.runs) > 0 {
			gap = space
			if cur.w+gap+together > w+1e-6 {
				turn()
				gap = 0
			}
		}
		for _, r := range wd.runs {
			if n := len(cur.runs); n > 0 && cur.runs[n-1].bold == r.bold {
				// one string to the line where it can be, so that a reader
				// copying text gets its spaces
				if gap > 0 {
					last.WriteByte(' ')
					gap, cur.w = 0, cur.w+gap
				}
			} else {
				cur.w += gap
				gap = 0
				end()
				cur.runs = append(cur.runs, run{bold: r.bold, x: cur.w})
			}
			last.WriteString(r.text)
			g := f
			if r.bold {
				g = f.bold()
			}
			cur.w += s.width(g, r.text)
		}
	}
	if len(cur.runs) > 0 || len(out) == 0 {
		turn()
	}
	return out
}

// clusterWidth is the width of the first word and those tied to it.
func clusterWidth(words []word, space float64) float64 {
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
func (s *sheet) part(f font, wd word, w float64) (head, tail word) {
	for i, r := range wd.runs {
		g := f
		if r.bold {
			g = f.bold()
		}
		for j, c := range r.text {
			a := s.width(g, string(c))
			if head.w+a > w && head.w > 0 {
				if j > 0 {
					head.runs = append(head.runs, run{r.text[:j], r.bold, head.w - s.width(g, r.text[:j])})
				}
				tail.runs = append([]run{{text: r.text[j:], bold: r.bold}}, wd.runs[i+1:]...)
				for _, t := range tail.runs {
					h := f
					if t.bold {
						h = f.bold()
					}
					tail.w += s.width(h, t.text)
				}
				return head, tail
			}
			head.w += a
		}
		head.runs = append(head.runs, run{r.text, r.bold, head.w - s.width(g, r.text)})
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
