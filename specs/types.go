package specs

import (
	"time"

	"shimcard/calc"
)

// Rotation is judged looking at the drive end.
type Rotation string

// The two rotations.
const (
	Right Rotation = "right"
	Left  Rotation = "left"
)

// Spec is one pump type's test sheet.
type Spec struct {
	Pump       Pump
	Vouched    Vouched
	Invented   bool // demonstration figures: said on every page
	Equipment  Equipment
	Dimensions []*Dimension  // in the order of DimensionNames
	Trays      []*Tray       // in the order of the file
	Piston     *TimingPiston // nil when the sheet does not say
	Torques    []*Torque     // in the order of the file
	Bench      Bench
	Engine     *Engine  // nil when the sheet does not say
	Notes      []string // printed on the cover, in the spec author's words
}

// Pump identifies the type.
type Pump struct {
	Name     string
	Kind     string   // "axial-plunger distributor", the only kind so far
	Outlets  int      // 2 to 12
	Marks    []string // outlet marks in injection order, as on the head; "1".."n" unless given
	Rotation Rotation
}

// Vouched names who stands for the figures and where they come from.
type Vouched struct {
	By   string // "" nobody
	On   time.Time
	From string
}

// Equipment says what is fitted; stages and boxes depend on it.
type Equipment struct {
	ColdStartDevice bool // false: a plain cover plate
	BoostCapsule    bool
	ShutOffSolenoid string // voltage as written, "12 V"; "" when none is fitted
	PreStroke       bool   // true: stroke start set by pre-stroke; false: by plunger depth at its lowest point
}

// DimensionName is one of the static dimensions, in plain trade words.
type DimensionName string

// The static dimensions, in the order the bench meets them.
const (
	TimingPack      DimensionName = "timing shim pack"
	ColdStartTravel DimensionName = "cold-start travel"
	SpringPreset    DimensionName = "plunger spring preset"
	PlungerDepth    DimensionName = "plunger depth at lowest point" // zero pre-stroke pumps only
	PreStroke       DimensionName = "pre-stroke"                    // the other pumps
	ShaftProjection DimensionName = "governor shaft projection"
	EndFloat        DimensionName = "flyweight end float"
	StartingGap     DimensionName = "starting gap"
)

// DimensionNames lists every static dimension in bench order.
var DimensionNames = []DimensionName{TimingPack, ColdStartTravel, SpringPreset, PlungerDepth, PreStroke, ShaftProjection, EndFloat, StartingGap}

// Take says how repeated readings become one.
type Take string

// The ways; mean is the default, plunger depth defaults to largest with three repeats.
const (
	Mean     Take = "mean"
	Largest  Take = "largest"
	Smallest Take = "smallest"
	Bracket  Take = "bracket" // feeler blades: the one that goes, the one that does not; the middle counts
)

// Dimension is one static dimension and what restores it.
type Dimension struct {
	Name              DimensionName
	Target, Low, High calc.Length
	BelievableLow     calc.Length // a reading outside is queried; from the file, else a generous default
	BelievableHigh    calc.Length
	Unit              calc.Unit // in which the file wrote it and the page prints it
	Decimals          int       // of the written figures
	Instrument        string    // name, looked up in the shop file
	Repeats           int       // 1 to 3 readings
	Take              Take
	Effect            float64     // change of the dimension for one unit more of shim: -1, +1, …
	EffectText        string      // the same with the decimals written, a point and U+2212 for minus; "" where the file leaves it out
	Shims             *Shims      // nil when no shim restores it
	Thread            *Thread     // governor shaft only
	Block             calc.Length // starting gap: the spacer block's size; 0 where the sheet does not say
	BlockDecimals     int
	OilPressure       calc.Quantity // pre-stroke: of the oil at the inlet; no unit where the sheet does not say
	Line              int           // where the file declares it
}

// Shims says which tray restores a dimension and how.
type Shims struct {
	Tray         *Tray
	Places       int         // equal stacks: 2 for the spring preset, one on each guide pin; else 1
	MostPerPlace int         // shims in one stack
	Prescribed   calc.Length // timing pack: the one shim that goes in the piston, less than the target, the rest in the cap; 0 when not split
}

// Thread of a part that is screwed to its position.
type Thread struct {
	Pitch      calc.Length
	Decimals   int // of the pitch as written, in the dimension's unit
	LeftHanded bool
	OutGrows   bool // true when screwing out makes the dimension larger (the usual case)
}

// Tray is the set of sizes that exist for one place.
type Tray struct {
	Name     string
	Part     string        // what one is called: "shim", "end plug", "spacer"; "shim" unless given
	Sizes    []calc.Length // ascending, no duplicates
	Unit     calc.Unit     // that of the dimensions it serves
	Decimals int
}

// TimingPiston is what the sheet says of the timing piston, one of the figures
// at least; 0 for what it does not say. Diameter and spring rate, both or
// neither, tell how a shim moves the start of the timing.
type TimingPiston struct {
	Diameter   calc.Length
	SpringRate float64     // N/mm
	Stroke     calc.Length // largest travel: where the stop is
	PinRadius  calc.Length // from the middle of the roller ring to the pin by which the piston turns it
}

// TorqueAt says at which stage's work a torque is applied.
type TorqueAt string

// The places of the torque table, each belonging to one stage.
const (
	AtSupplyPump    TorqueAt = "supply pump"
	AtTimingPiston  TorqueAt = "timing piston"
	AtHead          TorqueAt = "head"
	AtDeliveryValve TorqueAt = "delivery valves"
	AtGovernor      TorqueAt = "governor"
	AtCover         TorqueAt = "cover"
)

// Torque is one row of the torque table.
type Torque struct {
	Name         string
	At           TorqueAt
	Count        int             // fasteners
	Steps        []calc.Quantity // one or more, in order
	Order        string          // "crosswise, evenly"; may be empty
	Reuse        bool            // false when the fastener or washer must be new
	Adapter      calc.Length     // from the wrench\'s square to the nut, 0 when none is needed
	AdapterAngle float64         // degrees: 0 in line outwards, 90 square, 180 turned back
	Line         int
}

// Range is a pair of limits in one unit; an open end is ±Inf.
type Range struct {
	Low, High float64
	Unit      calc.Unit
	Decimals  int
}

// Bench is the schedule of the test bench run.
type Bench struct {
	Conditions     Conditions
	SupplyPressure []*SpeedPoint // housing pressure against speed
	TimingTravel   []*SpeedPoint // timing piston travel against speed
	Deliveries     []*DeliveryPoint

	// FarthestFromMean says what a spread is: the outlet farthest from the
	// mean, so that what is permitted is ± from the mean. Otherwise it is
	// the highest outlet less the lowest.
	FarthestFromMean bool

	RunOut        []*RunOut   // in the order of the file; none when the sheet has none
	Droop         *Droop      // nil when the sheet has none
	ReturnFlow    *SpeedPoint // L/h at one speed; nil when the sheet has none
	LeakTest      *LeakTest   // nil when the sheet has none
	FullLoadScrew string      // name of the delivery point, with both limits, that the full-load screw sets; "" when none
}

// Conditions of the run, as the sheet asks.
type Conditions struct {
	TestOil          string
	InletTemperature Range
	Reference        calc.Quantity // temperature at which deliveries are stated
	Density15        calc.Quantity // of the test oil at 15 °C
	InletPressure    *Range
	NozzleHolders    string // as the sheet names the calibrated holders, with opening pressure
	Pipes            string
	DrainTime        calc.Quantity // seconds each graduate drains before the next fill
}

// SpeedPoint is one value wanted at one pump speed.
type SpeedPoint struct {
	Speed   float64 // pump rev/min
	Limits  Range
	AsFound bool // also read at stage B
	Line    int
}

// PointKind says what a delivery point shows.
type PointKind string

// The kinds of delivery point.
const (
	FullLoad PointKind = "full load"
	PartLoad PointKind = "part load"
	Boost    PointKind = "boost"
	Governed PointKind = "governed" // on the falling branch
	Idle     PointKind = "idle"
	Starting PointKind = "starting"
	ShutOff  PointKind = "shut-off" // must be zero; a safety item
)

// DeliveryPoint is one row of the delivery table.
type DeliveryPoint struct {
	Name    string
	Kind    PointKind
	Speed   float64        // pump rev/min
	Lever   string         // "full", "idle stop", …
	Boost   *calc.Quantity // gauge pressure on the capsule; nil when not applied
	Strokes int
	Limits  Range  // of the mean, cm³/1000; at shut-off at most 0
	Spread  *Range // permitted spread; Unit is cm³/1000 or %; nil when the sheet has none
	AsFound bool
	Line    int
}

// RunOut is the speed at which delivery has fallen to At.
type RunOut struct {
	At      calc.Quantity // cm³/1000, each once
	Limits  Range         // rev/min
	AsFound bool          // also read at stage B; where the file says so of one, all are
	Line    int
}

// Droop is how far the speed rises from rated load to no load, in per cent of
// the rated speed: (no-load − rated)/rated, ISO 3046-4. The no-load speed is
// that at which delivery has fallen to NoLoadAt.
type Droop struct {
	Rated    float64       // pump rev/min
	NoLoadAt calc.Quantity // cm³/1000
	Limits   *Range        // %; nil when the sheet only wants it stated
	Line     int
}

// Engine is what tells what a delivery means for the engine, an estimate.
type Engine struct {
	FuelDensity15       calc.Quantity // of the fuel at 15 °C, kg/m³
	SpecificConsumption calc.Quantity // fuel for the work at the shaft, g/kWh
}

// LeakTest holds the housing under pressure for a time.
type LeakTest struct {
	Pressure calc.Quantity
	Time     calc.Quantity
	Line     int
}

// Shop is what is the shop's own.
type Shop struct {
	Name         string
	Site         string // letters in its job numbers, where the jobs of several sites come together
	Address      []string
	Contact      string
	Invented     bool
	Language     string // "en" or "de", of what is printed
	DecimalComma bool
	Letter       bool // Letter paper; A4 otherwise
	ThreeHoles   bool // filed with three holes; two, ISO 838, otherwise
	TwoSided     bool // printed on both sides, with mirrored margins

	// DeliveryMeter says that deliveries are read from the instrument
	// "delivery meter", already per stroke. Otherwise graduates catch volumes.
	DeliveryMeter bool

	Instruments []*Instrument
	Stock       []*Stock

	// StockApplied is how many lines of the stock book beside the file are in
	// the counts of Stock.
	StockApplied int
}

// Instrument is one measuring instrument of the shop.
type Instrument struct {
	Name        string        // as specs call it: "depth micrometer"
	Number      string        // the shop's inventory number
	Resolution  calc.Quantity // a difference: convert by the unit's Factor, without its Offset
	Permissible calc.Quantity // likewise; largest permissible error, ±; JCGM 100 treats it as a rectangular limit
	Length      calc.Length   // of a torque wrench, middle of the handle to the square; 0 when not given
	Range       Range         // what a torque wrench can be set to; without a unit when not given
	Due         time.Time     // next calibration; zero when not given
	Line        int
}

// Stock is how many of each size one tray holds.
type Stock struct {
	Tray     string
	Sizes    []calc.Length
	Count    []int
	Unit     calc.Unit // as the file writes the sizes
	Decimals int
}

// Instrument returns the shop's instrument of that name, nil when it has none.
func (s *Shop) Instrument(name string) *Instrument {
	for _, i := range s.Instruments {
		if i.Name == name {
			return i
		}
	}
	return nil
}

// Dimension returns the named dimension, nil when the spec has none.
func (s *Spec) Dimension(name DimensionName) *Dimension {
	for _, d := range s.Dimensions {
		if d.Name == name {
			return d
		}
	}
	return nil
}
