// Package specs says what a pump must be: it reads and checks the spec file,
// typed once from the maker's test sheet by someone who vouches for it, and
// the shop file. It knows no job and no paper.
//
// # Spec file
//
// A spec file is plain YAML. Every figure carries its unit, every decimal
// written is kept, a decimal comma is as good as a point outside [ ] and { },
// and every key not listed here is refused. A length has at most 5 decimals in
// mm and 6 in inches. Names have at most 60 characters; those of trays,
// instruments, levers and who vouches 40, of parts 20, outlet marks 4; a note
// has 300, any other text 160. A text with ": " or " #" in it, or that begins
// with one of - ? & * ! | > % @ [ { and the like, stands in double quotes.
//
//	spec: 1                      # version of this format
//	invented: yes                # optional: demonstration figures, said on every page
//	pump:
//	  name: Ostrel D4
//	  kind: axial-plunger distributor
//	  outlets: 4                 # 2 to 12
//	  outlet marks: [A, B, C, D] # optional, in injection order; 1, 2, 3 … unless given
//	  rotation: right            # right | left, looking at the drive end
//	vouched: {by: R.T., on: 2026-10-02, from: "test sheet 118, issue C"} # by: nobody: every sheet and report says so
//	equipment:
//	  cold start: device         # device | cover plate
//	  boost capsule: no
//	  shut-off solenoid: 12 V    # no | 12 V | 24 V
//	  stroke start: lowest point # lowest point | pre-stroke
//
// Dimensions. All but cold-start travel are required, plunger depth on pumps
// that start the stroke at the lowest point, pre-stroke on the others:
//
//	dimensions:
//	  timing shim pack:          # a sum; shims required
//	  cold-start travel:         # only with the device; shims optional
//	  plunger spring preset:     # shims required
//	  plunger depth at lowest point: # or pre-stroke; shims required
//	  governor shaft projection: # thread required, no shims
//	  flyweight end float:       # shims required
//	  starting gap:              # shims required: end plugs, say
//
// each with
//
//	target: 6.20 mm
//	limits: [6.10 mm, 6.30 mm]   # the lower first, in the target's unit
//	instrument: depth micrometer # as the shop file calls it
//	believable: [4 mm, 8 mm]     # optional: a reading outside is queried
//	repeats: 3                   # optional, 1 to 3
//	take: mean                   # optional: mean | largest | smallest | bracket
//	effect: -1                   # change of the dimension for 1 mm more of shim
//	shims: {tray: preset shims, places: 2, most per place: 2}
//	shims: {tray: timing shims, most per place: 3, prescribed: 0.60 mm} # timing pack
//	thread: {pitch: 1.0 mm, hand: right, out: grows}   # governor shaft; out: grows | shrinks
//	block: 12.00 mm              # optional, starting gap: the spacer block's size
//	oil pressure: 0.25 bar       # optional, pre-stroke: of the oil at the inlet
//
// All lengths of a dimension, its pitch and its tray are in one unit, and none is
// below 0. Unless given, believable is target ± the larger of ten times half the
// limits' width and half the target, never below nothing; repeats is 1, for
// plunger depth 3 (and take is then largest); take is mean. A bracket is the
// feeler blade that goes and the one that does not, so it takes no repeats.
// Effect is +1 for timing shim pack and plunger spring preset, −1 for plunger
// depth, pre-stroke, flyweight end float and starting gap (common practice, no
// source); cold-start travel has no default. Places, the equal stacks, is
// optional and always 2 for plunger spring preset (both guide pins; common
// practice, no source) and 1 for every other; most per place, the shims in one
// stack, is 1. Prescribed, optional and for the timing pack only, is the one
// shim that goes in the piston: a size of the tray, less than the target.
//
//	trays:
//	  preset shims: [0.50 mm, 0.55 mm, 0.60 mm]
//	  foot shims: {from: 1.90 mm, to: 2.90 mm, step: 0.05 mm}
//	  end plugs: {sizes: [8.0 mm, 8.2 mm], part: end plug}   # part: "shim" unless given
//
// Every tray is used by a dimension and fine enough for it: among the
// thicknesses its stacks can have there must be a run, at least as long as the
// limits are wide, in which neighbours lie no further apart than the limits
// are wide. Otherwise some pump could not be brought inside.
//
//	timing piston: {diameter: 20 mm, spring rate: 12 N/mm, stroke: 7.0 mm, pin radius: 25 mm}   # optional
//
// Diameter and spring rate, both or neither, tell what a shim does. Stroke is
// the largest travel, where the stop is, and pin radius reaches from the middle
// of the roller ring to the pin by which the piston turns it. One figure of
// these is enough. No timing travel asked for lies wholly beyond the stroke.
//
//	torques:
//	  - {name: head screws, at: head, count: 4, steps: [5 N·m, 12 N·m], order: "crosswise, evenly", new: no}
//
// at is supply pump, timing piston, head, delivery valves, governor or cover;
// order and new (fastener or washer must be new) are optional. adapter: 40 mm,
// with adapter angle: 90° unless in line, says that an adapter lies between
// wrench and nut; with the wrench's length in the shop file the sheet prints
// what to set.
//
//	bench:
//	  conditions:
//	    test oil: ISO 4113 calibration fluid
//	    inlet temperature: [38 °C, 42 °C]
//	    reference: 40 °C
//	    density at 15 °C: 825 kg/m³            # 700 to 1000 kg/m³
//	    inlet pressure: [0.30 bar, 0.40 bar]   # optional
//	    nozzle holders: "calibrated, opening at 175 bar"
//	    pipes: "840 mm, 2 mm bore"
//	    drain time: 30 s
//	  supply pressure:
//	    - {speed: 500 rev/min, limits: [2.6 bar, 3.2 bar], as found: yes}
//	  timing travel:
//	    - {speed: 800 rev/min, limits: [1.2 mm, 1.8 mm]}
//	  spread means: highest less lowest        # optional: highest less lowest | farthest from the mean
//	  delivery:
//	    - {name: full load, kind: full load, speed: 1200 rev/min, lever: full, strokes: 1000,
//	       limits: [35.0 cm³/1000, 37.0 cm³/1000], spread: 2.0 cm³/1000, as found: yes}
//	    - {name: shut-off, kind: shut-off, speed: 300 rev/min, lever: full, strokes: 500, at most: 0.0 cm³/1000}
//	  run-out: {at: 10.0 cm³/1000, limits: [2300 rev/min, 2400 rev/min]}   # optional; one, or a list of them
//	  droop: {rated: 2100 rev/min, no load at: 4.0 cm³/1000, at most: 16 %}  # optional, its limits too
//	  return flow: {speed: 1200 rev/min, limits: [40 L/h, 75 L/h], as found: yes}   # optional
//	  leak test: {pressure: 0.5 bar, time: 60 s}                           # optional
//	  full-load screw: full load   # optional: the point the screw sets, with both limits
//	engine: {fuel density at 15 °C: 835 kg/m³, specific consumption: 240 g/kWh}   # optional
//	notes: ["…"]                   # optional, printed on the cover
//
// A range is limits: [low, high], at most: x or at least: x. The points of
// supply pressure and timing travel stand in any order, each speed once. A
// spread is in cm³/1000 or in %; where it means the outlet farthest from the
// mean, what is permitted is ± from the mean. kind is full load, part load, boost, governed, idle,
// starting or shut-off; one shut-off point is always required, and its only
// limit is at most: 0, with any decimals and no spread: nothing may come. A boost
// point gives boost: 0.7 bar, and the pump has the capsule. With a run-out,
// whose limits may be one-sided, there are two governed points or more, and the
// points at full load and governed reach from its lower speed or less to its
// higher or more. Run-outs stand in any order, each delivery once, and the
// smaller delivery has the higher speeds. Droop is (no-load − rated)/rated, ISO
// 3046-4, the no-load speed that at which the delivery has fallen to no load at;
// it is read between the same points, which reach to what its limits allow, and
// the rated speed is below the last of them. The delivery of a run-out or of no
// load is below the lower limit of the fastest point at full load. lever is
// "full" unless given, strokes 1000. as found marks what is also read before
// anything is touched; on one run-out it is for all of them.
//
// With engine the report estimates the fuel flow and the power it supports;
// specific consumption is from 150 to 500 g/kWh.
//
// # Shop file
//
//	shop: 1
//	name: Saltmarsh Injection Bench
//	address: [Sluice Lane 4, Saltmarsh]   # optional, up to six lines
//	contact: bench@saltmarsh.example      # optional
//	language: en                          # optional, of what is printed: en | de
//	decimal mark: point                   # optional: point | comma
//	paper: A4                             # optional: A4 | Letter
//	filing: two holes                     # optional: two holes (ISO 838) | three holes
//	site: K                               # optional: one or two letters in the job numbers, 26-K0412-D
//	printed on: one side                  # optional: one side | both sides
//	delivery read by: graduates           # optional: graduates | meter
//	invented: yes                         # optional
//	instruments:
//	  depth micrometer: {number: DM-2, resolution: 0.01 mm, permissible error: 0.005 mm, calibration due: 2027-03-01}
//	stock:                                # optional: how many of each size
//	  preset shims: {0.50 mm: 4, 0.55 mm: 6}
//	stock applied: 12                     # written by benchreport stock: lines of the stock book in these counts
//
// permissible error is the largest, ±, and above nothing; calibration due is
// optional. The sheets use those named micrometer, torque wrench, pressure gauge,
// inlet gauge, boost gauge, timing travel gauge, graduates or delivery meter, oil thermometer
// (the oil in the graduates), measuring vessel (return flow), bench tachometer,
// thermometer (the inlet, and the graduates where there is no other) and stop
// watch, each with a resolution in what it measures. A shop that reads deliveries
// by meter has a delivery meter, in mm³/stroke or cm³/1000, the same number.
// An address line has at most 60 characters, the contact 80, a number 20.
package specs
