package packet

import "shimcard/specs"

// remedy is what usually lies behind something that is out on the bench, in the
// order in which it is looked at: the sheet prints it, and the report's hints
// say the same. Common practice, no source; the maker's sheet has the last word.
type remedy struct {
	Out    string
	Causes []string
	Do     string // what the causes alone do not say; "" nothing
	Again  string // what is run once more after a change, since it moves too
}

// What is out, and what lies behind it.
var (
	passesFuel = remedy{"shut-off passes fuel",
		[]string{"solenoid plunger sticks, or its seat is dirty or worn", "metering sleeve sticks on the plunger", "stop lever or its linkage does not reach its end"},
		"The pump does not leave until nothing comes.", "shut-off, solenoid on again"}
	inletOut = remedy{"inlet temperature or pressure",
		[]string{"heater or cooler of the bench", "where the thermometer sits", "feed pump or its relief valve"},
		"", "all that was read with it out"}
	readingsDiffer = remedy{"two readings too far apart",
		[]string{"air in the feed, or not yet warm and steady", "a graduate not drained as long as the other time", "strokes not counted to the same number", "a figure misread or written in the wrong place"},
		"", "that point, before anything is turned"}
	pressureLow = remedy{"pressure low",
		[]string{"regulator plug not pressed in far enough", overflowPasses, "regulator spring or piston", "feed or filter"},
		"Press the regulator plug in a little at a time, reading the pressure after each: it only goes one way.", "pressures, travels, full load"}
	pressureShort = remedy{"pressure low at the top only",
		[]string{"feed restricted or drawing air: inlet pressure falls at speed", overflowPasses, "ring, rotor or vanes worn", "regulator leaks past its piston"},
		"", "pressures, travels, full load"}
	pressureHigh = remedy{"pressure high",
		[]string{"regulator plug pressed in too far", "regulator piston sticks", "overflow fitting or return line restricted"},
		"Look whether the return line is free. Then regulator out, plug back, start again: it only goes one way.", "pressures, travels, full load"}
	travelOff = remedy{"travel off by the same at every speed",
		[]string{"the travel gauge not set to zero at rest"},
		"Work out the pack at F: total wanted = pack now + (travel read − middle of its limits). The report judges that pack by this total. Fit it on a fresh page F; what was not opened stands on the old one. No stack of it there: stop, ask.", "travels"}
	travelSlope = remedy{"travel wrong at one speed",
		[]string{"pressure wrong there: put that right first", "spring of the timing piston: another one, or tired", "a figure misread: read it again going up"},
		"A pack moves all speeds alike and cannot cure it.", "pressures, travels"}
	travelShort = remedy{"travel short at the top only",
		[]string{"piston meets its stop early: prescribed shim and rest of the pack exchanged", "piston or ring sticks near its end", "pressure falls off there"},
		"", "travels"}
	pistonSticks = remedy{"travel differs coming down",
		[]string{"piston scored or dirty in its bore", "pin or roller ring tight", "seal of the cap dragging"},
		"No other pack until it moves freely: a pack cannot cure it.", "travels"}
	outletLow = remedy{"one outlet off",
		[]string{"its nozzle holder or pipe on the bench", "its delivery valve: dirt, seat, spring, piston", "its washer or holder: torque, leak", "head bore or plunger port at this outlet"},
		"Change its holder and pipe with a neighbour's, count again. If it goes with them, it is the bench; if it stays, change its delivery valve next.", "that point, full load"}
	spreadWide = remedy{"spread too wide, no outlet apart",
		[]string{"nozzle holders or pipes not a matched set, opening pressures apart", "delivery valves of mixed make or wear", "head and plunger worn"},
		"", "that point, full load"}
	fullLow = remedy{"full load off at every speed",
		[]string{"full-load screw", "inlet pressure, air or filter", "governor shaft projection or starting gap, at K"},
		"Above its limit it does not leave.", "all delivery points, falling branch"}
	fullTop = remedy{"full load low at the top only",
		[]string{"feed restricted or drawing air: inlet pressure falls at speed", "supply pressure low at the top", "governor begins too early: high-speed screw, governor shaft", "plunger springs weak"},
		"", "full load, falling branch"}
	fullOne = remedy{"full load high at one speed",
		[]string{"strokes or a figure miscounted there", "governor begins too late: high-speed screw", "metering sleeve or lever sticks"},
		"Count that point again before anything is turned.", "full load, falling branch"}
	fullBottom = remedy{"full load low at the low speed only",
		[]string{"delivery valves leak back", "head and plunger worn: it leaks while it pumps slowly", "oil too warm"},
		"", "full load, starting"}
	startingLow = remedy{"starting",
		[]string{"starting gap, at K: end plug", "starting lever does not come free, or its spring", "delivery valves leak back", "head and plunger worn"},
		"", "starting, full load, idle"}
	boostStart = remedy{"boost point at 0",
		[]string{"line not vented: pressure left in the capsule", "capsule's start setting or stop screw", "pin or feeler sticks"},
		"", "all boost points, full load"}
	boostLow = remedy{"boost point under pressure",
		[]string{"capsule's spring set wrong", "pin or feeler sticks", "boost diaphragm or its line leaks"},
		"Does the capsule hold its pressure, closed off? Then its pin must move freely; only then its setting.", "all boost points, full load"}
	partLoad = remedy{"part load",
		[]string{"lever not where the sheet wants it", "governor spring", "governor dimensions at K"},
		"", "part load, idle, falling branch"}
	idleOff = remedy{"idle",
		[]string{"idle screw", "idle spring, lever friction", "flyweight end float or governor shaft, at K"},
		"Idle screw, small steps, lever let back from full each time.", "idle, falling branch"}
	runOutLate = remedy{"run-out late, governed point high",
		[]string{"high-speed screw too far out", "governor spring too strong or its anchor misplaced", "metering sleeve or lever sticks", "governor shaft projection, at K"},
		"High-speed screw first; droop follows from it. If it does not come in, or does not come back the same each time: stop, governor open.", "full load at rated speed, governed points, falling branch"}
	runOutEarly = remedy{"run-out early, governed point low",
		[]string{"high-speed screw too far in", "governor spring weak", "governor shaft projection or end float, at K"},
		"", "full load at rated speed, governed points, falling branch"}
	runOutSlow = remedy{"run-out ends late",
		[]string{"governor spring too soft or worn", "friction in levers or sleeve", "flyweight end float, at K"},
		"The high-speed screw cannot cure it: governor open, levers must move without a catch, spring against a new one.", "governed points, falling branch"}
	droopSmall = remedy{"droop small",
		[]string{"governor spring too stiff", "too little end float, at K"}, "", "governed points, falling branch"}
	returnLow = remedy{"return flow low",
		[]string{"restriction in the overflow fitting blocked, or inlet banjo fitted there", "supply pressure low", "return line bent or blocked"},
		"", "return flow, pressures"}
	returnHigh = remedy{"return flow high",
		[]string{"overflow fitting without restriction, or worn", "supply pressure high", "internal leak past the head"},
		"", "return flow, pressures"}
	outsideWet = remedy{"outside weeps or leaks",
		[]string{"a seal or washer", "a screw not at its torque", "a crack"},
		"", "leak test at L"}
	solenoidShut = remedy{"solenoid on again: no delivery",
		[]string{"no voltage, or the wrong one", "solenoid plunger sticks, or its seat is dirty or worn", "solenoid burnt out"},
		"", "shut-off, solenoid on again"}
	leverPasses = remedy{"stop lever does not stop it",
		[]string{"lever or its shaft slipped on its splines", "stop lever or its linkage does not reach its end", "metering sleeve sticks on the plunger"},
		"The pump does not leave until it stops.", "stop lever, falling branch"}
)

// whatIfOut says, for everything that is read at the bench, what is done when it
// is out.
func (b *builder) whatIfOut(r *Run) Advice {
	bench, equipment := &b.Spec.Bench, b.Spec.Equipment
	has := func(kind specs.PointKind) bool {
		for _, p := range bench.Deliveries {
			if p.Kind == kind {
				return true
			}
		}
		return false
	}
	out := Advice{Heading: b.T("If it is out"), Note: b.T("From the top down: each rests on those above it. Bench stopped before a pipe is changed or a plug touched. Causes in their order, one change at a time, then again what stands behind the arrow; changes and trial readings on a separate sheet, not typed back."),
		Foot: b.T("Two things changed and still out, or it does not come back the same twice: stop, show it to the one in charge. Was anything changed after the first reading of this stage, but the full-load screw at its own table: when all is in, run the whole stage once more, on fresh pages. Was it opened, at F for example: before that fresh pages F and L, torques and leak test again. The office prints them: **traveller new --pages F,L,M** and the job's folder. The last run counts; strike the old pages through, keep them.")}
	add := func(when bool, list ...remedy) {
		for _, m := range list {
			if when {
				out.Rows = append(out.Rows, [2]string{b.T(m.Out), join(" ", sentence(b.all(m.Causes...)), b.T(m.Do), "→ **"+b.T(m.Again)+"**")})
			}
		}
	}
	add(has(specs.ShutOff), passesFuel)
	add(true, leverPasses)
	add(equipment.ShutOffSolenoid != "", solenoidShut)
	add(true, inletOut, readingsDiffer)
	add(len(r.Pressure) > 0, pressureLow, pressureShort, pressureHigh)
	add(bench.ReturnFlow != nil, returnLow, returnHigh)
	add(len(r.Travel) > 0, pistonSticks, travelOff, travelSlope, travelShort)
	add(true, outletLow, spreadWide)
	add(has(specs.FullLoad), fullLow, fullTop, fullOne, fullBottom)
	add(has(specs.Boost), boostStart, boostLow)
	add(has(specs.Starting), startingLow)
	slow, droop := runOutSlow, bench.Droop != nil && bench.Droop.Limits != nil
	if droop {
		slow.Out = "run-out ends late, droop large"
	}
	add(has(specs.Governed) || len(r.RunOut) > 0, runOutLate, runOutEarly, slow)
	add(droop && bench.Droop.Limits.Low > 0, droopSmall)
	add(has(specs.PartLoad), partLoad)
	add(has(specs.Idle), idleOff)
	add(true, outsideWet)
	return out
}

// causes are a remedy's, in the language of the shop; first go those that only
// these readings point to.
func (c *clues) causes(m remedy, first ...string) []string {
	return append(c.plan.all(first...), c.plan.all(m.Causes...)...)
}
