package packet

import (
	"math"

	"shimcard/calc"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Verdict is what is said of one item.
type Verdict string

// The verdicts. TooClose: the reading lies nearer to a limit than its own
// uncertainty, so nobody can say. InDoubt: it lies inside, but the last refit
// did not do what its shims must, so a figure or a shim is wrong.
const (
	Meets       Verdict = "meets"
	DoesNotMeet Verdict = "does not meet"
	TooClose    Verdict = "too close to call"
	InDoubt     Verdict = "in doubt"
	NotMeasured Verdict = "not measured"
)

// Overall is what is said of the pump.
type Overall string

// The overall verdicts.
const (
	PumpMeets      Overall = "meets its test sheet"
	PumpFails      Overall = "does not meet its test sheet"
	PumpUndecided  Overall = "not decided"
	PumpIncomplete Overall = "incomplete"
)

// Group says which table of the report an item stands in.
type Group string

// The groups, in the order of the report.
const (
	Settings   Group = "settings"
	Pressures  Group = "pressure"
	Travels    Group = "travel"
	Quantities Group = "delivery"
	Spreads    Group = "spread"
	Others     Group = "other"
	Conditions Group = "condition" // of the run itself; not counted as an item
)

// Item is one thing with limits: what was found, what was left, what is said.
type Item struct {
	Group     Group    `json:"group"`
	Stage     string   `json:"stage"`
	Name      string   `json:"name"`
	Code      string   `json:"box"` // of the reading that counts
	Unit      string   `json:"unit"`
	Decimals  int      `json:"decimals"`
	Low       *float64 `json:"low"` // null: no lower limit
	High      *float64 `json:"high"`
	Target    *float64 `json:"target,omitempty"`
	Found     *float64 `json:"found"`
	Left      *float64 `json:"left"`
	U         *float64 `json:"uncertainty"`          // expanded, 95 %; null: not known
	P         *float64 `json:"conformity,omitempty"` // probability that the value left lies within the limits
	Verdict   Verdict  `json:"verdict"`
	FoundOut  bool     `json:"found_outside_limits"`
	Safety    bool     `json:"safety,omitempty"`
	Kind      string   `json:"kind,omitempty"`     // of a delivery point
	Change    string   `json:"change,omitempty"`   // "2.25 → 2.40 mm"
	Advice    string   `json:"advice,omitempty"`   // what the tray would serve
	Expected  *float64 `json:"expected,omitempty"` // what the last refit should read
	Miss      *float64 `json:"miss,omitempty"`     // reading less expected
	MissAllow *float64 `json:"miss_allowed,omitempty"`
	Speed     float64  `json:"speed_rpm,omitempty"`
	Seen      string   `json:"seen,omitempty"` // in place of a figure: "dry"
	Wanted    string   `json:"wanted,omitempty"`
	Note      string   `json:"note,omitempty"`

	in      words.Printer
	uc      float64 // combined standard uncertainty
	unknown bool    // an instrument is not known, so neither is uc
	instead bool    // limits that the timing run asked for, in place of the sheet's
	parts   bool    // a stack of parts: nothing predicts it but their sum
	off     float64 // how far, and to which side, what was found lies outside the sheet's own limits
	side    int
}

// MissesPrediction reports that the last refit did not do what it must.
func (i *Item) MissesPrediction() bool {
	return i.MissAllow != nil && math.Abs(*i.Miss) > *i.MissAllow+1e-9
}

// limits in words, "3.15 – 3.25".
func (i *Item) limits() string {
	low, high := i.bounds()
	return limitsWords(i.in, specs.Range{Low: low, High: high, Decimals: i.Decimals})
}

// unchanged is the change of what was left as it was.
const unchanged = "none"

// Delivery is one row of a delivery table, per 1000 strokes.
type Delivery struct {
	Name      string     `json:"name"`
	Kind      string     `json:"kind"`
	Code      string     `json:"box"`
	Speed     float64    `json:"speed_rpm"`
	Lever     string     `json:"lever"`
	Boost     string     `json:"boost,omitempty"`
	BoostRead *float64   `json:"boost_read,omitempty"` // in the same unit
	Strokes   int        `json:"strokes"`              // as counted
	Oil       *float64   `json:"oil_celsius"`          // where it was measured; null: nobody wrote it
	Factor    *float64   `json:"volume_factor"`        // from there to the sheet's reference; null: not corrected
	Low       *float64   `json:"low"`
	High      *float64   `json:"high"`
	Outlets   []*float64 `json:"outlets"`     // cm³ per 1000 strokes at the reference, in injection order
	Off       []*float64 `json:"outlets_off"` // from the mean, in per cent of it
	Mean      *float64   `json:"mean"`
	Spread    *float64   `json:"spread"`
	Per       string     `json:"spread_unit"`
	SpreadIs  *float64   `json:"spread_absolute"` // cm³ per 1000 strokes, as the sheet means it
	SpreadPc  *float64   `json:"spread_percent"`  // the same in per cent of the mean
	Allowed   string     `json:"spread_allowed,omitempty"`
	Verdict   Verdict    `json:"verdict"`
	Worst     Verdict    `json:"spread_verdict,omitempty"`
	Apart     *Apart     `json:"outlet_apart,omitempty"`
	OnCurve   bool       `json:"on_full_lever_curve"`
	Why       string     `json:"not_worked_out,omitempty"`

	boost     *calc.Quantity
	boostRead string // as its gauge reads
	oil       string // as its thermometer reads
	// of mean and spread as written
	decimals, spreadDecimals int
}

// Apart is, where the spread is wider than the sheet permits, the outlet that
// does not belong to its fellows: farther from them than its reading's
// uncertainty, and than chance would bring it (Grubbs' test, 5 %).
type Apart struct {
	Outlet   string  `json:"outlet"`
	Place    int     `json:"place"`   // in injection order, from 0
	Percent  float64 `json:"percent"` // of the mean of the others; below them when negative
	G        float64 `json:"grubbs"`  // distance from the mean in standard deviations
	Critical float64 `json:"grubbs_crit"`

	others float64 // their mean
}

// Missing is a required box that holds nothing, and why.
type Missing struct {
	Code  string `json:"box"`
	Stage string `json:"stage"`
	Label string `json:"label"`
	Why   string `json:"why,omitempty"`
}

// Remark is something the technician wrote beside a box.
type Remark struct {
	Code  string `json:"box"`
	Label string `json:"label"`
	Text  string `json:"text"`
}

// TorqueDone is one row of the torque table.
type TorqueDone struct {
	Name  string `json:"name"`
	Count int    `json:"count"`
	Steps string `json:"steps"`
	Done  bool   `json:"done"`
}

// PartUsed is one line of the parts list.
type PartUsed struct {
	Quantity float64 `json:"quantity"`
	What     string  `json:"what"`
}

// InstrumentUsed is one instrument that read a figure of this report.
type InstrumentUsed struct {
	Name        string `json:"name"`
	Number      string `json:"number"`
	Permissible string `json:"permissible_error"`
	Resolution  string `json:"resolution"`
	Due         string `json:"calibration_due"`
	Overdue     bool   `json:"overdue,omitempty"`
	Unknown     bool   `json:"not_in_shop_file,omitempty"`
}

// SignOff is who closed a stage.
type SignOff struct {
	Stage  string `json:"stage"`
	Title  string `json:"title"`
	By     string `json:"by"`
	On     string `json:"on"`
	Hold   bool   `json:"hold,omitempty"`
	Second string `json:"second,omitempty"`
}

// Results is everything a report says, computed from the typed form; what it
// says in words is in the language of the shop.
type Results struct {
	words.Printer `json:"-"`
	Format        string           `json:"format"`
	Job           string           `json:"job"`
	Issue         *Issue           `json:"issue"`            // null: not issued
	Digest        string           `json:"digest,omitempty"` // of the report's record
	Invented      bool             `json:"invented,omitempty"`
	Pump          string           `json:"pump"`
	Serial        string           `json:"serial"`
	Rotation      string           `json:"rotation"`
	Marks         []string         `json:"outlet_marks"`
	Customer      string           `json:"customer"`
	Reference     string           `json:"reference,omitempty"`
	Received      string           `json:"received"`
	Sheet         string           `json:"test_sheet"`
	Vouched       string           `json:"vouched"`
	Overall       Overall          `json:"verdict"`
	Met           int              `json:"items_met"`
	Count         int              `json:"items"`
	InRange       int              `json:"conditions_met"`
	Conditions    int              `json:"conditions"`
	Items         []*Item          `json:"results"`
	Found         []*Delivery      `json:"delivery_as_found"`
	Left          []*Delivery      `json:"delivery"`
	Was           *Evaluated       `json:"bench_as_found"`
	Now           *Evaluated       `json:"bench_as_left"`
	Screw         string           `json:"full_load_screw,omitempty"`
	Missing       []Missing        `json:"missing"`
	Slips         []Slip           `json:"differences_from_the_pen"`
	Worn          []Remark         `json:"wear"`
	Parts         []PartUsed       `json:"parts"`
	PartsDrawn    bool             `json:"parts_drawn"`
	Approval      string           `json:"approval"`
	Torques       []TorqueDone     `json:"torques"`
	Remarks       []Remark         `json:"remarks"`
	Confirmed     []Remark         `json:"confirmed"` // hard to believe, and confirmed
	Instruments   []InstrumentUsed `json:"instruments"`
	SignOffs      []SignOff        `json:"sign_offs"`
	TypedBy       string           `json:"typed_by,omitempty"`
	TypedAgain    string           `json:"typed_again_by,omitempty"`
	Corrections   []Change         `json:"corrections"` // after the first entry of a box
	Note          string           `json:"note_for_the_customer,omitempty"`

	readings       *Readings
	hours          Entry  // for the books alone
	lastDay        string // of all that the report rests on
	asFound, final *Run
	number         func(*Box) (float64, bool)
}
