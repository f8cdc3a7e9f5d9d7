package calc

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Question is one dimension to restore with shims from a tray.
type Question struct {
	Measured          Length // the dimension as it is now, with Present fitted
	Present           Length // total thickness now fitted in one place
	Target, Low, High Length
	Effect            float64  // change of the dimension for +1 of shim in each place; not zero, within ±10
	Uncertainty       Length   // expanded (95 %), of the dimension as predicted; 0 when unknown
	Places            int      // equal stacks, 1 or more: a stack needs each of its shims once per place
	MostPerPlace      int      // most shims in one stack, 1 to 8
	Tray              []Length // sizes, in any order
	Stock             []int    // how many of each size of the tray; nil when there is no shortage
	Out               []Length // shims already taken out, one by one: in hand besides the stock
	Prescribed        Length   // a shim that must be fitted besides the stack; Present and Pick.Total include it
}

// Pick is one stack and what it would do.
type Pick struct {
	Stack     []Length // for one place, thickest first, without the prescribed shim
	Total     Length   // with the prescribed shim
	Predicted Length   // the dimension once it is fitted
	Margin    Length   // from Predicted to the nearer limit, less Uncertainty; negative when not surely inside
	Inside    bool     // Predicted lies within [Low, High]
}

// Answer is what PickShims found.
type Answer struct {
	Keep    bool   // as measured it lies inside both limits by at least Uncertainty: nothing need change
	Wanted  Length // Present + (Target − Measured)/Effect, for one place with the prescribed shim
	Best    Pick   // the zero Pick when there is not one stack to be had
	Others  []Pick // runners-up, at most 4, in order
	Reaches bool   // Best.Inside
	Miss    Length // when not Reaches: by how much Best misses the nearer limit
	Size    Length // when not Reaches: the total that would hit the target; not above zero when no shim can
}

// The bounds within which an answer is exact and soon there.
const (
	longest   = 1000 * Millimetre
	mostSizes = 10_000
	mostHalf  = 250_000    // half stacks that are kept
	mostSteps = 20_000_000 // pairs of half stacks that are looked at
	picks     = 5          // the best and its runners-up
	deepest   = 8          // shims in a stack
	plenty    = math.MaxInt32
)

// PickShims finds the stack of shims that restores a dimension: exactly, over
// every stack the tray and the stock allow. Stacks are preferred in this order:
//
//  1. widest margin inside the limits (where they are symmetrical about the
//     target, that is nearest to it);
//  2. nearest to the target;
//  3. fewest shims;
//  4. most shims from those already taken out;
//  5. the scarcest size of the stack least scarce in the tray's stock;
//  6. thickest first shim, then second, and so on.
//
// The empty stack counts only beside a prescribed shim. Where so many stacks
// are possible that the best cannot be found for sure in a bounded time,
// PickShims returns an error rather than a guess.
func PickShims(q Question) (Answer, error) {
	p, err := newPicker(q)
	if err != nil {
		return Answer{}, err
	}
	return p.pick(q)
}

// picker holds what stays the same from one measured value to the next: the
// tray in order, and the half stacks whose sums are put together.
type picker struct {
	size   []Length // ascending
	avail  []int    // stacks that could each hold one; nil when there is no shortage
	stock  []int    // in the tray; nil when there is no shortage
	out    []int    // already taken out, nil when none are
	places int
	halves [deepest/2 + 1][]half // by number of shims, ascending by sum
}

// half is a stack of up to half the shims, thickest first.
type half struct {
	sum Length
	at  [deepest / 2]int16 // places in picker.size
}

// checkLength says of a length over a metre, in a sentence that takes it,
// that it is.
func checkLength(sentence string, l Length) error {
	if l.abs() > longest || l == math.MinInt64 {
		return errorf("shims", sentence, Quantity{l.In(MM), MM})
	}
	return nil
}

func (q *Question) check() error {
	for _, err := range []error{
		checkLength("the measured dimension is %s, over a metre; look at its unit", q.Measured),
		checkLength("the present shim is %s, over a metre; look at its unit", q.Present),
		checkLength("the target is %s, over a metre; look at its unit", q.Target),
		checkLength("the low limit is %s, over a metre; look at its unit", q.Low),
		checkLength("the high limit is %s, over a metre; look at its unit", q.High),
		checkLength("the uncertainty is %s, over a metre; look at its unit", q.Uncertainty),
		checkLength("the prescribed shim is %s, over a metre; look at its unit", q.Prescribed),
	} {
		if err != nil {
			return err
		}
	}
	f := func(l Length) string { return l.Fixed(MM, 4) + " mm" }
	switch {
	case q.Low > q.High:
		return fmt.Errorf("shims: the low limit %s is above the high limit %s", f(q.Low), f(q.High))
	case q.Target < q.Low || q.Target > q.High:
		return fmt.Errorf("shims: the target %s is outside its limits %s to %s", f(q.Target), f(q.Low), f(q.High))
	case q.Present < 0:
		return errorf("shims", "the present shim is %s; write its thickness, or 0 for none", Quantity{q.Present.In(MM), MM})
	case q.Uncertainty < 0:
		return fmt.Errorf("shims: the uncertainty is %s, below zero", f(q.Uncertainty))
	case q.Prescribed < 0:
		return fmt.Errorf("shims: the prescribed shim is %s, below zero", f(q.Prescribed))
	case math.IsNaN(q.Effect) || q.Effect == 0 || math.Abs(q.Effect) > 10:
		return fmt.Errorf("shims: effect %v; write the change of the dimension for +1 of shim, not zero and within ±10", q.Effect)
	case math.Abs(q.Effect) < 1e-3:
		return fmt.Errorf("shims: effect %v is so small that shims cannot set the dimension", q.Effect)
	}
	return nil
}

func newPicker(q Question) (*picker, error) {
	if err := q.check(); err != nil {
		return nil, err
	}
	switch {
	case q.Places < 1 || q.Places > deepest:
		return nil, fmt.Errorf("shims: %d places; 1 to %d are possible", q.Places, deepest)
	case q.MostPerPlace < 1 || q.MostPerPlace > deepest:
		return nil, fmt.Errorf("shims: at most %d in one place; 1 to %d are possible", q.MostPerPlace, deepest)
	case len(q.Tray) == 0:
		return nil, fmt.Errorf("shims: the tray has no sizes")
	case len(q.Tray) > mostSizes || len(q.Out) > mostSizes:
		return nil, fmt.Errorf("shims: %d sizes and %d taken out; at most %d of each are possible", len(q.Tray), len(q.Out), mostSizes)
	case q.Stock != nil && len(q.Stock) != len(q.Tray):
		return nil, fmt.Errorf("shims: %d sizes but stock for %d; give one count for each size", len(q.Tray), len(q.Stock))
	}
	type bin struct {
		size       Length
		stock, out int
		inTray     bool
	}
	bins := make([]bin, 0, len(q.Tray)+len(q.Out))
	for i, s := range q.Tray {
		b := bin{size: s, inTray: true}
		if q.Stock != nil {
			if b.stock = min(q.Stock[i], plenty); b.stock < 0 {
				return nil, fmt.Errorf("shims: the stock of %s mm is %d, below zero", s.Fixed(MM, 4), b.stock)
			}
		}
		bins = append(bins, b)
	}
	for _, s := range q.Out {
		bins = append(bins, bin{size: s, out: 1})
	}
	slices.SortFunc(bins, func(a, b bin) int { return cmp.Compare(a.size, b.size) })
	merged := bins[:0]
	for _, b := range bins {
		if b.size <= 0 {
			return nil, fmt.Errorf("shims: a size of %s mm is not above zero", b.size.Fixed(MM, 4))
		}
		if err := checkLength("a size is %s, over a metre; look at its unit", b.size); err != nil {
			return nil, err
		}
		if n := len(merged); n > 0 && merged[n-1].size == b.size {
			m := &merged[n-1]
			if m.inTray && b.inTray {
				return nil, fmt.Errorf("shims: the size %s mm is in the tray twice", b.size.Fixed(MM, 4))
			}
			m.inTray = m.inTray || b.inTray
			m.stock += b.stock
			m.out += b.out
			continue
		}
		merged = append(merged, b)
	}
	p := &picker{places: q.Places}
	short := q.Stock != nil
	for _, b := range merged {
		short = short || !b.inTray
	}
	for _, b := range merged {
		n := deepest
		switch {
		case b.inTray && q.Stock == nil:
			b.stock = plenty
		default:
			n = (b.stock + b.out) / q.Places
		}
		if n == 0 {
			continue
		}
		p.size = append(p.size, b.size)
		if short {
			p.avail = append(p.avail, n)
			p.stock = append(p.stock, b.stock)
		}
		if q.Out != nil {
			p.out = append(p.out, b.out)
		}
	}
	p.halves[0] = []half{{}}
	return p, nil
}

// half returns every half stack of n shims that the stock allows.
func (p *picker) half(n int) ([]half, error) {
	if p.halves[n] != nil {
		return p.halves[n], nil
	}
	count := 1
	for i := range n { // C(sizes + n − 1, n), which stays whole at every step
		count = count * (len(p.size) + i) / (i + 1)
		if count > mostHalf {
			return nil, errorf("shims", "%d sizes allow too many stacks to be sure of the best; allow fewer shims in one place, or fewer sizes", len(p.size))
		}
	}
	list := make([]half, 0, count)
	var h half
	var add func(k, most int)
	add = func(k, most int) {
		if k == n {
			list = append(list, h)
			return
		}
		for i := range most + 1 {
			// Thickest first, so a repeat follows its like.
			if p.avail != nil && k >= p.avail[i] && h.at[k-p.avail[i]] == int16(i) {
				continue
			}
			h.at[k] = int16(i)
			h.sum += p.size[i]
			add(k+1, i)
			h.sum -= p.size[i]
		}
		h.at[k] = 0
	}
	add(0, len(p.size)-1)
	slices.SortFunc(list, func(a, b half) int { return int(a.sum - b.sum) })
	p.halves[n] = list
	return list, nil
}

// candidate is a stack with what it is preferred by.
type candidate struct {
	off    Length // twice the distance of Predicted from the middle of the limits
	miss   Length // its distance from the target
	count  int
	out    int // shims from those taken out
	scarce int // stock of its scarcest size
	at     [deepest]int16
	sum    Length
}

// search is one run of the picker over all stacks.
type search struct {
	*picker
	q         *Question
	top       [picks]candidate
	n         int
	low, high Length // sums of shims that could still be among the top
	steps     int
}

func (p *picker) pick(q Question) (Answer, error) {
	if err := q.check(); err != nil {
		return Answer{}, err
	}
	s := search{picker: p, q: &q, low: 0, high: deepest * longest}
	if q.Prescribed > 0 {
		s.offer(&half{}, 0, &half{}, 0)
	}
	for count := 1; count <= q.MostPerPlace && len(p.size) > 0; count++ {
		if err := s.stacks(count); err != nil {
			return Answer{}, err
		}
	}

	a := Answer{
		Keep:   q.Measured-q.Low >= q.Uncertainty && q.High-q.Measured >= q.Uncertainty,
		Wanted: q.Present + Length(math.Round(float64(q.Target-q.Measured)/q.Effect)),
	}
	for i := range s.n {
		c := &s.top[i]
		k := Pick{Total: q.Prescribed + c.sum, Stack: make([]Length, c.count)}
		for j := range c.count {
			k.Stack[j] = p.size[c.at[j]]
		}
		k.Predicted = q.predict(c.sum)
		k.Margin = min(k.Predicted-q.Low, q.High-k.Predicted) - q.Uncertainty
		k.Inside = k.Predicted >= q.Low && k.Predicted <= q.High
		if i == 0 {
			a.Best, a.Reaches = k, k.Inside
			if !k.Inside {
				a.Miss = max(q.Low-k.Predicted, k.Predicted-q.High)
			}
			continue
		}
		a.Others = append(a.Others, k)
	}
	if !a.Reaches {
		a.Size = a.Wanted
	}
	return a, nil
}

// predict returns the dimension with a stack of the given sum.
func (q *Question) predict(sum Length) Length {
	change := q.Prescribed + sum - q.Present
	switch q.Effect {
	case 1:
		return q.Measured + change
	case -1:
		return q.Measured - change
	}
	return q.Measured + Length(math.Round(q.Effect*float64(change)))
}

// stacks offers every stack of count shims that could be among the top: only
// as far from the middle of the limits as sums can still matter.
func (s *search) stacks(count int) error {
	s.narrow(count)
	least, most := Length(count)*s.size[0], Length(count)*s.size[len(s.size)-1]
	if s.low > s.high || least > s.high || most < s.low {
		return nil
	}
	na, nb := count-count/2, count/2
	as, err := s.half(na)
	if err != nil {
		return err
	}
	bs, err := s.half(nb)
	if err != nil {
		return err
	}
	// The sum that puts the dimension in the middle of its limits.
	middle := s.q.Present - s.q.Prescribed + Length(math.Round((float64(s.q.Low+s.q.High)/2-float64(s.q.Measured))/s.q.Effect))
	// Every stack is met once, a its thicker half, which so has at least its
	// share of the sum: begin where it has just that, for the best stacks are
	// soon found there.
	share := min(max(middle, least), most) * Length(na)
	begin, _ := slices.BinarySearchFunc(as, share, func(a half, share Length) int { return int(a.sum*Length(count) - share) })
	from := len(bs)
	for i := begin; i < len(as) && as[i].sum+Length(nb)*s.size[0] <= s.high; i++ {
		for from > 0 && as[i].sum+bs[from-1].sum >= middle {
			from--
		}
		s.complete(&as[i], na, bs, nb, from)
	}
	for i := begin - 1; i >= 0 && as[i].sum*Length(count) >= s.low*Length(na); i-- {
		for from < len(bs) && as[i].sum+bs[from].sum < middle {
			from++
		}
		s.complete(&as[i], na, bs, nb, from)
	}
	if s.steps > mostSteps {
		return errorf("shims", "%d sizes, %d in one place, make too many stacks alike to be sure of the best; allow fewer shims in one place, or fewer sizes", len(s.size), count)
	}
	return nil
}

// complete offers the stacks of a thicker half with thinner ones, out from the
// one that completes the middle of the limits.
func (s *search) complete(a *half, na int, bs []half, nb, from int) {
	if s.steps > mostSteps {
		return
	}
	thinnest := a.at[na-1]
	for j := from; j < len(bs) && a.sum+bs[j].sum <= s.high; j++ {
		s.steps++
		if bs[j].at[0] <= thinnest {
			s.offer(a, na, &bs[j], nb)
		}
	}
	for j := from - 1; j >= 0 && a.sum+bs[j].sum >= s.low; j-- {
		s.steps++
		if bs[j].at[0] <= thinnest {
			s.offer(a, na, &bs[j], nb)
		}
	}
}

// judge returns the first two things a sum is preferred by.
func (s *search) judge(sum Length) (off, miss Length) {
	d := s.q.predict(sum)
	return (2*d - s.q.Low - s.q.High).abs(), (d - s.q.Target).abs()
}

// offer puts a stack among the top if it belongs there: a its thicker half.
func (s *search) offer(a *half, na int, b *half, nb int) {
	c := candidate{count: na + nb, sum: a.sum + b.sum}
	c.off, c.miss = s.judge(c.sum)
	if s.n == picks {
		if w := &s.top[picks-1]; c.off > w.off || c.off == w.off && (c.miss > w.miss || c.miss == w.miss && c.count > w.count) {
			return
		}
	}
	copy(c.at[:na], a.at[:na])
	copy(c.at[na:], b.at[:nb])
	c.scarce = math.MaxInt
	for i := 0; i < c.count; {
		size, n := c.at[i], 0
		for ; i < c.count && c.at[i] == size; i++ {
			n++
		}
		if s.avail != nil {
			if n > s.avail[size] {
				return
			}
			c.scarce = min(c.scarce, s.stock[size])
		}
		if s.out != nil {
			c.out += min(n*s.places, s.out[size])
		}
	}
	at := s.n
	for at > 0 && c.compare(&s.top[at-1]) < 0 {
		at--
	}
	if at == picks {
		return
	}
	s.n = min(s.n+1, picks)
	copy(s.top[at+1:s.n], s.top[at:s.n-1])
	s.top[at] = c
	if s.n == picks {
		s.narrow(c.count)
	}
}

// compare orders candidates as PickShims documents, the preferred one first.
func (c *candidate) compare(d *candidate) int {
	order := func(less bool) int {
		if less {
			return -1
		}
		return 1
	}
	switch {
	case c.off != d.off:
		return order(c.off < d.off)
	case c.miss != d.miss:
		return order(c.miss < d.miss)
	case c.count != d.count:
		return order(c.count < d.count)
	case c.out != d.out:
		return order(c.out > d.out)
	case c.scarce != d.scarce:
		return order(c.scarce > d.scarce)
	}
	for i := range c.count {
		if c.at[i] != d.at[i] {
			return order(c.at[i] > d.at[i])
		}
	}
	return 0
}

// narrow sets the range of sums that could still be among the top for stacks
// of count shims or more.
func (s *search) narrow(count int) {
	if s.n < picks {
		return
	}
	w := &s.top[picks-1]
	// The dimensions no further off than the last of the top, doubled to stay
	// whole. More shims must do better, so an end that only ties is left out.
	middle := s.q.Low + s.q.High
	lowest, highest := middle-w.off, middle+w.off
	if count > w.count {
		if (lowest - 2*s.q.Target).abs() >= 2*w.miss {
			lowest++
		}
		if (highest - 2*s.q.Target).abs() >= 2*w.miss {
			highest--
		}
		if lowest > highest {
			s.low, s.high = math.MaxInt64, -1 // none
			return
		}
	}
	// Back from the dimension to the sum.
	x := (float64(lowest)/2 - float64(s.q.Measured)) / s.q.Effect
	y := (float64(highest)/2 - float64(s.q.Measured)) / s.q.Effect
	base := s.q.Present - s.q.Prescribed
	if math.Abs(s.q.Effect) == 1 {
		s.low = base + Length(math.Ceil(min(x, y)))
		s.high = base + Length(math.Floor(max(x, y)))
		return
	}
	// predict rounds: take in the sums it could have brought near enough.
	slack := Length(math.Ceil(1/math.Abs(s.q.Effect))) + 1
	s.low = base + Length(math.Floor(min(x, y))) - slack
	s.high = base + Length(math.Ceil(max(x, y))) + slack
}
