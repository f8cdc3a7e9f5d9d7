package packet

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"shimcard/calc"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Edition is the edition of the sheets: which boxes there are and how they are
// numbered. It changes whenever a box would change its code, so that readings
// typed from an older packet are never put into other boxes.
const Edition = 1

// Plan is one job's sheets: what the spec and its equipment ask for, as stages
// of boxes, in the language of the shop.
type Plan struct {
	words.Printer
	Spec        *specs.Spec
	Shop        *specs.Shop
	Stages      []*Stage
	Adjustments []*Adjustment
	AsFound     *Run
	Final       *Run
	Wear        []*Box // choices of the inspection
	Parts       []*PartLine
	Torques     []*TorqueBox
	Looks       []Look
	Screws      []*Box // how they stood before anything was turned
	Approval    *Box   // a choice; the last answer is no
	ApprovedBy  *Box
	PartsDrawn  *Box
	Note        *Box // for the customer
	Hours       *Box // of work, for the books alone: in no report

	listed []*Box
}

// Look is a choice with right and wrong answers: something seen, not measured.
type Look struct {
	What   string
	Box    *Box
	Right  int // so many of its first answers are right
	Safety bool
}

// What the looks are at.
const (
	outsideDry       = "outside"
	solenoidDelivers = "solenoid"
	leverStops       = "stop lever"
)

func (k Look) fine(answer string) bool { return slices.Index(k.Box.Choices[:k.Right], answer) >= 0 }

// PartLine is one line of the list of parts needed.
type PartLine struct{ What, Quantity *Box }

// TorqueBox is one row of the torque table, to be ticked when done.
type TorqueBox struct {
	Spec *specs.Torque
	Box  *Box
}

// NewPlan declares every stage and box for a pump of this spec in this shop. Add a stage or
// a box here, and the traveller, the typing form, the checks and the report
// follow.
func NewPlan(spec *specs.Spec, shop *specs.Shop) *Plan {
	p := &Plan{Printer: words.In(shop.Language, shop.DecimalComma), Spec: spec, Shop: shop}
	out := map[specs.DimensionName][]*Box{}
	for _, stage := range []func() *Stage{
		p.receive, p.benchAsFound, func() *Stage { return p.strip(out) }, p.clean, p.driveEnd,
		func() *Stage { return p.timing(out) },
		func() *Stage {
			return p.adjusted("G", "Plunger spring preset", "", out, specs.SpringPreset)
		},
		func() *Stage {
			if spec.Equipment.PreStroke {
				return p.adjusted("H", "Pre-stroke", "", out, specs.PreStroke)
			}
			return p.adjusted("H", "Plunger depth", "", out, specs.PlungerDepth)
		},
		p.head,
		func() *Stage {
			return p.adjusted("K", "Governor", specs.AtGovernor, out, specs.ShaftProjection, specs.EndFloat, specs.StartingGap)
		},
		p.cover, p.benchRun, p.release,
	} {
		p.Stages = append(p.Stages, stage())
	}
	for i, s := range p.Stages[:len(p.Stages)-1] {
		s.Next = p.Stages[i+1].Letter
	}
	for _, s := range p.Stages {
		s.listed = slices.Clip(s.list())
		p.listed = append(p.listed, s.listed...)
	}
	p.listed = slices.Clip(p.listed)
	return p
}

// Boxes lists every box in sheet order.
func (p *Plan) Boxes() []*Box { return p.listed }

func (p *Plan) receive() *Stage {
	b := p.build("A", "Receive")
	sh := b.sheet("Receive the pump", "What came in, and in what state, before anything is touched.")
	sh.add(Do{Steps: []Step{
		b.step("Compare the plate with the head of this page: type, serial number, direction of rotation, number of outlets. If anything differs: stop, put the intake right first.", ""),
		b.step("Drain the fuel into a closed can and plug every opening.", "Fuel burns and harms the skin: no flame or spark, air the place, gloves on. The pump is heavy: carry it with both hands, lay it in its tray with the shaft's end clear."),
		b.step("Cut the tag off this packet's cover and tie it to the pump. Lay what came with it in the same tray.", ""),
		b.step("A seal broken or missing, a part damaged, something of the list not there: write it below, mark it on the pictures, and tell the customer before stage B.", ""),
		b.step("Drive stiff or stuck: do not force it. That, or water, dirt or metal in the fuel: no bench run as found, tick why at B1.", ""),
	}})
	seals := b.choice(b.T("seals on the screws"), "whole", "broken", "none")
	turns := b.choice(b.T("drive turns by hand"), "freely", "stiff", "not at all")
	outside := b.choice(b.T("outside"), "dry", "wet with fuel")
	drained := b.choice(b.T("drained fuel"), "clean", "water", "dirt", "metal")
	sh.add(
		Decide{Heading: b.T("Seen"), Columns: 1, Boxes: []*Box{seals, turns, outside, drained}},
		Decide{Heading: b.T("Done"), Columns: 2, Boxes: b.ticks("plate agrees with this page", "drained and plugged", "tag tied on", "what came with it is complete as listed")},
		Write{Heading: b.T("Damage, missing parts"), Boxes: []*Box{b.text(b.T("outside")), b.text(b.T("connections")), b.text(b.T("levers and cover")), b.text(b.T("customer told: who, when, by whom"))}},
		Pictures{Heading: b.T("Mark here what is damaged, wet or missing"), Drawings: []Drawing{DrawAbove, DrawOutlets}},
	)
	turns.Required = true
	return b.close("", "")
}

const benchCaution = "Coupling and drive under guard; no sleeves, rings or rags near them. Oil mist: extraction on. Spray at injection pressure goes through skin: never feel for a leak with the hand; a pierced skin is an emergency even when the wound looks small."

// setUp says how the pump stands on the bench.
func (p *Plan) setUp() string {
	c := p.Spec.Bench.Conditions
	return p.T("Test oil %s; nozzle holders %s; pipes %s.", c.TestOil, c.NozzleHolders, c.Pipes)
}

// way is the direction of rotation, in capitals.
func (p *Plan) way() string {
	if p.Spec.Pump.Rotation == specs.Left {
		return p.T("LEFT")
	}
	return p.T("RIGHT")
}

// hand is the same in running words.
func (p *Plan) hand() string {
	if p.Spec.Pump.Rotation == specs.Left {
		return p.T("left-hand")
	}
	return p.T("right-hand")
}

func (p *Plan) benchAsFound() *Stage {
	b := p.build("B", "Bench run as found")
	const cannotGoOn = "It does not shut off, or it knocks, binds, smokes or sprays, now or later: stop the bench at once, do not start it again, write why in the remarks, go on to C."
	shutOff := b.step("Lever at idle, before it goes to full for the first time: shut off with the stop lever, if it has one. Nothing may come any more.", cannotGoOn)
	if p.Spec.Equipment.ShutOffSolenoid != "" {
		shutOff = b.step("Lever at idle, before it goes to full for the first time: shut off, once with the solenoid, once with the stop lever, if it has one. Nothing may come any more.", cannotGoOn)
	}
	sh := b.sheet("Bench run as found", "Evidence for the quote: what the pump does before anything is touched.")
	sh.add(Do{Steps: []Step{
		b.step("Only when the drive turns freely (A2) and the drained fuel is clean (A4). Otherwise tick why not, and go on to C.", ""),
		{p.setUp() + " " + b.T("Bleed, run slowly until no air comes, warm up. Direction %s, judged from the drive end.", p.way()), b.T(benchCaution)},
		shutOff,
		b.step("Each point: run until steady, count twice (shut-off once), graduates drained %s each time. Note it as it is; adjust nothing.", "", b.Quantity(p.Spec.Bench.Conditions.DrainTime)),
	}})
	if p.Spec.Equipment.BoostCapsule {
		steps := &sh.Parts[len(sh.Parts)-1]
		*steps = Do{Steps: append((*steps).(Do).Steps, p.boostStep(true))}
	}
	ran := b.choice(b.T("run as found"), "yes", "no, stiff or stuck", "no, water, dirt or metal", "no, not wanted")
	sh.add(Decide{Columns: 1, Boxes: []*Box{ran}})
	ran.Required = true
	p.AsFound = p.run(b, true)
	return b.close("", "")
}

// boostStep says how the capsule is put under pressure, and for what else than the
// delivery it stays without: what that run of the bench has.
func (p *Plan) boostStep(asFound bool) Step {
	also := p.T("pressure and travel")
	if f := p.Spec.Bench.ReturnFlow; f != nil && (f.AsFound || !asFound) {
		also = p.T("pressure, travel and return flow")
	}
	return Step{p.T("Boost: dry air through a regulator to the capsule, read on the %s, steady before the count. 0: line off, the capsule open to the air; so also for %s, unless the sheet's notes say otherwise.", p.named("boost gauge"), also), ""}
}

func (p *Plan) strip(out map[specs.DimensionName][]*Box) *Stage {
	b := p.build("C", "Strip and inspect")
	sh := b.sheet("Strip: shims as they come out", "What is in the pump now decides what goes back; a shim lost or mixed now cannot be measured later.")
	sh.add(Do{Steps: []Step{
		b.step("Before a screw is turned: measure with the %s how far it stands out of its lock nut, and mark its place. When it comes out, count the turns. Write both. A lever: a line across lever and shaft.", "", p.named("depth gauge")),
		b.step("Clean outside first. Take the pump apart on a clean bench, in the order of the maker's instructions.", "Governor, plunger and timing springs are under load: let them off slowly, eye protection on."),
		b.step("Measure every shim as it comes out with the micrometer, at three places round it, and write the middle one of the three below. Bag the shims by place, with the box code on the bag.", ""),
		b.step("Mark every delivery valve with its outlet and every roller with its place: each goes back where it came from.", ""),
	}})
	if p.Spec.Equipment.BoostCapsule {
		sh.add(Note{b.T("Boost capsule: how its screws stand, in the remarks.")})
	}
	p.Screws = []*Box{b.text(b.T("full-load screw")), b.text(b.T("idle screw")), b.text(b.T("high-speed screw")), b.text(b.T("lever mark on its shaft"))}
	sh.add(Write{Heading: b.T("Screws as found: how far out, and turns when they came out"), Boxes: p.Screws})
	for _, name := range specs.DimensionNames {
		d := p.Spec.Dimension(name)
		if d == nil || d.Shims == nil {
			continue
		}
		boxes, sums := b.taken(d)
		out[name] = sums
		sh.add(Write{Heading: b.T(practices[name].title), Boxes: boxes})
	}
	wear := b.sheet("Inspect", "What must be replaced is changed only after the customer has agreed.")
	parts := b.all(
		"shaft, bearing", "shaft seal", "ring, rotor, vanes", "pressure regulator", "rollers, their ring", "cam plate", "head and plunger", "metering sleeve",
		"plunger springs", "delivery valves", "timing piston", "flyweights, lever", "housing, threads",
	)
	if p.Spec.Equipment.ColdStartDevice {
		parts = append(parts, b.T("cold-start device"))
	}
	if p.Spec.Equipment.ShutOffSolenoid != "" {
		parts = append(parts, b.T("solenoid"))
	}
	if p.Spec.Equipment.BoostCapsule {
		parts = append(parts, b.T("boost diaphragm"))
	}
	for _, part := range parts {
		p.Wear = append(p.Wear, b.choice(part, "good", "worn", "replace"))
	}
	wear.add(Note{b.T("Limits: the maker's; by eye where there is none. Worn: seen, can stay. Replace: a new one is needed.")}, Decide{Heading: b.T("Findings"), Columns: 2, Boxes: p.Wear})
	needed := Table{Heading: b.T("Parts needed"), Columns: b.all("quantity", "part", "quantity", "part")}
	for range 4 {
		var row TableRow
		for range 2 {
			quantity := b.number(b.T("quantity"), calc.Plain, 0, 0, 99)
			what := b.sub(b.text(b.T("part")), quantity.Code+"p")
			quantity.Code += "q"
			p.Parts = append(p.Parts, &PartLine{what, quantity})
			row.Boxes = append(row.Boxes, quantity, what)
		}
		needed.Rows = append(needed.Rows, row)
	}
	wear.add(needed)
	p.Approval = b.choice(b.T("approval"), "within what was authorised", "by telephone", "in writing", "not given")
	p.Approval.Required = true
	p.ApprovedBy = b.text(b.T("who agreed, and up to what amount"))
	wear.add(Decide{Heading: b.T("Approval"), Columns: 1, Boxes: []*Box{p.Approval}}, Write{Boxes: []*Box{p.ApprovedBy}})
	return b.close("Nothing is bought or fitted before the customer has approved. Not given: nothing from D to M is done, their boxes stay blank; the one in charge says whether it goes back in parts or together as it was; on to N.", "approval noted by")
}

func (p *Plan) clean() *Stage {
	b := p.build("D", "Clean, draw parts")
	sh := b.sheet("Clean, draw parts", "Clean parts, the right parts, oiled.")
	sh.add(Do{Steps: []Step{
		b.step("Wash every part, blow out every passage, lay out on lint-free cloth.", "Solvent and compressed air: eye protection, gloves, extraction on; never blow towards anyone."),
		b.step("Draw the seal kit and the parts approved at C; compare each with the old one. One missing, or unlike the old one: stop, note it, ask the one in charge; fit nothing in its place.", ""),
		b.step("Only now seen to be worn or cracked: back to C, mark it there, ask the customer again.", ""),
		b.step("Oil every moving part with clean test oil. Plunger and head are a pair: never mix them with another pump's.", ""),
	}})
	done := b.ticks("seal kit drawn", "parts as approved, all there", "all passages clear", "moving parts oiled")
	p.PartsDrawn = done[1]
	sh.add(Decide{Columns: 2, Boxes: done})
	return b.close("", "")
}

// torques declares the torques of some places, to be ticked when done: a table
// with their order, or a line where there is only one.
func (p *Plan) torques(b *builder, at ...specs.TorqueAt) Part {
	t := Table{Heading: b.T("Torques, in this order"), Columns: b.all("fastener", "count", "steps", "order; fastener or washer", "done")}
	var only *specs.Torque
	state := ""
	for _, q := range p.Spec.Torques {
		if !slices.Contains(at, q.At) {
			continue
		}
		x := b.tick(b.T("torque: %s", q.Name))
		x.Required, x.Instrument = true, p.wrench(q)
		p.Torques = append(p.Torques, &TorqueBox{q, x})
		only, state = q, b.T("new washer, or see maker")
		if q.Reuse {
			state = b.T("may be used again")
		}
		t.Rows = append(t.Rows, TableRow{Before: []string{q.Name, fmt.Sprint(q.Count), join("; ", stepWords(p.Printer, q), p.adapterWords(q), p.wrenchNumber(q)), join(";\n", q.Order, state)}, Boxes: []*Box{x}})
	}
	if len(t.Rows) != 1 {
		return t
	}
	x := t.Rows[0].Boxes[0]
	x.Label = join(", ", b.T("torque: %s, %d, each %s", only.Name, only.Count, stepWords(p.Printer, only)), p.adapterWords(only), only.Order, state, cmp.Or(p.named(x.Instrument), b.T(noWrench)))
	return Decide{Boxes: []*Box{x}, Columns: 1}
}

// wrenches are what the shop file may call its torque wrenches, the finest first.
var wrenches = []string{"small torque wrench", "torque wrench", "large torque wrench"}

// noWrench is what the sheet says of a torque that no wrench of the shop reaches.
const noWrench = "NO WRENCH OF THE SHOP REACHES THIS: get one that does"

// wrench is the finest one whose range holds everything that is set on it for a
// torque, or one whose range is not given; "" where none reaches it.
func (p *Plan) wrench(q *specs.Torque) string {
	any, ranged := "", false
	for _, name := range wrenches {
		i := p.Shop.Instrument(name)
		switch {
		case i == nil:
		case i.Range.Unit.Factor == 0:
			any = cmp.Or(any, name)
		case !slices.ContainsFunc(wrenchSettings(q, i), func(s calc.Quantity) bool { return !within(s, i.Range) }):
			return name
		default:
			ranged = true
		}
	}
	if any == "" && !ranged {
		return "torque wrench"
	}
	return any
}

func within(s calc.Quantity, r specs.Range) bool {
	x := s.Value * s.Unit.Factor
	return x >= r.Low*r.Unit.Factor && x <= r.High*r.Unit.Factor
}

// wrenchSettings are what is set on a wrench for the steps of a torque: less than they
// are where an adapter makes the wrench longer.
func wrenchSettings(q *specs.Torque, wrench *specs.Instrument) []calc.Quantity {
	if q.Adapter == 0 || wrench.Length == 0 {
		return q.Steps
	}
	var out []calc.Quantity
	for _, s := range q.Steps {
		v, err := calc.TorqueSetting(s, wrench.Length, q.Adapter, q.AdapterAngle)
		if err != nil {
			return q.Steps
		}
		out = append(out, v)
	}
	return out
}

// Unreached says of each torque that no wrench of the shop reaches.
func (p *Plan) Unreached() []string {
	var out []string
	for _, q := range p.Spec.Torques {
		if p.wrench(q) == "" {
			out = append(out, fmt.Sprintf("%s, %s: no torque wrench has a range that reaches it; get one, and put it into the shop file", q.Name, stepWords(words.Printer{}, q)))
		}
	}
	return out
}

// wrenchNumber is the shop's number of it, where there are several.
func (p *Plan) wrenchNumber(q *specs.Torque) string {
	name := p.wrench(q)
	if name == "" {
		return p.T(noWrench)
	}
	if i := p.Shop.Instrument(name); i != nil && q.Adapter == 0 && p.Shop.Instrument("small torque wrench") != nil {
		return i.Number
	}
	return ""
}

// named is what an instrument is called, with the shop's number.
func (p *Plan) named(instrument string) string {
	if i := p.Shop.Instrument(instrument); i != nil {
		return nameWord(p.Printer, instrument) + " " + i.Number
	}
	return nameWord(p.Printer, instrument)
}

// stepWords writes the steps of a torque in order.
func stepWords(p words.Printer, q *specs.Torque) string {
	var steps []string
	for _, s := range q.Steps {
		steps = append(steps, p.Quantity(s))
	}
	return thenWords(p, steps)
}

// thenWords writes "25, then 42".
func thenWords(p words.Printer, steps []string) string {
	out := steps[0]
	for _, s := range steps[1:] {
		out = p.T("%s, then %s", out, s)
	}
	return out
}

// adapterWords says what to set on the wrench where an adapter lies between it
// and the nut; the shop file gives the wrench's length.
func (p *Plan) adapterWords(q *specs.Torque) string {
	if q.Adapter == 0 {
		return ""
	}
	unit, decimals := calc.MM, 0
	if strings.HasPrefix(q.Steps[0].Unit.Symbol, "lbf") {
		unit, decimals = calc.IN, 2
	}
	length := func(l calc.Length) string { return p.Mark(l.Fixed(unit, decimals)) + " " + unit.Symbol }
	how := p.T("%s adapter in line", length(q.Adapter))
	if q.AdapterAngle != 0 {
		how = p.T("%s adapter at %s°", length(q.Adapter), p.Fixed(q.AdapterAngle, 0))
	}
	wrench := p.Shop.Instrument(p.wrench(q))
	if wrench == nil || wrench.Length == 0 {
		return p.T("%s: work out the setting for your wrench", how)
	}
	var set []string
	for _, s := range q.Steps {
		v, err := calc.TorqueSetting(s, wrench.Length, q.Adapter, q.AdapterAngle)
		if err != nil {
			return p.T("%s: not for a wrench of %s", how, length(wrench.Length))
		}
		set = append(set, p.Fixed(v.Value, 1))
	}
	return p.T("set %s on %s (%s long) with the %s", thenWords(p.Printer, set)+" "+q.Steps[0].Unit.Symbol, wrench.Number, length(wrench.Length), how)
}

func (p *Plan) driveEnd() *Stage {
	b := p.build("E", "Drive end and supply pump")
	sh := b.sheet("Drive end and supply pump", "The ring's place follows the pump's rotation: wrong way round, no pressure.")
	turns, ring := b.T("This pump turns RIGHT, judged from the drive end. Look into the housing: the ring's hole that lies farther from its inner wall goes to the right, the third hole points to the governor side."),
		b.T("ring: farther hole to the right, third hole to the governor side")
	if p.Spec.Pump.Rotation == specs.Left {
		turns, ring = b.T("This pump turns LEFT, judged from the drive end. Look into the housing: the ring's hole that lies farther from its inner wall goes to the left, the third hole points to the governor side."),
			b.T("ring: farther hole to the left, third hole to the governor side")
	}
	sh.add(Do{Drawing: DrawRing, Steps: []Step{
		b.step("New shaft seal, lip to the inside, pressed square; lip oiled.", ""),
		{turns, ""},
		b.step("Rotor and vanes in, vanes' rounded edge outwards; cover plate on, screws evenly.", ""),
		b.step("Drive shaft put in loosely: the rotor must turn with it by hand, without a catch, when the screws are tight; if not, slacken, centre the ring, tighten again. Still catches: out again, look for burrs and for a vane that binds; back to C for the part that is at fault. A third time: stop and ask.", ""),
	}})
	place := b.tick(ring)
	place.Required = true
	sh.add(Decide{Columns: 1, Boxes: append([]*Box{place}, b.ticks("seal new, lip inwards, oiled", "vanes slide freely in the rotor", "rotor turns without a catch")...)},
		p.torques(b, specs.AtSupplyPump))
	return b.close("", "")
}

func (p *Plan) timing(out map[specs.DimensionName][]*Box) *Stage {
	b := p.build("F", "Drive shaft, roller ring, timing piston")
	if d := p.Spec.Dimension(specs.TimingPack); d != nil {
		p.Adjustments = append(p.Adjustments, b.adjust(d, out[d.Name]))
	}
	sh := b.sheet("Shaft and roller ring", "In place and free before the head goes on.")
	sh.add(Do{Steps: []Step{
		b.step("Drive shaft in, its key in the rotor. Turn it by hand: no catch, no play that can be felt.", ""),
		b.step("Each roller in its own place, as marked at C; ring into the housing, pin through the ring into the timing piston, pin secured.", ""),
		b.step("Push the piston from end to end by hand: the ring must follow all the way, and come back.", ""),
		b.step("Now pack, spring and cap: by hand until the spring is held, then to the torque below.", "The spring pushes the cap: keep it square, face out of its line, eye protection on."),
		b.step("Catches anywhere: out again, clean, look for burrs. Still catches, or play: stop, back to C for the part that is at fault.", ""),
	}})
	done := b.ticks("drive shaft turns freely", "rollers at their places, none swapped", "roller ring and piston move freely end to end", "pin secured")
	if !p.Spec.Equipment.ColdStartDevice {
		done = append(done, b.tick(b.T("plain cover plate fitted, no cold-start device")))
	}
	sh.add(Decide{Columns: 2, Boxes: done}, p.torques(b, specs.AtTimingPiston))
	if d := p.Spec.Dimension(specs.ColdStartTravel); d != nil && p.Spec.Equipment.ColdStartDevice {
		p.Adjustments = append(p.Adjustments, b.adjust(d, out[d.Name]))
	}
	return b.close("", "")
}

// adjusted declares a stage of static dimensions and the torques that follow.
func (p *Plan) adjusted(letter, title string, at specs.TorqueAt, out map[specs.DimensionName][]*Box, names ...specs.DimensionName) *Stage {
	b := p.build(letter, title)
	for i, name := range names {
		if d := p.Spec.Dimension(name); d != nil {
			var tightened []specs.TorqueAt
			if i == 0 && at != "" {
				tightened = append(tightened, at) // what is tightened at the governor is the shaft's lock nut
			}
			p.Adjustments = append(p.Adjustments, b.adjust(d, out[name], tightened...))
		}
	}
	return b.close("", "")
}

func (p *Plan) head() *Stage {
	b := p.build("J", "Head and delivery valves")
	sh := b.sheet("Head and delivery valves", "Tightened in order and in steps: a head pulled down crooked breaks the plunger.")
	before := b.ticks("ball pin of the governor lever in the sleeve's hole: the lever moves the sleeve", "cam plate and plunger on their pins, springs and shims at their places")
	before[0].Required = true
	sh.add(
		Do{Drawing: DrawOutlets, Steps: []Step{
			b.step("Inner parts in the order of the maker's instructions. Look, before the head goes down: pin of the roller ring in the piston and secured; cam plate and plunger on their drive pins; springs and shims at their places, alike on both sides; ball pin of the governor lever in the hole of the metering sleeve.",
				"A ball pin beside its hole can leave the pump at full delivery, and the engine overspeeds."),
		}},
		Decide{Columns: 1, Boxes: before},
		Do{From: 1, Steps: []Step{
			b.step("Lower the head straight; it must sit down by hand. Head still on from H: leave it, if all that was seen then.", "Springs push the head up: hold it down evenly while the first screws catch."),
			b.step("Head screws in the order and steps below.", ""),
			b.step("Delivery valves oiled, each back to its own outlet, washers new, unless the maker says otherwise; holders to torque. Plug every outlet. You fit them from the head end: the picture on the right. Go by the marks on the head; the first need not be on top.", ""),
			b.step("Turn the drive through one whole turn by hand: no catch. It catches: do not force it; head off, look at plunger, springs and shims (G, H), and on again. It catches again: stop, back to C, ask the one in charge.", ""),
		}},
		p.torques(b, specs.AtHead, specs.AtDeliveryValve),
		Decide{Columns: 2, Boxes: b.ticks("delivery valves at their own outlets", "drive turns through without a catch")},
		p.oneByOne(b))
	return b.close("", "")
}

// oneByOne is a list to tick while the delivery valves go in, outlet by outlet,
// and each holder is tightened in steps. Nothing of it is typed.
func (p *Plan) oneByOne(b *builder) AsYouGo {
	out := AsYouGo{Heading: b.T("Tick as you go, so that none is left out; not typed back"), Columns: p.Spec.Pump.Marks,
		Rows: b.all("own valve, washer")}
	for _, q := range p.Spec.Torques {
		if q.At != specs.AtDeliveryValve {
			continue
		}
		set := q.Steps
		if wrench := p.Shop.Instrument(p.wrench(q)); wrench != nil {
			set = wrenchSettings(q, wrench)
		}
		for i, s := range q.Steps {
			row := q.Name + " " + p.Quantity(s)
			if set[i] != s {
				row = p.T("%s, set %s", row, p.Fixed(set[i].Value, 1))
			}
			out.Rows = append(out.Rows, row)
		}
	}
	out.Rows = append(out.Rows, b.T("outlet plugged"))
	return out
}

func (p *Plan) cover() *Stage {
	b := p.build("L", "Cover, levers, overflow")
	sh := b.sheet("Cover, levers, overflow", "Everything outside at its place, and tight.")
	codes := make([]any, len(p.Screws))
	for i, screw := range p.Screws {
		codes[i] = screw.Code
	}
	steps := []Step{
		b.step("Control lever on its shaft by the mark, %s. Check: 90° to the pump axis in its middle position. Not both: stop and ask. Return springs hooked as they were.", "Springs on the levers snap back: pliers, not fingers.", codes[3]),
		b.step("Screws as far out as at C: full-load %s, to be set on the bench; idle %s; high-speed %s; lock nuts tight. A fresh page, after M: they stay as M left them, tick it so.", "", codes[:3]...),
		b.step("Overflow fitting to the return connection only; it has a restriction that the inlet banjo has not.", ""),
	}
	no := ""
	if v := p.Spec.Equipment.ShutOffSolenoid; v != "" {
		no = b.T("Solenoid does not click: look for %s at its terminal, then try another and take it off again. It clicks: back to C for a new one. Still none: tell the one in charge.", p.Mark(v))
	}
	if p.Spec.Equipment.BoostCapsule {
		no = join(" ", no, b.T("Boost pin sticks: capsule off, look for dirt or a bent pin. Still sticks: back to C."))
	}
	done := b.ticks("control lever at 90° to the pump axis", "overflow fitting at the return")
	for _, screw := range p.Screws {
		done = append(done, b.tick(b.T("%s as at %s", screw.Label, screw.Code)))
	}
	if v := p.Spec.Equipment.ShutOffSolenoid; v != "" {
		done = append(done, b.tick(b.T("solenoid clicks at %s", p.Mark(v))))
	}
	if p.Spec.Equipment.BoostCapsule {
		done = append(done, b.tick(b.T("boost capsule tight, pin moves freely")))
	}
	torques := p.torques(b, specs.AtCover)
	var test Do
	var leaks Table
	if l := p.Spec.Bench.LeakTest; l != nil {
		pressure, time := b.Quantity(l.Pressure), b.Quantity(l.Time)
		test = Do{Heading: b.T("Leak test"), Steps: []Step{b.step("All tight, lock nuts too, outlets and return plugged. Test oil to the inlet from a hand pump, or from the bench supply through its regulator, until the %s reads %s; shut the supply for %s. Wipe dry, wait, look. Weeps or leaks: pressure off, put it right, test again. Third test out: stop and ask, no bench run.",
			"Use test oil, not air alone: a casing under air can burst. Guard in place.", p.named("inlet gauge"), pressure, time)}}
		leaks = Table{Columns: []string{"", b.T("housing at %s for %s", pressure, time), b.T("where, and what was done")}}
		var first *Box
		for i, nth := range b.all("first test", "second test", "third test") {
			held := b.choice(join(", ", nth, b.T("housing at %s for %s", pressure, time)), "dry", "weeps", "leaks")
			where := b.sub(b.text(b.T("where, and what was done")), held.Code+"w")
			if i == 0 {
				first, held.Required = held, true
				p.Looks = append(p.Looks, Look{outsideDry, held, 1, true})
			} else {
				first.Again = append(first.Again, held)
			}
			leaks.Rows = append(leaks.Rows, TableRow{Before: []string{nth}, Boxes: []*Box{held, where}})
		}
	}
	sh.add(Do{Drawing: DrawLever, Steps: steps}, Decide{Columns: 2, Boxes: done}, Note{no}, torques, test, leaks,
		Note{b.T("**Opened again, whatever for: new seals, torques and leak test once more, on a fresh page** (the office prints it: traveller new --pages\u00a0%s).", b.stage.Letter)}, Free{Heading: b.T("Notes, sketch"), Height: 40})
	return b.close("", "")
}

func (p *Plan) benchRun() *Stage {
	b := p.build("M", "Bench run")
	sh := b.sheet("Bench run", "Proof that the pump meets its test sheet.")
	c := p.Spec.Bench.Conditions
	steps := []Step{{p.setUp(), ""}}
	for _, n := range p.Spec.Notes {
		steps = append(steps, Step{n, ""})
	}
	tried := b.tick(b.T("shut-off tried at idle, warm: nothing came"))
	tried.Required = true
	how := b.T("stop lever to its stop")
	if p.Spec.Equipment.ShutOffSolenoid != "" {
		how = b.T("solenoid off")
	}
	steps = append(steps, []Step{
		b.step("Direction of rotation %s, judged from the drive end. Bleed, run slowly until no air comes, then warm up.", benchCaution, p.way()),
		b.step("At idle, before the lever goes to full: %s. Nothing may come: tick %s. Else stop, see “If it is out”.", "", how, tried.Code),
		b.step("Each point, from top to bottom of these pages: run until steady, count the strokes, let every graduate drain %s before the next fill, take it twice (shut-off once), write all. Out: to “If it is out” before the next table.",
			"It knocks, binds, smokes, sprays: stop at once, ask the one in charge before it starts again. Shut-off or run-out cannot be brought in: it stays in the shop; a pump that sticks open can overspeed an engine.", b.Quantity(c.DrainTime)),
	}...)
	if p.boosted() != nil {
		steps = append(steps, p.boostStep(false))
	}
	sh.add(Do{Steps: steps}, Decide{Columns: 1, Boxes: []*Box{tried}})
	p.Final = p.run(b, false)
	return b.close("", "")
}

func (p *Plan) release() *Stage {
	b := p.build("N", "Release")
	sh := b.sheet("Release", "Nothing leaves without a second pair of eyes.")
	sh.add(Do{Steps: []Step{
		b.step("Note and hours below first. The office types the readings back, **benchreport enter jobs/** and the number at the head of this page, and makes the report, **benchreport make jobs/** with the same. What it calls out of limits, doubtful or missing goes back to its stage, but for the run as found and what follows here.", ""),
		b.step("Screws that set delivery and speed locked and sealed; every opening capped; pump dry outside.", ""),
		b.step("The second person looks at pump, packet and report, then signs here; with that typed and the report made again, signs the report too. Not content: no signature, back to its stage.", ""),
	}})
	sh.add(Decide{Columns: 2, Boxes: b.ticks("screws locked and sealed", "openings capped", "report made and read", "what came with it is back with it")})
	sh.add(Handover{b.T("Goes back with the pump"), b.all("parts taken out, where the customer wants them", "report, signed")})
	p.Note = b.text(b.T("note for the customer"))
	p.Note.Lines = 3
	sh.add(Write{Heading: b.T("For the customer"), Note: b.T("Printed on the report, under “Please note”."), Boxes: []*Box{p.Note}})
	p.Hours = b.number(b.T("hours of work"), calc.Hours, 2, 0, 99)
	sh.add(Write{Heading: b.T("For the invoice"), Note: b.T("Of everybody, on this pump. The report does not show them."), Boxes: []*Box{p.Hours}})
	return b.close("The pump stays in the shop until a second person, not the one who tested it, has signed.", "released by")
}

// curveMax is a round figure not below x, for the end of an axis.
func curveMax(x, step float64) float64 { return math.Ceil(x/step) * step }
