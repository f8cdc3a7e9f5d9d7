package calc

import (
	"math"
	"strconv"
	"strings"
)

// Kind is what a unit measures.
type Kind uint8

// The kinds, each with its base unit.
const (
	Count       Kind = iota // plain number
	LengthKind              // mm
	Pressure                // kPa
	Torque                  // N·m
	Temperature             // °C
	Delivery                // cm³ per 1000 strokes
	Volume                  // cm³
	Speed                   // rev/min
	Flow                    // L/h
	Duration                // s
	Angle                   // °
	Density                 // kg/m³
	Percent                 // %
	Rate                    // N/mm
	Area                    // mm²
	Consumption             // g/kWh, fuel for a unit of work
)

var kindNames = [...]string{"number", "length", "pressure", "torque", "temperature", "delivery", "volume",
	"speed", "flow", "duration", "angle", "density", "percentage", "spring rate", "area", "specific consumption"}

// String names the kind in plain words.
func (k Kind) String() string {
	if int(k) >= len(kindNames) {
		return "kind " + strconv.Itoa(int(k))
	}
	return kindNames[k]
}

// Unit is a unit a person may write: base value = written × Factor + Offset.
type Unit struct {
	Symbol         string
	Kind           Kind
	Factor, Offset float64
}

// Quantity is a number with its unit, as written.
type Quantity struct {
	Value float64
	Unit  Unit
}

// Exact by definition: the pound-force, the pound and the inch, NIST SP 811
// appendix B. The horsepower is 550 ft·lbf/s.
const (
	newtonsPerLbf = 4.4482216152605
	gramsPerLb    = 453.59237
	mmPerInch     = 25.4
	kgfNewtons    = 9.80665
	kWPerHP       = 550 * newtonsPerLbf * mmPerInch * 12 / 1e6
)

// The units the packages write by name; ParseUnit knows more.
var (
	Plain        = Unit{Symbol: "", Kind: Count, Factor: 1}
	MM           = Unit{Symbol: "mm", Kind: LengthKind, Factor: 1}
	IN           = Unit{Symbol: "in", Kind: LengthKind, Factor: mmPerInch}
	Bar          = Unit{Symbol: "bar", Kind: Pressure, Factor: 100}
	KPa          = Unit{Symbol: "kPa", Kind: Pressure, Factor: 1}
	NM           = Unit{Symbol: "N·m", Kind: Torque, Factor: 1}
	Celsius      = Unit{Symbol: "°C", Kind: Temperature, Factor: 1}
	CM3Per1000   = Unit{Symbol: "cm³/1000", Kind: Delivery, Factor: 1}
	MM3PerStroke = Unit{Symbol: "mm³/stroke", Kind: Delivery, Factor: 1} // 1 cm³ in 1000 strokes is 1 mm³ in each
	CM3          = Unit{Symbol: "cm³", Kind: Volume, Factor: 1}
	PerMin       = Unit{Symbol: "rev/min", Kind: Speed, Factor: 1}
	LPerH        = Unit{Symbol: "L/h", Kind: Flow, Factor: 1}
	Seconds      = Unit{Symbol: "s", Kind: Duration, Factor: 1}
	Hours        = Unit{Symbol: "h", Kind: Duration, Factor: 3600}
	Percentage   = Unit{Symbol: "%", Kind: Percent, Factor: 1}
	GPerKWh      = Unit{Symbol: "g/kWh", Kind: Consumption, Factor: 1}
)

// spelling is a unit with the other ways people write it, after plainSpelling.
type spelling struct {
	Unit
	also []string
}

var spellings = []spelling{
	{MM, nil},
	{IN, []string{"inch", `"`}},
	{Unit{"µm", LengthKind, 1e-3, 0}, nil},
	{Unit{"cm", LengthKind, 10, 0}, nil},
	{Bar, nil},
	{KPa, nil},
	{Unit{"MPa", Pressure, 1000, 0}, nil},
	{Unit{"psi", Pressure, newtonsPerLbf / (mmPerInch * mmPerInch) * 1000, 0}, []string{"lbf/in2"}},
	{Unit{"kgf/cm²", Pressure, kgfNewtons * 10, 0}, nil},
	{NM, nil},
	{Unit{"lbf·ft", Torque, newtonsPerLbf * mmPerInch * 12 / 1000, 0}, []string{"ftlbf"}},
	{Unit{"lbf·in", Torque, newtonsPerLbf * mmPerInch / 1000, 0}, []string{"inlbf"}},
	{Unit{"kgf·m", Torque, kgfNewtons, 0}, nil},
	{Celsius, []string{"C"}},
	{Unit{"°F", Temperature, 5. / 9, -160. / 9}, []string{"F"}},
	{CM3Per1000, nil},
	{MM3PerStroke, nil},
	{CM3, []string{"ml", "mL"}},
	{PerMin, []string{"1/min", "rpm"}},
	{LPerH, []string{"l/h"}},
	{Unit{"L/min", Flow, 60, 0}, []string{"l/min"}},
	{Seconds, nil},
	{Unit{"min", Duration, 60, 0}, nil},
	{Hours, nil},
	{Unit{"°", Angle, 1, 0}, []string{"deg"}},
	{Unit{"kg/m³", Density, 1, 0}, nil},
	{Unit{"g/cm³", Density, 1000, 0}, []string{"g/mL", "g/ml"}},
	{Percentage, nil},
	{Unit{"N/mm", Rate, 1, 0}, nil},
	{Unit{"lbf/in", Rate, newtonsPerLbf / mmPerInch, 0}, nil},
	{Unit{"mm²", Area, 1, 0}, nil},
	{Unit{"cm²", Area, 100, 0}, nil},
	{Unit{"in²", Area, mmPerInch * mmPerInch, 0}, nil},
	{GPerKWh, []string{"g/(kWh)"}},
	{Unit{"lb/hp·h", Consumption, gramsPerLb / kWPerHP, 0}, []string{"lb/(hph)", "lb/hphr", "lb/(hphr)"}},
}

// unitBySpelling maps every plain spelling to its unit.
var unitBySpelling = func() map[string]Unit {
	m := make(map[string]Unit)
	for _, s := range spellings {
		m[plainSpelling(s.Symbol)] = s.Unit
		for _, a := range s.also {
			m[a] = s.Unit
		}
	}
	return m
}()

// plainSpelling takes out what keyboards differ in: blanks, product signs,
// superscripts, the two micro signs and the two degree signs.
var plainReplacer = strings.NewReplacer(" ", "", "\u00a0", "", "\u202f", "", "\t", "",
	"·", "", "⋅", "", "*", "", "^", "", "²", "2", "³", "3", "µ", "u", "μ", "u", "º", "°", "−", "-")

func plainSpelling(s string) string { return plainReplacer.Replace(s) }

// ParseUnit returns the unit written as s, in any of its usual spellings
// (N·m, Nm and N m; cm³ and cm3). Capitals matter: MPa is not mPa. The empty
// string is no unit.
func ParseUnit(s string) (Unit, bool) {
	p := plainSpelling(s)
	if u, ok := unitBySpelling[p]; ok {
		return u, true
	}
	// °C is a unit of its own; any other degree sign before C or F is the same.
	u, ok := unitBySpelling[strings.Replace(p, "deg", "°", 1)]
	return u, ok
}

// UnitsOf returns the symbols of the units of one kind, for a message that
// says what could have been written.
func UnitsOf(k Kind) []string {
	var list []string
	for _, s := range spellings {
		if s.Kind == k {
			list = append(list, s.Symbol)
		}
	}
	return list
}

// Base returns the quantity in the base unit of its kind.
func (q Quantity) Base() float64 { return q.Value*q.Unit.Factor + q.Unit.Offset }

// In returns the quantity in another unit of the same kind.
func (q Quantity) In(u Unit) float64 { return Convert(q.Value, q.Unit, u) }

// Convert returns x, written in one unit, in another of the same kind. A value
// already in that unit comes back untouched. Units of different kinds give NaN.
func Convert(x float64, from, to Unit) float64 {
	switch {
	case from.Kind != to.Kind:
		return math.NaN()
	case from.Factor == to.Factor && from.Offset == to.Offset:
		return x
	}
	return (x*from.Factor + from.Offset - to.Offset) / to.Factor
}

// String writes the quantity with as many decimals as its value has, the unit
// after a blank (none before the degree sign of an angle).
func (q Quantity) String() string {
	n := strings.Replace(strconv.FormatFloat(snap(q.Value), 'f', -1, 64), "-", minus, 1)
	switch {
	case q.Unit.Symbol == "":
		return n
	case q.Unit.Kind == Angle:
		return n + q.Unit.Symbol
	}
	return n + " " + q.Unit.Symbol
}
