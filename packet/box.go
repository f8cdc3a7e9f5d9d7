package packet

import (
	"math"
	"slices"
	"strconv"

	"shimcard/calc"
	"shimcard/packet/words"
)

// Kind is what is written in a box.
type Kind string

// The kinds of box.
const (
	Number   Kind = "number"
	Tick     Kind = "tick"
	Initials Kind = "initials"
	Date     Kind = "date"
	Choice   Kind = "choice"
	Text     Kind = "text"
)

// Box is one declared place where one thing is written. The traveller draws
// it, the typing form asks for it, the checks judge it and the report computes
// from it; nothing else knows a box by heart.
type Box struct {
	words.Printer
	Code     string // stage letter and number: "H3"; repeats "H1a", outlets "M7.2"
	Label    string
	Short    string // label in a row of arithmetic, where room is tight; "" the same
	Kind     Kind
	Unit     calc.Unit // of a number
	Before   int       // pen cells before the decimal mark
	Decimals int       // pen cells after it
	Signed   bool
	// Low and High bound what is believable, in Unit; ±Inf where open. A
	// number outside stops the report until corrected or confirmed.
	Low, High  float64
	Choices    []string
	Lines      int      // ruled for a text; 0 one
	Required   bool     // the job cannot be released without it
	From       *Formula // nil: read or decided, else worked out from other boxes
	Instrument string   // that reads it, as the shop file calls it; "" none
	Again      []*Box   // of a choice: the same asked again; the last one written counts
	Thinner    *Box     // of two feeler blades, the one that goes; nil for other boxes
}

// usual are the names of parts and instruments that the catalogue has.
var usual = []string{
	"shim", "end plug", "spacer", "thrust washer",
	"micrometer", "depth micrometer", "depth gauge", "dial indicator", "feeler gauges", "torque wrench", "small torque wrench", "large torque wrench",
	"pressure gauge", "inlet gauge", "boost gauge", "timing travel gauge", "graduates", "delivery meter", "measuring vessel",
	"bench tachometer", "thermometer", "oil thermometer", "stop watch",
}

// nameWord is what a part or an instrument is called; one that only a spec or a
// shop has a name for stands as it was typed there.
func nameWord(p words.Printer, name string) string {
	if slices.Contains(usual, name) {
		return p.T(name)
	}
	return name
}

// answers are the choices as they are printed.
func (b *Box) answers() []string {
	var out []string
	for _, c := range b.Choices {
		out = append(out, b.T(c))
	}
	return out
}

// Decimal prints x as this box is written: its decimals, no unit.
func (b *Box) Decimal(x float64) string { return b.Fixed(x, b.Decimals) }

// Window says in words what is believable, "" when anything is.
func (b *Box) Window() string {
	switch {
	case b.Kind != Number || math.IsInf(b.Low, -1) && math.IsInf(b.High, 1):
		return ""
	case math.IsInf(b.High, 1):
		return b.T("at least %s", b.Decimal(b.Low))
	case math.IsInf(b.Low, -1):
		return b.T("at most %s", b.Decimal(b.High))
	}
	return b.T("%s to %s", b.Decimal(b.Low), b.Decimal(b.High))
}

// Op is how a formula works.
type Op string

// The formulas, all of which a pen can follow.
const (
	Linear         Op = "linear"   // Const + Σ Factor·box; every box needed
	Sum            Op = "sum"      // Const + Σ Factor·box; blank boxes count as none, at least one needed
	Mean           Op = "mean"     // Σ Factor·box / n over the boxes written
	Largest        Op = "largest"  // of the boxes written
	Smallest       Op = "smallest" // of the boxes written
	Latest         Op = "latest"   // the last of the boxes written
	Droop          Op = "droop"    // of a no-load speed over the rated speed Const, %
	Flow           Op = "flow"     // first, a volume, over second, a time, in the unit worth Const L/h
	Secant         Op = "secant"   // turns from the second of two (turns, delivery) pairs to Const
	Crossing       Op = "crossing" // where (speed, delivery) pairs fall through Const, on straight lines; a pair with a blank is left out
	DeliveryMean   Op = "delivery" // mean of Point's outlets
	DeliverySpread Op = "spread"   // of Point's outlets, as its sheet means it
)

// Term is one box in a formula.
type Term struct {
	Box    *Box
	Factor float64
}

// Formula is how a worked-out box follows from others.
type Formula struct {
	Op    Op
	Const float64
	Terms []Term
	Point *Point
	// Constant and Divisor name the fixed figures where the sheet prints them;
	// By is the divisor as the spec wrote it.
	Constant, Divisor, By string
}

// Value works the formula out; ok is false while a box it needs is blank or
// the arithmetic has no answer, and why then says so.
func (f *Formula) Value(read func(*Box) (float64, bool)) (x float64, ok bool, why string) {
	var v []float64
	switch f.Op {
	case DeliveryMean:
		return f.Point.mean(read)
	case DeliverySpread:
		return f.Point.spread(read)
	case Crossing:
		return f.crossing(read)
	}
	for _, t := range f.Terms {
		r, ok := read(t.Box)
		if !ok {
			switch f.Op {
			case Sum, Mean, Largest, Smallest, Latest:
				continue
			}
			return 0, false, t.Box.blank()
		}
		v = append(v, r*t.Factor)
	}
	if len(v) == 0 {
		return 0, false, f.Terms[0].Box.blank()
	}
	switch f.Op {
	case Linear, Sum:
		x = f.Const
		for _, r := range v {
			x += r
		}
	case Mean:
		for _, r := range v {
			x += r / float64(len(v))
		}
	case Largest, Smallest:
		x = v[0]
		for _, r := range v[1:] {
			if f.Op == Largest {
				x = max(x, r)
			} else {
				x = min(x, r)
			}
		}
	case Latest:
		x = v[len(v)-1]
	case Droop:
		droop, err := calc.Droop(v[0], f.Const)
		if err != nil {
			return 0, false, f.reason(err)
		}
		x = droop
	case Flow:
		flow, err := calc.FlowLPerH(v[0], v[1])
		if err != nil {
			return 0, false, f.reason(err)
		}
		x = flow / f.Const
	case Secant:
		turns, _, err := calc.ScrewTurn(v[0], v[1], v[2], v[3], f.Const)
		if err != nil {
			return 0, false, f.reason(err)
		}
		x = turns
	}
	return x, true, ""
}

// pairs are the (speed, delivery) pairs of a crossing that are wholly written.
func (f *Formula) pairs(read func(*Box) (float64, bool)) (speeds, deliveries []float64) {
	for i := 0; i+1 < len(f.Terms); i += 2 {
		n, ok1 := read(f.Terms[i].Box)
		q, ok2 := read(f.Terms[i+1].Box)
		if ok1 && ok2 {
			speeds, deliveries = append(speeds, n), append(deliveries, q)
		}
	}
	return speeds, deliveries
}

func (f *Formula) crossing(read func(*Box) (float64, bool)) (speed float64, ok bool, why string) {
	speeds, deliveries := f.pairs(read)
	if len(speeds) < 2 {
		return 0, false, f.Terms[0].Box.T("%d of the steps from %s on are counted, two are needed", len(speeds), f.Terms[0].Box.Code)
	}
	speed, _, err := calc.FallsThrough(speeds, deliveries, f.Const)
	if err != nil {
		return 0, false, reason(f.Terms[0].Box.Printer, err, f.Terms[0].Box)
	}
	return speed, true, ""
}

// reason is why the formula's boxes have no answer.
func (f *Formula) reason(err error) string {
	var of []*Box
	for _, t := range f.Terms {
		of = append(of, t.Box)
	}
	return reason(of[0].Printer, err, of...)
}

// carried is the formula of a box that repeats what another box says.
func carried(b *Box) *Formula { return linear(0, plus(b)) }

func (f *Formula) named(constant, divisor, by string) *Formula {
	f.Constant, f.Divisor, f.By = constant, divisor, by
	return f
}

func linear(c float64, t ...Term) *Formula { return &Formula{Op: Linear, Const: c, Terms: t} }
func plus(b *Box) Term                     { return Term{b, 1} }
func minus(b *Box) Term                    { return Term{b, -1} }

func over(op Op, boxes []*Box, factor float64) *Formula {
	f := &Formula{Op: op}
	for _, b := range boxes {
		f.Terms = append(f.Terms, Term{b, factor})
	}
	return f
}

// cellsBefore is how many pen cells the whole part of x takes.
func cellsBefore(x float64) int { return max(1, len(strconv.Itoa(int(math.Abs(x))))) }
