package calc

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
)

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
