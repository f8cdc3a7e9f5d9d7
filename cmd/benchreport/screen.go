package main

import (
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"github.com/gdamore/tcell/v2"

	"shimcard/packet"
	"shimcard/packet/words"
)

// screen is the typing screen: a page of the packet with its boxes where they
// are on paper, and below it the box in hand.
type screen struct {
	*desk
	words.Printer
	term  tcell.Screen
	pages map[int][]int // places of each page
	last  int           // page

	line   []rune // what is being typed
	cursor int
	said   string // of what was done last

	asked  string       // a question other than the box's own, "" none
	answer func(string) // what its answer does

	doubts []packet.Doubt // of held, which waits for a key
	held   string
	then   func() // where to go once held is accepted

	looked *packet.Readings // that stand are the doubts of
	stand  []packet.Doubt

	grid grid
	of   [3]int // page and size that the grid is for
	top  int    // line of the grid at the top of the screen

	over bool
	err  error // that ended it
}

const (
	leastCols, leastLines = 80, 24

	head = 1 // lines above the page
	foot = 6 // and below it
)

var (
	plain  = tcell.StyleDefault
	strong = tcell.StyleDefault.Bold(true)
	turned = tcell.StyleDefault.Reverse(true)
)

// ascii stands for what a terminal without UTF-8 lacks.
var ascii = map[rune]string{
	'°': "o", '²': "2", '³': "3", '·': ".", '−': "-", '–': "-", '…': "~", '×': "x", '÷': "/", '±': "+", '≠': "#",
	'ä': "a", 'ö': "o", 'ü': "u", 'Ä': "A", 'Ö': "O", 'Ü': "U", 'ß': "s", '↑': "^", '↓': "v", '←': "<", '→': ">",
}

// run shows the screen until it is left. It begins at the box after the one
// typed last.
func (s *screen) run() error {
	if err := s.term.Init(); err != nil {
		return err
	}
	defer s.term.Fini()
	for r, text := range ascii {
		s.term.RegisterRuneFallback(r, text)
	}
	stop := make(chan os.Signal, 1)
	signal.Notify(stop, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGINT)
	defer signal.Stop(stop)
	events, quit := make(chan tcell.Event), make(chan struct{})
	defer close(quit)
	go s.term.ChannelEvents(events, quit)
	for !s.over {
		s.draw()
		select {
		case <-stop:
			s.over = true
		case event := <-events:
			switch ev := event.(type) {
			case nil: // the terminal is gone
				s.over = true
			case *tcell.EventError:
				s.over, s.err = true, ev
			case *tcell.EventResize:
				s.term.Sync()
			case *tcell.EventKey:
				s.key(ev)
			}
		}
	}
	return s.err
}

// key does what a key asks for.
func (s *screen) key(ev *tcell.EventKey) {
	k := ev.Key()
	switch {
	case k == tcell.KeyCtrlC || k == tcell.KeyCtrlX:
		s.over = true
	case len(s.doubts) > 0:
		s.decide(ev)
	case s.edit(ev):
	case s.asked != "":
		s.reply(k)
	default:
		s.command(k)
	}
}

// edit changes the line being typed, and reports whether the key was for that.
func (s *screen) edit(ev *tcell.EventKey) bool {
	switch k := ev.Key(); {
	case k == tcell.KeyRune:
		if s.cursor == 0 && len(s.line) == 0 && ev.Rune() == '/' && s.asked == "" && s.box().Kind != packet.Text {
			s.step(-1) // the back of a numeric pad
			return true
		}
		s.said = ""
		s.line = slices.Insert(s.line, s.cursor, ev.Rune())
		s.cursor++
	case len(s.line) == 0:
		return false
	case k == tcell.KeyBackspace || k == tcell.KeyBackspace2:
		if s.cursor > 0 {
			s.line = slices.Delete(s.line, s.cursor-1, s.cursor)
			s.cursor--
		}
	case k == tcell.KeyDelete:
		if s.cursor < len(s.line) {
			s.line = slices.Delete(s.line, s.cursor, s.cursor+1)
		}
	case k == tcell.KeyLeft:
		s.cursor = max(0, s.cursor-1)
	case k == tcell.KeyRight:
		s.cursor = min(len(s.line), s.cursor+1)
	case k == tcell.KeyHome:
		s.cursor = 0
	case k == tcell.KeyEnd:
		s.cursor = len(s.line)
	case k == tcell.KeyEsc && s.asked == "":
		s.clear()
	default:
		return false
	}
	return true
}

func (s *screen) clear() { s.line, s.cursor = nil, 0 }

// typed is the line, taken away.
func (s *screen) typed() string {
	text := strings.TrimSpace(string(s.line))
	s.clear()
	return text
}

// ask puts a question in place of the box's own.
func (s *screen) ask(question string, answer func(string)) {
	s.clear()
	s.asked, s.answer = question, answer
}

func (s *screen) reply(k tcell.Key) {
	switch k {
	case tcell.KeyEnter:
		answer := s.answer
		s.asked, s.answer = "", nil
		answer(s.typed())
	case tcell.KeyEsc:
		s.asked, s.answer = "", nil
		s.clear()
	}
}

// command is a key while a box is being typed.
func (s *screen) command(k tcell.Key) {
	b := s.box()
	next := func() { s.step(1) }
	// A figure typed is accepted whichever way the hand goes on.
	move := func(to func()) {
		if len(s.line) > 0 {
			s.accept(s.typed(), to)
			return
		}
		s.said = ""
		to()
	}
	differs, settling := s.differ[b.Code]
	switch {
	case settling && k == tcell.KeyUp:
		s.line, s.cursor = []rune(differs.First), runes(differs.First)
		return
	case settling && k == tcell.KeyDown:
		s.line, s.cursor = []rune(differs.Second), runes(differs.Second)
		return
	}
	switch k {
	case tcell.KeyEnter:
		if len(s.line) == 0 && b.Kind == packet.Date && s.typing.Raw(b) == "" && s.lastDate() != "" {
			s.accept(s.lastDate(), next)
			return
		}
		move(next)
	case tcell.KeyTab:
		move(next)
	case tcell.KeyBacktab, tcell.KeyBackspace:
		move(func() { s.step(-1) })
	case tcell.KeyUp:
		move(func() { s.vertical(-1) })
	case tcell.KeyDown:
		move(func() { s.vertical(1) })
	case tcell.KeyLeft:
		move(func() { s.sideways(-1) })
	case tcell.KeyRight:
		move(func() { s.sideways(1) })
	case tcell.KeyPgUp:
		move(func() { s.page(-1) })
	case tcell.KeyPgDn:
		move(func() { s.page(1) })
	case tcell.KeyCtrlG:
		s.ask(s.T("go to box (Enter: the next blank one)"), s.jump)
	case tcell.KeyCtrlN:
		s.accept("("+s.T("not measured")+")", next)
	case tcell.KeyCtrlU:
		s.accept("("+s.T("illegible")+")", next)
	case tcell.KeyCtrlR:
		value := s.typed()
		if value == "" {
			value, _, _ = strings.Cut(s.typing.Raw(b), "(")
		}
		s.ask(s.T("remark on %s", b.Code), func(remark string) {
			if remark == "" {
				return
			}
			s.accept(strings.TrimSpace(value+" ("+strings.NewReplacer("(", "[", ")", "]").Replace(remark)+")"), next)
		})
	case tcell.KeyCtrlE:
		s.line = []rune(s.typing.Raw(b))
		s.cursor = len(s.line)
	case tcell.KeyCtrlD, tcell.KeyDelete:
		if s.typing.Raw(b) != "" {
			s.accept("", func() {})
		}
	}
}

// accept checks what was typed for the box in hand and puts it there.
func (s *screen) accept(text string, then func()) {
	s.clear() // of what ^N and ^U leave half typed, nothing goes into the next box
	text = s.meant(text)
	if s.doubts = s.typing.Check(s.box(), text); len(s.doubts) > 0 {
		s.held, s.then = text, then
		_ = s.term.Beep()
		return
	}
	s.put(text, then)
}

// put has the text on disk; of a value that replaces another it asks why.
func (s *screen) put(text string, then func()) {
	b := s.box()
	write := func(why string) {
		if err := s.write(b, text, why); err != nil {
			s.failed(text, err)
			return
		}
		s.said = ""
		then()
	}
	old := s.typing.Raw(b)
	if old == "" || strings.TrimSuffix(text, " !") == old || s.differ != nil {
		write("")
		return
	}
	usual := s.T("typing slip")
	s.ask(s.T("%s was %s. Why changed? (Enter: %s)", b.Code, old, usual), func(why string) {
		if why == "" {
			why = usual
		}
		write(why)
	})
}

// failed says why a value could not be written, and leaves it to be tried again.
func (s *screen) failed(text string, err error) {
	s.said = s.T("Not kept: %s", strings.Join(strings.Fields(err.Error()), " "))
	s.line = []rune(text)
	s.cursor = len(s.line)
	_ = s.term.Beep()
}

// decide is a key while a doubt is shown.
func (s *screen) decide(ev *tcell.EventKey) {
	text, then, doubts := s.held, s.then, s.doubts
	forget := func() { s.doubts, s.held, s.then = nil, "", nil }
	switch k := ev.Key(); {
	case k == tcell.KeyRune && (ev.Rune() == '!' || ev.Rune() == '*') && confirmable(doubts):
		forget()
		confirmed, err := s.confirm(text, doubts)
		if err != nil {
			s.failed(text, err)
			return
		}
		s.put(confirmed, then)
	case k == tcell.KeyRune && ev.Rune() == '+' && s.instead() != "":
		other := s.instead()
		forget()
		s.accept(other, then)
	case k == tcell.KeyRune && ev.Rune() == '/' && s.other() != nil:
		other := s.find(s.other().Code)
		forget()
		s.put(text, func() { s.goTo(other) }) // it is not to blame
	case k == tcell.KeyEsc || k == tcell.KeyBackspace || k == tcell.KeyBackspace2 || k == tcell.KeyLeft:
		forget()
		s.line = []rune(text)
		s.cursor = len(s.line)
	case k == tcell.KeyRune && ev.Rune() >= '0' && ev.Rune() <= '9':
		forget()
		s.line, s.cursor = []rune{ev.Rune()}, 1
	case k == tcell.KeyCtrlG: // to look at what it rests on
		forget()
		s.command(k)
	default:
		_ = s.term.Beep()
	}
}

// instead is what one key puts in the place of what was typed.
func (s *screen) instead() string {
	for _, d := range s.doubts {
		if d.Instead != "" && d.Box == s.box() {
			return d.Instead
		}
	}
	return ""
}

// other is the box to look at when the one in hand is not to blame; nil when it is.
func (s *screen) other() *packet.Box {
	for _, d := range s.doubts {
		if d.Box == s.box() {
			return nil
		}
	}
	return s.doubts[0].Box
}

// step goes on in the order of the form.
func (s *screen) step(by int) {
	left := s.box()
	to, ok := s.next(by)
	switch {
	case !ok && s.differ != nil:
		s.over = len(s.differ) == 0
	case !ok && by < 0:
		s.said = s.T("This is the first box.")
	case !ok:
		s.said = s.T("This was the last box. ^X ends.")
	default:
		s.goTo(to)
		if by > 0 && left.Required && s.typing.Raw(left) == "" {
			for _, d := range s.typing.Check(left, "") {
				s.said = left.Code + ": " + d.Reason
				_ = s.term.Beep()
			}
		}
	}
}

func (s *screen) goTo(to int) {
	if was, is := s.places[s.at].Page, s.places[to].Page; was != is {
		s.said = s.T("Next sheet: page %d.", is)
		if is < was {
			s.said = s.T("Back on page %d.", is)
		}
	}
	s.at = to
}

// jump goes to the box of a code; without one, to the next that is blank and not
// worked out.
func (s *screen) jump(code string) {
	for i := s.at + 1; code == "" && i < len(s.places); i++ {
		if b := s.places[i].Box; b.From == nil && s.typing.Raw(b) == "" {
			s.goTo(i)
			return
		}
	}
	for i, p := range s.places {
		if strings.EqualFold(p.Box.Code, code) {
			s.goTo(i)
			return
		}
	}
	if code != "" {
		s.said = s.T("There is no box %s in this job.", code)
		_ = s.term.Beep()
	}
}

// page goes to the first box of a page before or after.
func (s *screen) page(by int) {
	for n := s.places[s.at].Page + by; n >= 1 && n <= s.last; n += by {
		if boxes := s.pages[n]; len(boxes) > 0 {
			s.goTo(boxes[0])
			return
		}
	}
}

// here is the cell of the box in hand.
func (s *screen) here() cell {
	for _, c := range s.grid.cells {
		if c.at == s.at {
			return c
		}
	}
	return cell{}
}

// vertical goes to the nearest box of the line above or below.
func (s *screen) vertical(by int) {
	from := s.here()
	best, found := cell{}, false
	distance := func(c cell) int {
		return 1000*by*(c.line-from.line) + max(0, c.x-from.x-from.w, from.x-c.x-c.w)*10 + abs(c.x-from.x)
	}
	for _, c := range s.grid.cells {
		if by*(c.line-from.line) > 0 && (!found || distance(c) < distance(best)) {
			best, found = c, true
		}
	}
	if found {
		s.goTo(best.at)
		return
	}
	edge := -1 // on the next page its first box, on the one before its last
	for i, p := range s.places {
		if by > 0 && edge < 0 && p.Page > s.places[s.at].Page || by < 0 && p.Page < s.places[s.at].Page {
			edge = i
		}
	}
	if edge >= 0 {
		s.goTo(edge)
	}
}

func abs(n int) int { return max(n, -n) }

// sideways goes to the neighbour in the line, and at its end on in the order of
// the form.
func (s *screen) sideways(by int) {
	from := s.here()
	best, found := cell{}, false
	for _, c := range s.grid.cells {
		if c.line == from.line && by*(c.x-from.x) > 0 && (!found || by*(c.x-best.x) < 0) {
			best, found = c, true
		}
	}
	if found {
		s.goTo(best.at)
		return
	}
	s.step(by)
}
