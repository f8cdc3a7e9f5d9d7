package layout

import "slices"

// gap is the space between two blocks, one above the other.
func gap(above, below Block) float64 {
	switch below.(type) {
	case Space:
		return 0
	case Heading:
		if _, ok := above.(Heading); ok {
			return 2
		}
		return 5
	}
	switch above.(type) {
	case nil, Space:
		return 0
	case Heading:
		return 1.6
	case Band, goesOn:
		return 3.5
	case Para:
		if _, ok := below.(Para); ok {
			return 1.4
		}
		return 2.2
	}
	if p, ok := below.(Para); ok && p.Grey {
		return 1.2
	}
	return 3
}

// pile is blocks one above the other that stay together.
type pile []Block

func (p pile) height(s *sheet, w float64) float64 {
	var h float64
	for i, b := range p {
		if i > 0 {
			h += gap(p[i-1], b)
		}
		h += b.height(s, w)
	}
	return h
}

func (p pile) draw(s *sheet, x, y, w float64) {
	for i, b := range p {
		if i > 0 {
			y += gap(p[i-1], b)
		}
		b.draw(s, x, y, w)
		y += b.height(s, w)
	}
}

func (b Group) height(s *sheet, w float64) float64 { return pile(b.Blocks).height(s, w) }
func (b Group) draw(s *sheet, x, y, w float64)     { pile(b.Blocks).draw(s, x, y, w) }

const boxPad = 2.5

func (b Boxed) height(s *sheet, w float64) float64 {
	return pile(b.Blocks).height(s, w-2*boxPad) + 2*boxPad
}

func (b Boxed) draw(s *sheet, x, y, w float64) {
	s.rect(x, y, w, b.height(s, w), 0.2, 0.4, None)
	pile(b.Blocks).draw(s, x+boxPad, y+boxPad, w-2*boxPad)
}

const columnGutter = 6.0

func (b Columns) widths(w float64) []float64 {
	n := len(b.Cols)
	weights := make([]float64, n)
	for i := range weights {
		weights[i] = 1
		if i < len(b.Weights) && b.Weights[i] > 0 {
			weights[i] = b.Weights[i]
		}
	}
	return share(weights, make([]float64, n), w-columnGutter*float64(n-1))
}

func (b Columns) height(s *sheet, w float64) float64 {
	var h float64
	for i, cw := range b.widths(w) {
		h = max(h, pile(b.Cols[i]).height(s, cw))
	}
	return h
}

func (b Columns) draw(s *sheet, x, y, w float64) {
	for i, cw := range b.widths(w) {
		pile(b.Cols[i]).draw(s, x, y, cw)
		x += cw + columnGutter
	}
}

const cutHeight = 6.0

func (b TearOff) height(s *sheet, w float64) float64 {
	return cutHeight + max(b.Height, pile(b.Blocks).height(s, w))
}

func (b TearOff) draw(s *sheet, x, y, w float64) {
	f, t := s.fit(small.at(7), b.Cut, w/3)
	tw := s.width(f, t)
	mid := y + 1.5
	if tw > 0 {
		s.dashed(x, mid, x+6, mid, 0.25, 0.2)
		s.text(x+7.5, mid+0.35*f.mm(), f, note, t)
		s.dashed(x+9+tw, mid, x+w, mid, 0.25, 0.2)
	} else {
		s.dashed(x, mid, x+w, mid, 0.25, 0.2)
	}
	pile(b.Blocks).draw(s, x, y+cutHeight, w)
}

// goesOn heads a page on which a section continues.
type goesOn struct{ mark, title, continued string }

func (b goesOn) height(*sheet, float64) float64 { return 6 }

func (b goesOn) draw(s *sheet, x, y, w float64) {
	left := 0.0
	if b.mark != "" {
		s.rect(x, y, 6, 6, 0, 0, 0)
		f, t := s.fit(font{sansBold, 11}, b.mark, 5)
		s.text(x+3-s.width(f, t)/2, y+3+0.35*f.mm(), f, 1, t)
		left = 8
	}
	c := s.width(small, b.continued)
	f, t := s.fit(headingFont, b.title, w-left-c-3)
	s.text(x+left, y+3+0.35*f.mm(), f, 0, t)
	s.text(x+left+s.width(f, t)+2, y+3+0.35*f.mm(), small, note, b.continued)
}

// item is a block set on a page; low ones go to its foot.
type item struct {
	b      Block
	gap, h float64
	low    bool
	sec    int
	first  bool // of its section
}

func used(items []item) float64 {
	var h float64
	for _, it := range items {
		h += it.gap + it.h
	}
	return h
}

// piece is a block and how high it is, and its rows where it has some.
type piece struct {
	Block
	h    float64
	rows []float64
}

// flow puts sections on pages w wide with room for that height.
type flow struct {
	s       *sheet
	w, room float64
	on      string // "continued"
	pages   [][]item
}

// setting is a section being set.
type setting struct {
	*flow
	n   int // the section's number, from 0
	sec Section

	version  int                        // of its versions, 0 as it is, the one to set where it begins a page
	versions map[int][]Block            // shorter ones
	measured map[measuredBlocks][]piece // they are laid several times
	cuts     int                        // pages of the last lay that do not begin with a heading
}

func (f *setting) piece(b Block) piece {
	switch t := b.(type) {
	case Table:
		t.set = t.widths(f.s, f.w)
		b = t
	case PenTable:
		t.set = t.widths(f.s, f.w)
		b = t
	case Chart: // its rows are not all of its height
		if parts := t.parts(f.s, f.w); len(parts) == 1 {
			t = parts[0]
		}
		return piece{t, t.height(f.s, f.w), t.rows(f.s, f.w)}
	}
	if r, ok := b.(rowed); ok {
		rows := r.rows(f.s, f.w)
		return piece{b, sum(rows), rows}
	}
	return piece{b, b.height(f.s, f.w), nil}
}

// measuredBlocks are some of a section: the first of them, and how many.
type measuredBlocks struct {
	first *Block
	count int
}

// pieces are some blocks with their heights. Nobody may change the answer.
func (f *setting) pieces(blocks []Block) []piece {
	if len(blocks) == 0 {
		return nil
	}
	key := measuredBlocks{&blocks[0], len(blocks)}
	out, ok := f.measured[key]
	if !ok {
		for _, b := range blocks {
			out = append(out, f.piece(b))
		}
		f.measured[key] = out
	}
	return out
}

// blocks are those of a version.
func (f *setting) blocks(version int) []Block {
	if version == 0 {
		return f.sec.Blocks
	}
	if f.versions[version] == nil {
		f.versions[version] = f.sec.Shorter(version)
	}
	return f.versions[version]
}

const (
	sectionGap = 7.0
	footGap    = 4.0
	tightest   = 0.6
)

// set puts sections on pages. They are measured beside each other, which takes
// nearly all the time, then put in their order.
func (f *flow) set(sections []Section) {
	settings := make([]*setting, len(sections))
	each(len(sections), func(n int) { settings[n] = f.setting(n, sections[n]) })
	for n, section := range settings {
		section.put(n == len(sections)-1 || sections[n+1].NewPage)
	}
}

// setting begins to set a section: it finds the first of its shorter versions that
// saves a page. Mostly none does, or one of the first.
func (f *flow) setting(n int, sec Section) *setting {
	out := &setting{flow: f, n: n, sec: sec, versions: map[int][]Block{}, measured: map[measuredBlocks][]piece{}}
	pages := func(version int) int { return len(out.lay(version, f.room, f.room, tightest)) }
	whole := pages(0)
	if whole == 1 || sec.Shortest == 0 || sec.LastLeast && pages(sec.Shortest) >= whole {
		return out
	}
	for version := 1; version <= sec.Shortest; version++ {
		if pages(version) < whole {
			out.version = version
			break
		}
	}
	return out
}

// put puts a section on the current page when it fits there whole, or a shorter
// version of it does, else on new ones. alone says that no other section will fill
// up its last page.
func (f *setting) put(alone bool) {
	if !f.sec.NewPage && len(f.pages) > 0 && !f.cutOff() {
		last := len(f.pages) - 1
		left := f.room - used(f.pages[last])
		const least = 0.8
		below := func(version int, tight float64) []item {
			p := f.lay(version, left-sectionGap*tight, f.room, tight)
			if len(p) == 1 && len(p[0]) > 0 && fits(p, left-sectionGap*tight) {
				p[0][0].gap = sectionGap * tight
				return p[0]
			}
			return nil
		}
		if !f.sec.LastLeast || below(f.sec.Shortest, least) != nil {
			for version := f.version; version <= f.sec.Shortest; version++ {
				for _, tight := range []float64{1, least} {
					if p := below(version, tight); p != nil {
						f.pages[last] = append(f.pages[last], p...)
						return
					}
				}
			}
		}
	}
	// the loosest spacing that takes no more pages than the tightest
	pages := f.lay(f.version, f.room, f.room, 1)
	best := 1.0
	if len(pages) > 1 {
		least := len(f.lay(f.version, f.room, f.room, tightest))
		for _, tight := range []float64{0.85, 0.7, tightest} {
			if len(pages) <= least {
				break
			}
			pages, best = f.lay(f.version, f.room, f.room, tight), tight
		}
	}
	if n := len(pages); n > 1 && alone {
		pages = f.even(pages, best)
	}
	f.flow.pages = append(f.pages, pages...)
}

// cutOff reports whether the current page ends in a tag to be cut off, below
// which nothing may stand.
func (f *flow) cutOff() bool {
	page := f.pages[len(f.pages)-1]
	if len(page) == 0 {
		return false
	}
	_, ok := page[len(page)-1].b.(TearOff)
	return ok
}

// even turns pages a little earlier where that does the section good without
// taking more of them: so that its last page is not nearly empty, and that less
// is parted from its heading.
func (f *setting) even(pages [][]item, tight float64) [][]item {
	n := len(pages)
	bare := func(p [][]item) bool { return used(p[n-1]) < 0.28*f.room }
	f.lay(f.version, f.room, f.room, tight)
	cuts, poor := f.cuts, bare(pages)
	if cuts == 0 && !poor {
		return pages
	}
	for share := 0.96; share > 0.4; share -= 0.04 {
		p := f.lay(f.version, share*f.room, share*f.room, tight)
		if len(p) != n || !fits(p, f.room) {
			break
		}
		for _, q := range p[:n-1] {
			if used(q) < 0.4*f.room {
				return pages
			}
		}
		if better := poor && !bare(p); better || f.cuts < cuts && bare(p) == poor {
			pages, cuts, poor = p, f.cuts, bare(p)
		}
	}
	return pages
}

func fits(pages [][]item, room float64) bool {
	for _, p := range pages {
		if used(p) > room+1e-6 {
			return false
		}
	}
	return true
}

// lay sets a version of the section on pages, the first with the room given for it. It never
// leaves a heading without what it heads, nor a foot without the block before
// it. A block taller than a page stands over its edge and is refused by check.
func (f *setting) lay(version int, first, room, tight float64) [][]item {
	f.cuts = 0
	queue := slices.Clone(f.pieces(f.blocks(version)))
	var low []piece
	if k := len(queue); k > 0 {
		if _, ok := queue[k-1].Block.(TearOff); ok {
			low, queue = queue[k-1:], queue[:k-1]
		}
	}
	if f.sec.Foot != nil {
		low = append([]piece{f.piece(f.sec.Foot)}, low...)
	}
	footH := 0.0
	for _, b := range low {
		footH += footGap*tight + b.h
	}
	var head *goesOn
	if len(queue) > 0 {
		if b, ok := queue[0].Block.(Band); ok {
			head = &goesOn{b.Mark, b.Title, f.on}
		}
	}
	pages := [][]item{nil}
	avail := first
	at := 0.0
	empty := true // nothing but the continuation line on this page
	var above Block
	turn := func() {
		if len(queue) > 0 {
			if _, ok := queue[0].Block.(Heading); !ok {
				f.cuts++
			}
		}
		pages = append(pages, nil)
		avail, at, above, empty = room, 0, nil, true
		if head != nil {
			h := head.height(f.s, f.w)
			pages[len(pages)-1] = []item{{b: *head, h: h, sec: f.n}}
			at, above = h, *head
		}
	}
	put := func(b piece) {
		g := 0.0
		if above != nil {
			g = gap(above, b.Block) * tight
		}
		last := len(pages) - 1
		pages[last] = append(pages[last], item{b: b.Block, gap: g, h: b.h, sec: f.n, first: last == 0 && empty})
		at += g + b.h
		above, empty = b.Block, false
	}
	for len(queue) > 0 {
		b, h := queue[0].Block, queue[0].h
		g := 0.0
		if above != nil {
			g = gap(above, b) * tight
		}
		tail := 0.0
		if len(queue) == 1 {
			tail = footH
		}
		if _, ok := b.(Heading); ok {
			if at+g+f.need(queue, tight, footH) > avail+1e-6 && !empty {
				turn()
				continue
			}
			put(queue[0])
			queue = queue[1:]
			continue
		}
		if at+g+h+tail <= avail+1e-6 {
			put(queue[0])
			queue = queue[1:]
			continue
		}
		if c, ok := b.(Chart); ok {
			if parts := c.parts(f.s, f.w); len(parts) > 1 {
				var bs []piece
				for _, p := range parts {
					bs = append(bs, f.piece(p))
				}
				queue = append(bs, queue[1:]...)
				continue
			}
		}
		if r, ok := b.(rowed); ok {
			if k, of := rowsFor(r, queue[0].rows, avail-at-g, avail-at-g-tail); k > 0 && (k < of || tail == 0) {
				put(f.piece(r.part(f.s, f.w, 0, k)))
				queue[0] = f.piece(r.part(f.s, f.w, k, of))
				turn()
				continue
			}
		}
		if !empty && !f.heads(pages[len(pages)-1]) {
			turn()
			continue
		}
		if grp, ok := b.(Group); ok && len(grp.Blocks) > 0 {
			queue = append(slices.Clone(f.pieces(grp.Blocks)), queue[1:]...)
			continue
		}
		put(queue[0])
		queue = queue[1:]
	}
	if len(low) > 0 && at+footH > avail+1e-6 && !empty {
		turn()
	}
	for _, b := range low {
		g := footGap * tight
		if above == nil {
			g = 0
		}
		last := len(pages) - 1
		pages[last] = append(pages[last], item{b: b.Block, gap: g, h: b.h, low: true, sec: f.n, first: last == 0 && empty})
		above, empty = b.Block, false
	}
	return pages
}

// heads reports whether nothing but headings is on a page: to turn it would
// gain nothing.
func (f *setting) heads(items []item) bool {
	for _, it := range items {
		switch it.b.(type) {
		case Heading, goesOn:
		default:
			return false
		}
	}
	return true
}

// need is the height a heading wants: itself and the beginning of what it
// heads.
func (f *setting) need(queue []piece, tight, footH float64) float64 {
	h := queue[0].h
	if len(queue) == 1 {
		return h + footH
	}
	h += gap(queue[0].Block, queue[1].Block) * tight
	if leads(queue[1:]) {
		return h + f.need(queue[1:], tight, footH)
	}
	b := queue[1]
	if c, ok := b.Block.(Chart); ok {
		if parts := c.parts(f.s, f.w); len(parts) > 1 {
			b = f.piece(parts[0])
		}
	}
	whole := true // what the heading wants is all of the block
	if r, ok := b.Block.(rowed); ok {
		n := firstBreak(r, len(b.rows))
		whole = n == len(b.rows)
		h += sum(b.rows[:n])
	} else {
		h += b.h
	}
	if whole && len(queue) == 2 {
		h += footH
	}
	return h
}

// leads reports whether the first of some blocks belongs to the one after it: a
// heading, or a note under a heading.
func leads(queue []piece) bool {
	switch b := queue[0].Block.(type) {
	case Heading:
		return true
	case Para:
		if b.Grey && len(queue) > 1 {
			_, heading := queue[1].Block.(Heading)
			return !heading
		}
	}
	return false
}

// splits reports whether a block of so many rows may break after n of them: no
// row of a table, a list or running text is left alone, and no entry parted.
func splits(b rowed, n, of int) bool {
	switch b := b.(type) {
	case Findings:
		return true
	case PenTable:
		if b.Rows[n-1].Keep {
			return false
		}
	}
	return n >= 2 && n < of-1
}

// firstBreak is how many rows of a block a heading wants under it.
func firstBreak(b rowed, of int) int {
	n := min(2, of)
	if _, ok := b.(Findings); ok {
		n = min(1, of)
	}
	for n < of && !splits(b, n, of) {
		n++
	}
	return n
}

// rowsFor is how many of a block's rows, so high, to set in room. All of them only when
// they fit in last, which leaves room for the foot.
func rowsFor(b rowed, rows []float64, room, last float64) (n, of int) {
	of = len(rows)
	h := 0.0
	for n < of && h+rows[n] <= room+1e-6 {
		h += rows[n]
		n++
	}
	if n == of && h > last+1e-6 {
		n--
	}
	for n > 0 && n < of && !splits(b, n, of) {
		n--
	}
	return n, of
}

// check refuses what is taller than a page.
func (f *flow) check(sections []Section) {
	for _, p := range f.pages {
		if h := used(p); h > f.room+0.01 {
			it := p[0]
			for _, o := range p {
				if o.h > it.h {
					it = o
				}
			}
			f.s.fail("section %q: a %s is %.0f mm high and a page has room for %.0f mm; split it", sections[it.sec].Key, name(it.b), it.h, f.room)
		}
	}
}

// settle gives the y of each item of a page: what is low goes to the foot, and
// a little of the room left over goes between the blocks.
func (f *flow) settle(items []item, top float64) []float64 {
	slack := f.room - used(items)
	foot := len(items) // where the low ones at the end begin
	for foot > 0 && items[foot-1].low {
		foot--
	}
	spread := slack
	if foot < len(items) {
		spread *= 0.6
	}
	extra := make([]float64, len(items))
	var want float64
	for i := 1; i < foot; i++ {
		if _, ok := items[i-1].b.(Heading); !ok {
			extra[i] = min(0.8*items[i].gap, 3.5)
			want += extra[i]
		}
	}
	scale := 0.0
	if want > 0 && spread > 0 {
		scale = min(1, spread/want)
	}
	ys := make([]float64, len(items))
	y := top
	for i, it := range items {
		if i == foot {
			rest := 0.0
			for _, l := range items[foot:] {
				rest += l.gap + l.h
			}
			y = top + f.room - rest
		}
		y += it.gap + extra[i]*scale
		ys[i] = y
		y += it.h
	}
	return ys
}
