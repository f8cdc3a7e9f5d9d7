package specs_test

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/specs"
	"shimcard/specs/strict"
)

func demo(t testing.TB, name string) string {
	t.Helper()
	data, err := fs.ReadFile(specs.Demo(), name)
	require.NoError(t, err)
	return string(data)
}

// edit replaces one passage that occurs exactly once.
func edit(t *testing.T, text, old, with string) string {
	t.Helper()
	require.Equal(t, 1, strings.Count(text, old), "passage to edit: %q", old)
	return strings.Replace(text, old, with, 1)
}

// position is where the first occurrence of a passage stands, counted by hand
// and not by the reader under test. A bar in the passage marks the spot:
// "limits: |[6.30".
func position(t *testing.T, text, passage string) string {
	t.Helper()
	before, after, _ := strings.Cut(passage, "|")
	i := strings.Index(text, before+after)
	require.GreaterOrEqual(t, i, 0, "passage to find: %q", passage)
	if strings.Contains(passage, "|") {
		i += len(before)
	}
	line := strings.Count(text[:i], "\n") + 1
	start := strings.LastIndexByte(text[:i], '\n') + 1
	return fmt.Sprintf("%d:%d", line, utf8.RuneCountInString(text[start:i])+1)
}

// rejection is one slip in a demonstration file: what is replaced, where the
// fault points and what it says, one fault unless more is given.
type rejection struct {
	name, old, with string
	at, says        string
	more            int // further faults that follow from the same slip
}

func reject(t *testing.T, file string, read func(string, []byte) error, cases []rejection) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			text := edit(t, demo(t, file), c.old, c.with)
			err := read("x.yaml", []byte(text))
			require.Error(t, err)
			var faults strict.Faults
			require.True(t, errors.As(err, &faults))
			assert.Len(t, faults, 1+c.more, "%v", err)
			assert.Contains(t, err.Error(), "x.yaml:"+position(t, text, c.at)+": "+c.says)
		})
	}
}

func spec(file string, data []byte) error { _, err := specs.ReadSpec(file, data); return err }
func shop(file string, data []byte) error { _, err := specs.ReadShop(file, data); return err }

func TestSpecRejections(t *testing.T) {
	const preset = "    target: 6.20 mm\n    limits: [6.10 mm, 6.30 mm]"
	const head = "  - {name: head screws, at: head, count: 4,"
	reject(t, "ostrel-d4.yaml", spec, []rejection{
		{"version of the future", "spec: 1\n", "spec: 2\n", "spec: |2", "spec: found version 2; write 1, the version this program reads", 0},
		{"unknown key", "  outlets: 4\n", "  outlets: 4\n  rotatoin: right\n", "rotatoin", "pump: found the unknown key rotatoin; write rotation", 0},
		{"unknown key at the top", "notes:\n", "nots:\n", "nots:", "found the unknown key nots; write notes", 0},
		{"key missing", ", on: 2026-10-02", "", "{by: R.T.", "vouched / on: found no such key; write on: 2026-10-02", 0},
		{"no unit", preset, "    target: 6.20\n    limits: [6.10 mm, 6.30 mm]", "6.20\n", "dimensions / plunger spring preset / target: found 6.20 without a unit; write 6.20 mm or 0.2441 in", 0},
		{"no unit in a pressure", "[2.6 bar, 3.2 bar]", "[2.6 bar, 3.2]", "3.2]", "bench / supply pressure / 1 / limits / 2: found 3.2 without a unit; write 3.2 bar or 46.4 psi", 0},
		{"wrong kind of unit", "[2.6 bar, 3.2 bar]", "[2.6 bar, 3.2 mm]", "3.2 mm", "bench / supply pressure / 1 / limits / 2: found 3.2 mm, a length; write a pressure, as 2.6 bar", 0},
		{"unknown unit", "inlet pressure: [0.30 bar", "inlet pressure: [0.30 bra", "0.30 bra", "bench / conditions / inlet pressure / 1: found 0.30 bra, whose unit is not known; write 0.30 bar", 0},
		{"not a quantity", "drain time: 30 s", "drain time: half a minute", "half a", "bench / conditions / drain time: found half a minute; write a duration, as 30 s", 0},
		{"limits wrong way round", preset, "    target: 6.20 mm\n    limits: [6.30 mm, 6.10 mm]", "[6.30 mm, 6.10", "dimensions / plunger spring preset / limits: found limits of 6.30 mm to 6.10 mm; write the lower first and the higher second, as [6.10 mm, 6.30 mm]", 0},
		{"decimal comma inside brackets", preset, "    target: 6,20 mm\n    limits: [6,10 mm, 6,30 mm]", "[6,10", "dimensions / plunger spring preset / limits: found a list of 4; write two, [low, high]; inside [ ] the decimal mark is a point", 0},
		{"one limit", preset, "    target: 6.20 mm\n    limits: [6.10 mm]", "[6.10 mm]", "dimensions / plunger spring preset / limits: found a list of 1; write two, [low, high]", 0},
		{"target outside limits", preset, "    target: 2.60 mm\n    limits: [6.10 mm, 6.30 mm]", "2.60 mm\n", "dimensions / plunger spring preset / target: found 2.60 mm, outside the limits 6.10 to 6.30 mm; write a target within them", 0},
		{"two units in one dimension", preset, "    target: 6.20 mm\n    limits: [6.10 mm, 0.248 in]", "0.248 in", "dimensions / plunger spring preset / limits / 2: found 0.248 in among figures in mm", 0},
		{"negative length", preset, "    target: 6.20 mm\n    limits: [-6.10 mm, 6.30 mm]", "-6.10", "dimensions / plunger spring preset / limits / 1: found −6.10 mm; write a length of 0 or above", 0},
		{"limits that reach below nothing", "    limits: [0.20 mm, 0.40 mm]", "    limits: [-0.01 mm, 0.61 mm]", "-0.01", "dimensions / flyweight end float / limits / 1: found −0.01 mm; write a length of 0 or above", 0},
		{"believable below nothing", "[1.00 mm, 6.00 mm]", "[-1.00 mm, 6.00 mm]", "-1.00", "dimensions / plunger depth at lowest point / believable / 1: found −1.00 mm; write a length of 0 or above", 0},
		{"six decimals of a millimetre", preset, "    target: 6.200000 mm\n    limits: [6.10 mm, 6.30 mm]", "6.200000", "dimensions / plunger spring preset / target: found 6.200000 mm; write at most 5 decimals, as 6.20000 mm", 0},
		{"seven decimals in a tray", "from: 8.00 mm", "from: 8.0000000 mm", "8.0000000", "trays / end plugs / from: found 8.0000000 mm; write at most 5 decimals, as 8.00000 mm", 0},
		{"seven decimals on the bench", "[1.2 mm, 1.8 mm]", "[1.2 mm, 1.8000000 mm]", "1.8000000", "bench / timing travel / 1 / limits / 2: found 1.8000000 mm; write at most 5 decimals", 0},
		{"one stack for the preset", "places: 2,", "places: 1,", "places: |1,", "dimensions / plunger spring preset / shims / places: found 1; write 2, the same stack on both guide pins", 0},
		{"two stacks elsewhere", "{tray: end plugs}", "{tray: end plugs, places: 2}", "places: |2}", "dimensions / starting gap / shims / places: found 2; write 1, or leave it out", 0},
		{"prescribed as thick as the pack", "    target: 1.60 mm\n    limits: [1.55 mm, 1.65 mm]", "    target: 0.60 mm\n    limits: [0.55 mm, 0.65 mm]", "0.60 mm}", "dimensions / timing shim pack / shims / prescribed: found 0.60 mm at the piston of a pack of 0.60 mm; write a shim thinner than the target", 0},
		{"prescribed in other units", "prescribed: 0.60 mm", "prescribed: 0.024 in", "0.024 in", "dimensions / timing shim pack / shims / prescribed: found 0.024 in among figures in mm", 0},
		{"tray in other units", "thrust shims: {from: 2.10 mm, to: 2.90 mm, step: 0.10 mm}", "thrust shims: {from: 0.080 in, to: 0.112 in, step: 0.004 in}", "tray: |thrust", "dimensions / flyweight end float / shims / tray: found the tray thrust shims in in, and the dimension in mm; write both in one unit", 0},
		{"pitch in other units", "pitch: 1.0 mm", "pitch: 0.04 in", "0.04 in", "dimensions / governor shaft projection / thread / pitch: found 0.04 in among figures in mm", 0},
		{"pitch of nothing", "pitch: 1.0 mm", "pitch: 0 mm", "0 mm, hand", "dimensions / governor shaft projection / thread / pitch: found 0 mm; write a pitch from 0.1 mm", 0},
		{"micrometres for millimetres", preset, "    target: 6200 mm\n    limits: [6.10 mm, 6.30 mm]", "6200 mm", "dimensions / plunger spring preset / target: found 6200 mm; write a length below 100 mm", 0},
		{"believable range too narrow", "[1.00 mm, 6.00 mm]", "[3.20 mm, 6.00 mm]", "[3.20 mm", "dimensions / plunger depth at lowest point / believable: found a believable range that leaves out part of the limits", 0},
		{"effect of nothing", "effect: -1", "effect: 0", "effect: |0", "dimensions / plunger depth at lowest point / effect: found an effect of nothing", 0},
		{"effect in words", "effect: -1", "effect: minus", "minus", "dimensions / plunger depth at lowest point / effect: found minus; write a number from −10 to 10", 0},
		{"too many repeats", "repeats: 3", "repeats: 4", "repeats: |4", "dimensions / plunger depth at lowest point / repeats: found 4; write a whole number from 1 to 3", 0},
		{"repeats of a bracket", "take: bracket\n    shims: {tray: end plugs}", "take: bracket\n    repeats: 2\n    shims: {tray: end plugs}", "repeats: |2", "dimensions / starting gap / repeats: found repeats of a bracket", 0},
		{"thread and shims", "    thread: {pitch: 1.0 mm, hand: right, out: grows}\n", "    thread: {pitch: 1.0 mm, hand: right, out: grows}\n    shims: {tray: end plugs}\n", "shims: |{tray: end plugs}", "dimensions / governor shaft projection / shims: found shims for a shaft that is screwed", 0},
		{"no thread", "    thread: {pitch: 1.0 mm, hand: right, out: grows}\n", "", "governor shaft projection", "dimensions / governor shaft projection / thread: found no such key; write thread: {pitch: 1.0 mm", 0},
		{"thread hand", "hand: right", "hand: rigth", "rigth", "dimensions / governor shaft projection / thread / hand: found rigth; write right or left", 0},
		{"prescribed elsewhere", "{tray: end plugs}", "{tray: end plugs, prescribed: 8.00 mm}", "prescribed: |8.00", "dimensions / starting gap / shims / prescribed: found a prescribed shim; write it for the timing shim pack only", 0},
		{"prescribed not in the tray", "prescribed: 0.60 mm", "prescribed: 0.62 mm", "0.62 mm}", "dimensions / timing shim pack / shims / prescribed: found 0.62 mm, no size of the tray timing shims", 0},
		{"tray unknown", "{tray: end plugs}", "{tray: end plug}", "tray: |end plug}", "dimensions / starting gap / shims / tray: found no tray of the name end plug; write end plugs", 1},
		{"tray unused", "trays:\n", "trays:\n  spare shims: [0.10 mm]\n", "spare shims", "trays / spare shims: found a tray that no dimension uses", 0},
		{"tray empty", "end plugs: {from: 8.00 mm, to: 9.60 mm, step: 0.10 mm, part: end plug}", "end plugs: []", "end plugs: |[]", "trays / end plugs: found a tray without sizes", 0},
		{"tray with nothing", "end plugs: {from: 8.00 mm, to: 9.60 mm, step: 0.10 mm, part: end plug}", "end plugs:", "end plugs:|\n", "trays / end plugs: found a tray without sizes", 0},
		{"size twice", "thrust shims: {from: 2.10 mm, to: 2.90 mm, step: 0.10 mm}", "thrust shims: [2.10 mm, 2.20 mm, 2.30 mm, 2.2 mm]", "2.2 mm]", "trays / thrust shims / 4: found the size 2.2 mm a second time", 0},
		{"size of nothing", "thrust shims: {from: 2.10 mm,", "thrust shims: {from: 0.00 mm,", "0.00 mm,", "trays / thrust shims / from: found 0.00 mm; write a length above 0", 0},
		{"size of 100 mm", "to: 9.60 mm", "to: 100.00 mm", "100.00 mm", "trays / end plugs / to: found 100.00 mm; write a length below 100 mm", 0},
		{"steps miss the end", "to: 9.60 mm", "to: 9.65 mm", "{from: 8.00", "trays / end plugs: found steps that do not end at the last size", 0},
		{"steps backwards", "to: 9.60 mm", "to: 7.60 mm", "{from: 8.00", "trays / end plugs: found a tray whose last size is not above its first", 0},
		{"steps without end", "step: 0.10 mm, part", "step: 0.0001 mm, part", "{from: 8.00", "trays / end plugs: found over 400 sizes", 0},
		{"tray too coarse", "foot shims: {from: 1.90 mm, to: 2.90 mm, step: 0.05 mm}", "foot shims: {from: 1.90 mm, to: 2.90 mm, step: 0.20 mm}", "tray: |foot shims", "dimensions / plunger depth at lowest point / shims / tray: found a tray that cannot serve this dimension: its stacks of up to 1 make at most 0.00 mm in steps no wider than the limits, 0.10 mm", 0},
		{"tray too short", "foot shims: {from: 1.90 mm, to: 2.90 mm, step: 0.05 mm}", "foot shims: [1.90 mm, 1.95 mm]", "tray: |foot shims", "dimensions / plunger depth at lowest point / shims / tray: found a tray that cannot serve this dimension: its stacks of up to 1 make at most 0.05 mm in steps", 0},
		{"pre-stroke on a lowest-point pump", "  plunger depth at lowest point:\n", "  pre-stroke:\n", "pre-stroke:\n", "dimensions / pre-stroke: found a dimension this pump does not have (equipment says stroke start: lowest point)", 2},
		{"cold-start travel on a cover plate", "cold start: device", "cold start: cover plate", "cold-start travel:", "dimensions / cold-start travel: found a dimension this pump does not have (equipment says cold start: cover plate)", 0},
		{"dimension missing", "  starting gap:\n    target: 0.90 mm\n    limits: [0.80 mm, 1.00 mm]\n    instrument: feeler gauges\n    take: bracket\n    shims: {tray: end plugs}\n    block: 12.00 mm\n", "", "dimensions:", "dimensions / starting gap: found no such key; write this dimension with target, limits and instrument", 1},
		{"outlet marks too few", "  outlets: 4\n", "  outlets: 4\n  outlet marks: [A, B, C]\n", "[A, B, C]", "pump / outlet marks: found 3 marks for 4 outlets", 0},
		{"outlet mark twice", "  outlets: 4\n", "  outlets: 4\n  outlet marks: [A, B, C, A]\n", "A]", "pump / outlet marks / 4: found the mark A a second time", 0},
		{"thirteen outlets", "  outlets: 4\n", "  outlets: 13\n", "outlets: |13", "pump / outlets: found 13; write a whole number from 2 to 12", 0},
		{"rotation", "rotation: right", "rotation: clockwise", "clockwise", "pump / rotation: found clockwise; write right or left", 0},
		{"no such day", "2026-10-02", "2026-02-30", "2026-02-30", "vouched / on: found 2026-02-30; write a date as 2026-10-02", 0},
		{"boost without capsule", "      lever: \"half: 12 mm block at the full stop\"\n", "      lever: half\n      boost: 0.7 bar\n", "boost: |0.7", "bench / delivery / 7 / boost: found a boost pressure on a pump without boost capsule", 0},
		{"boost point without capsule", "kind: part load", "kind: boost", "name: part load", "bench / delivery / 7: found a boost point on a pump without boost capsule", 0},
		{"no shut-off point", "kind: shut-off", "kind: idle", "delivery:\n", "bench / delivery: found no point of kind shut-off; write one: a pump that does not stop can overspeed an engine", 0},
		{"shut-off without upper limit", "at most: 0.0", "at least: 0.0", "at least: |0.0", "bench / delivery / 9 / at least: found at least at shut-off; write at most: 0.0 cm³/1000, alone: a pump that does not stop can overspeed an engine", 0},
		{"shut-off with limits", "at most: 0.0 cm³/1000", "limits: [0.0 cm³/1000, 1.0 cm³/1000]", "limits: |[0.0", "bench / delivery / 9 / limits: found limits at shut-off; write at most: 0.0 cm³/1000, alone", 0},
		{"shut-off that lets some through", "at most: 0.0 cm³/1000", "at most: 0.5 cm³/1000", "0.5 cm³/1000\n      as", "bench / delivery / 9 / at most: found 0.5 cm³/1000 at shut-off; write at most: 0.0 cm³/1000, alone", 0},
		{"shut-off below nothing", "at most: 0.0 cm³/1000", "at most: -1 cm³/1000", "-1 cm", "bench / delivery / 9 / at most: found -1 cm³/1000 at shut-off; write at most: 0.0 cm³/1000, alone", 0},
		{"shut-off with a spread", "at most: 0.0 cm³/1000", "at most: 0.0 cm³/1000\n      spread: 1 %", "spread: |1 %", "bench / delivery / 9 / spread: found spread at shut-off; write at most: 0.0 cm³/1000, alone", 0},
		{"shut-off without a limit", "      at most: 0.0 cm³/1000\n", "", "name: shut-off", "bench / delivery / 9 / at most: found no such key; write at most: 0.0 cm³/1000, alone", 0},
		{"point named twice", "name: part load", "name: full load\n", "name: |full load\n\n", "bench / delivery / 7 / name: found the name full load a second time (first in line", 0},
		{"torque named twice", "name: head centre plug", "name: head screws", "name: |head screws, at: head, count: 1", "torques / 4 / name: found the name head screws a second time (first in line", 0},
		{"torque place", head, "  - {name: head screws, at: heads, count: 4,", "heads", "torques / 3 / at: found heads; write head", 0},
		{"torque of nothing", "steps: [3 N·m]", "steps: [0 N·m]", "0 N·m]", "torques / 1 / steps / 1: found 0 N·m; write a torque above 0", 0},
		{"no steps", "steps: [3 N·m]", "steps: []", "[]", "torques / 1 / steps: found 0 steps; write one to six", 0},
		{"speed twice", "- {speed: 1600 rev/min,", "- {speed: 1200 rev/min,", "{speed: 1200 rev/min, limits: [5.6", "bench / supply pressure / 3: found the speed 1200 rev/min a second time", 0},
		{"speed out of range", "- {speed: 1600 rev/min,", "- {speed: 16000 rev/min,", "16000", "bench / supply pressure / 3 / speed: found 16000 rev/min; write a pump speed from 20 to 6000 rev/min", 0},
		{"strokes out of range", "      lever: idle stop\n      strokes: 500", "      lever: idle stop\n      strokes: 5", "strokes: |5\n", "bench / delivery / 8 / strokes: found 5; write a whole number from 10 to 5000", 0},
		{"two sorts of limits", "      at most: 4.0 cm³/1000\n", "      at most: 4.0 cm³/1000\n      limits: [1.0 cm³/1000, 4.0 cm³/1000]\n", "name: governing ends", "bench / delivery / 6: found more than one of limits, at most and at least", 0},
		{"no limits", "      at most: 4.0 cm³/1000\n", "", "name: governing ends", "bench / delivery / 6 / limits: found no such key; write limits: [low, high], at most: … or at least: …", 0},
		{"delivery below nothing", "[6.0 cm³/1000, 10.0", "[-6.0 cm³/1000, 10.0", "-6.0 cm³", "bench / delivery / 8 / limits / 1: found -6.0 cm³/1000; write nothing below 0", 0},
		{"spread in the wrong unit", "spread: 2.0 cm³/1000\n      as found: yes\n    - name: full load, low", "spread: 2.0 mm\n      as found: yes\n    - name: full load, low", "2.0 mm\n", "bench / delivery / 1 / spread: found 2.0 mm, a length; write a delivery, as 36.0 cm³/1000, or a percentage, as 6 %", 0},
		{"full-load screw names nothing", "full-load screw: full load", "full-load screw: full laod", "full laod", "bench / full-load screw: found no delivery point of the name full laod; write the name of a point of kind full load or boost, with both limits: full load, full load, low speed", 0},
		{"full-load screw without a lower limit", "limits: [35.0 cm³/1000, 37.0 cm³/1000]", "at most: 37.0 cm³/1000", "screw: |full load", "bench / full-load screw: found full load, a point with one limit only; write the name of a point of kind full load or boost, with both limits: full load, low speed", 0},
		{"full-load screw at idle", "full-load screw: full load", "full-load screw: idle", "screw: |idle", "bench / full-load screw: found idle, a point that is not at full load", 0},
		{"run-out without governed points", "name: governing ends\n      kind: governed", "name: governing ends\n      kind: part load", "run-out:\n", "bench / run-out: found a run-out, but 1 of the governed points it is read between; write two delivery points of kind governed or more", 1},
		{"droop without governed points", "name: governing ends\n      kind: governed", "name: governing ends\n      kind: part load", "droop: |{", "bench / droop: found a droop, but 1 of the governed points it is read between; write two delivery points of kind governed or more", 1},
		{"run-out beyond the points", "limits: [2300 rev/min, 2400 rev/min]", "limits: [2300 rev/min, 2500 rev/min]", "{at: 10.0", "bench / run-out / 1: found a run-out limit of 2500 rev/min outside the speeds of the points, 600 to 2450 rev/min", 0},
		{"density in the wrong place", "825 kg/m³", "8.25 kg/m³", "8.25", "bench / conditions / density at 15 °C: found 8.25 kg/m³; write a density from 700 to 1000 kg/m³", 0},
		{"limits in two units", "[5.6 bar, 6.2 bar]", "[5.6 bar, 90 psi]", "90 psi", "bench / supply pressure / 3 / limits / 2: found limits in bar and in psi; write both in one unit", 0},
		{"table in two units", "[5.6 bar, 6.2 bar]", "[81 psi, 90 psi]", "{speed: 1600", "bench / supply pressure / 3: found limits in psi in a table in bar; write the whole table in one unit", 0},
		{"deliveries in two units", "      at most: 4.0 cm³/1000\n", "      at most: 4.0 mm³/stroke\n", "name: governing ends", "bench / delivery / 6: found limits in mm³/stroke in a table in cm³/1000", 0},
		{"pressures wrong way round", "[5.6 bar, 6.2 bar]", "[6.2 bar, 5.6 bar]", "[6.2 bar", "bench / supply pressure / 3 / limits: found limits of 6.2 bar to 5.6 bar; write the lower first", 0},
		{"upper limit below nothing", "      at most: 4.0 cm³/1000\n", "      at most: -4.0 cm³/1000\n", "-4.0", "bench / delivery / 6 / at most: found -4.0 cm³/1000; write nothing below 0", 0},
		{"spread of nothing", "limits: [35.0 cm³/1000, 37.0 cm³/1000]\n      spread: 2.0 cm", "limits: [35.0 cm³/1000, 37.0 cm³/1000]\n      spread: 0.0 cm", "0.0 cm³/1000\n      as", "bench / delivery / 1 / spread: found 0.0 cm³/1000; write a spread above 0", 0},
		{"leak test of nothing", "pressure: 0.5 bar, time", "pressure: 0 bar, time", "0 bar, time", "bench / leak test / pressure: found 0 bar; write a pressure above 0", 0},
		{"pitch of a bolt for a bridge", "pitch: 1.0 mm", "pitch: 11.0 mm", "11.0 mm", "dimensions / governor shaft projection / thread / pitch: found 11.0 mm; write a pitch from 0.1 mm (0.004 in) to 10 mm (0.39 in)", 0},
		{"thread where shims belong", "    shims: {tray: end plugs}\n", "    shims: {tray: end plugs}\n    thread: {pitch: 1.0 mm, hand: right, out: grows}\n", "thread: |{pitch: 1.0 mm, hand: right, out: grows}\n    block", "dimensions / starting gap / thread: found a thread for a dimension that is not screwed", 0},
		{"effect where a thread belongs", "    target: 4.30 mm\n", "    effect: +1\n    target: 4.30 mm\n", "+1", "dimensions / governor shaft projection / effect: found an effect for a shaft that is screwed", 0},
		{"block of nothing", "block: 12.00 mm", "block: 0 mm", "0 mm\n\ntrays", "dimensions / starting gap / block: found 0 mm; write a length above 0", 0},
		{"block that is a pressure", "block: 12.00 mm", "block: 12 bar", "12 bar", "dimensions / starting gap / block: found 12 bar, a pressure; write a length", 0},
		{"block where none is used", "    shims: {tray: thrust shims}\n", "    shims: {tray: thrust shims}\n    block: 3 mm\n", "3 mm\n  starting", "dimensions / flyweight end float / block: found a block for a dimension measured without one", 0},
		{"oil where none is used", "    shims: {tray: thrust shims}\n", "    shims: {tray: thrust shims}\n    oil pressure: 0.2 bar\n", "0.2 bar\n  starting", "dimensions / flyweight end float / oil pressure: found an oil pressure for a dimension measured dry", 0},
		{"cold-start shims without effect", "    instrument: depth gauge\n  plunger spring", "    instrument: depth gauge\n    shims: {tray: preset shims}\n  plunger spring", "cold-start travel:", "dimensions / cold-start travel / effect: found no such key; write effect: the change of the travel for 1 mm more of shim", 0},
		{"stack of nine", "places: 2, most per place: 2", "places: 2, most per place: 9", "place: |9", "dimensions / plunger spring preset / shims / most per place: found 9; write a whole number from 1 to 8", 0},
		{"tray name too long", "{tray: end plugs}", "{tray: a name for a tray which no column of a page can hold}", "a name for", "dimensions / starting gap / shims / tray: found no tray of the name", 1},
		{"long torque table", "torques:\n", "torques:\n" + strings.Repeat("  - {}\n", 40), "torques:", "torques: found 47 torques; write at most 40", 0},
		{"long pressure table", "  supply pressure:\n", "  supply pressure:\n" + strings.Repeat("    - {}\n", 40), "supply pressure:", "bench / supply pressure: found 44 lines; write from 1 to 40 lines", 0},
		{"name too long", "name: Ostrel D4", "name: " + strings.Repeat("long ", 12) + "name", "long", "pump / name: found 64 characters; write at most 60", 0},
		{"lever too long", "lever: \"half: 12 mm block at the full stop\"", "lever: half, on the gauge block that came in the box with the kit", "half, on", "bench / delivery / 7 / lever: found 58 characters; write at most 40", 0},
		{"part too long", "part: end plug", "part: end plug of the metering sleeve", "end plug of", "trays / end plugs / part: found 31 characters; write at most 20", 0},
		{"outlet mark too long", "  outlets: 4\n", "  outlets: 4\n  outlet marks: [first, 2, 3, 4]\n", "first", "pump / outlet marks / 1: found 5 characters; write at most 4", 0},
		{"note too long", "notes:\n", "notes:\n  - " + strings.Repeat("word ", 61) + "\n", "word", "notes / 1: found 304 characters; write at most 300", 0},
		{"note cut off", "notes:\n", "notes:\n  - Needs kit #4 complete\n", "Needs", "notes / 1: found the text cut off at \"#4 complete\"; write the whole text in double quotes", 0},
		{"note with a colon", "notes:\n", "notes:\n  - Full load: under boost\n", "Full load:", "notes / 1: found a group of keys; write a text, in double quotes if it has", 0},
	})
	const holders = "adapter: 45 mm"
	reject(t, "ostrel-d4.yaml", spec, []rejection{
		{"adapter of half a millimetre", holders, "adapter: 0.5 mm", "0.5 mm, new", "torques / 5 / adapter: found 0.5 mm; write a length from 5.00 to 500.00 mm", 0},
		{"adapter bent backwards", holders, "adapter: 45 mm, adapter angle: 200°", "200°", "torques / 5 / adapter angle: found 200°; write an angle from 0°", 0},
		{"angle without an adapter", holders, "adapter angle: 90°", "90°", "torques / 5 / adapter angle: found an angle without an adapter", 0},
		{"spring as soft as a sofa", "spring rate: 48 N/mm", "spring rate: 0.1 N/mm", "0.1 N/mm", "timing piston / spring rate: found 0.1 N/mm; write a rate from 0.5 to 200 N/mm", 0},
		{"piston as wide as a bucket", "diameter: 28 mm", "diameter: 280 mm", "280 mm", "timing piston / diameter: found 280 mm; write a length from 5.00 to 60.00 mm", 0},
	})
	const piston = "{diameter: 28 mm, spring rate: 48 N/mm, stroke: 7.0 mm, pin radius: 24 mm}"
	const second = "    - {at: 5.0 cm³/1000, limits: [2350 rev/min, 2450 rev/min]}\n"
	const droop = "droop: {rated: 2100 rev/min, no load at: 4.0 cm³/1000, at most: 16.5 %}"
	const engine = "engine: {fuel density at 15 °C: 835 kg/m³, specific consumption: 245 g/kWh}"
	reject(t, "ostrel-d4.yaml", spec, []rejection{
		{"piston without spring", piston, "{diameter: 28 mm}", "{diameter", "timing piston / spring rate: found no such key; write spring rate: 12 N/mm", 0},
		{"spring without piston", piston, "{spring rate: 48 N/mm, stroke: 7.0 mm}", "{spring", "timing piston / diameter: found no such key; write diameter: 20 mm", 0},
		{"piston of which nothing is said", piston, "{}", "timing piston: |{}", "timing piston: found a timing piston without a figure; write diameter and spring rate, stroke or pin radius; or take it out", 0},
		{"stroke of a hair", "stroke: 7.0 mm", "stroke: 0.7 mm", "0.7 mm, pin", "timing piston / stroke: found 0.7 mm; write a length from 1.00 to 30.00 mm", 0},
		{"pin out of the pump", "pin radius: 24 mm", "pin radius: 240 mm", "240 mm", "timing piston / pin radius: found 240 mm; write a length from 5.00 to 100.00 mm", 0},
		{"pin nearer than the stroke", "pin radius: 24 mm", "pin radius: 6 mm", "7.0 mm, pin", "timing piston / stroke: found 7.0 mm, more than the pin radius of 6 mm", 0},
		{"travel beyond the stop", "limits: [5.2 mm, 5.8 mm]", "limits: [7.2 mm, 7.8 mm]", "timing travel:", "bench / timing travel: found a travel from 7.2 mm at 2000 rev/min (line 99), and the timing piston's stroke of 7.0 mm; write a travel that the stop allows", 0},
		{"travel speed twice", "{speed: 800 rev/min, limits: [1.2 mm", "{speed: 2000 rev/min, limits: [1.2 mm", "{speed: 2000 rev/min, limits: [5.2 mm", "bench / timing travel / 3: found the speed 2000 rev/min a second time (first in line 97); write each speed once", 0},
		{"spread of another meaning", "  delivery:\n", "  spread means: lowest\n  delivery:\n", "lowest\n", "bench / spread means: found lowest; write highest less lowest or farthest from the mean", 0},
		{"run-out twice at one delivery", second, "    - {at: 10 cm³/1000, limits: [2350 rev/min, 2450 rev/min]}\n", "{at: 10 cm", "bench / run-out / 2: found the delivery 10 cm³/1000 a second time (first in line 165); write each delivery once", 0},
		{"run-out against the run", second, "    - {at: 5.0 cm³/1000, limits: [2260 rev/min, 2290 rev/min]}\n", "{at: 5.0", "bench / run-out / 2: found 5 cm³/1000 at a lower speed than 10 cm³/1000 (lines 166 and 165); write the smaller delivery with the higher speeds", 0},
		{"run-out at full load", "at: 10.0 cm³/1000", "at: 33.0 cm³/1000", "33.0 cm³/1000, limits: [2300", "bench / run-out / 1 / at: found 33.0 cm³/1000, not below the 31.5 cm³/1000 of full load, rated speed; write a delivery that the governor brings it down to", 0},
		{"run-out of nothing", "at: 10.0 cm³/1000", "at: 0.0 cm³/1000", "0.0 cm³/1000, limits: [2300", "bench / run-out / 1 / at: found 0.0 cm³/1000; write a delivery above 0", 0},
		{"no run-out in the list", "    - {at: 10.0 cm³/1000, limits: [2300 rev/min, 2400 rev/min], as found: yes}\n" + second, "    []\n", "[]", "bench / run-out: found 0 lines; write from 1 to 40 lines", 0},
		{"run-out that is a word", second, "    - soon\n", "soon", "bench / run-out / 2: found soon; write a group", 0},
		{"droop without a rated speed", "rated: 2100 rev/min, no", "no", "{no load", "bench / droop / rated: found no such key; write rated: 2100 rev/min", 0},
		{"droop without a no-load delivery", "no load at: 4.0 cm³/1000, ", "", "droop: |{rated", "bench / droop / no load at: found no such key; write no load at: 3.0 cm³/1000", 0},
		{"no load at full load", "no load at: 4.0", "no load at: 32.0", "32.0 cm³/1000, at most", "bench / droop / no load at: found 32.0 cm³/1000, not below the 31.5 cm³/1000 of full load, rated speed", 0},
		{"rated above the points", "rated: 2100", "rated: 2500", "2500 rev/min, no", "bench / droop / rated: found a rated speed of 2500 rev/min and the speeds of the points, 600 to 2450 rev/min; write a speed below the last of the governed points", 0},
		{"rated at the last of the points", "rated: 2100", "rated: 2450", "2450 rev/min, no", "bench / droop / rated: found a rated speed of 2450 rev/min and the speeds of the points", 0},
		{"droop beyond the points", "at most: 16.5 %", "at most: 17.0 %", "droop: |{", "bench / droop: found a droop limit of 17.0 %, a no-load speed of 2457 rev/min, outside the speeds of the points, 600 to 2450 rev/min; write governed points on both sides", 0},
		{"droop in rev/min", "at most: 16.5 %", "at most: 350 rev/min", "350 rev/min}", "bench / droop / at most: found 350 rev/min, a speed; write a percentage, as 6 %", 0},
		{"droop below nothing", "at most: 16.5 %", "at most: -1 %", "-1 %", "bench / droop / at most: found -1 %; write nothing below 0", 0},
		{"droop of two sorts", "at most: 16.5 %", "at most: 16.5 %, at least: 2 %", "droop: |{", "bench / droop: found more than one of limits, at most and at least", 0},
		{"droop misspelt", droop, strings.Replace(droop, "no load", "noload", 1), "noload", "bench / droop: found the unknown key noload at; write no load at", 1},
		{"engine without consumption", engine, "engine: {fuel density at 15 °C: 835 kg/m³}", "{fuel", "engine / specific consumption: found no such key; write specific consumption: 240 g/kWh", 0},
		{"engine without density", engine, "engine: {specific consumption: 245 g/kWh}", "{specific", "engine / fuel density at 15 °C: found no such key; write fuel density at 15 °C: 835 kg/m³", 0},
		{"fuel as heavy as lead", "835 kg/m³", "8350 kg/m³", "8350", "engine / fuel density at 15 °C: found 8350 kg/m³; write a density from 700 to 1000 kg/m³", 0},
		{"engine that burns nothing", "245 g/kWh", "24.5 g/kWh", "24.5", "engine / specific consumption: found 24.5 g/kWh; write a specific consumption from 150 to 500 g/kWh", 0},
		{"consumption without a unit", "245 g/kWh", "245", "245}", "engine / specific consumption: found 245 without a unit; write 245 g/kWh", 0},
		{"test oil too heavy", "825 kg/m³", "1020 kg/m³", "1020", "bench / conditions / density at 15 °C: found 1020 kg/m³; write a density from 700 to 1000 kg/m³", 0},
	})
	reject(t, "vessant-s6.yaml", spec, []rejection{
		{"plunger depth on a pre-stroke pump", "  pre-stroke:\n", "  plunger depth at lowest point:\n", "plunger depth at lowest point:", "dimensions / plunger depth at lowest point: found a dimension this pump does not have (equipment says stroke start: pre-stroke)", 2},
		{"boost point without pressure", "      boost: 5.0 psi\n", "", "name: capsule half way", "bench / delivery / 5 / boost: found no such key; write boost: 0.7 bar", 0},
		{"no unit in a torque", "steps: [52 lbf·ft]", "steps: [52]", "52]", "torques / 4 / steps / 1: found 52 without a unit; write 52 N·m or 38 lbf·ft", 0},
	})
}

func TestShopRejections(t *testing.T) {
	reject(t, "saltmarsh.yaml", shop, []rejection{
		{"version", "shop: 1\n", "shop: one\n", "one", "shop: found version one; write 1", 0},
		{"language", "language: en", "language: fr", "fr", "language: found fr; write en", 0},
		{"decimal mark", "decimal mark: point", "decimal mark: .", "mark: |.", "decimal mark: found .; write point or comma", 0},
		{"paper", "paper: A4", "paper: A5", "A5", "paper: found A5; write A4 or Letter", 0},
		{"unknown key", "paper: A4", "papper: A4", "papper", "found the unknown key papper; write paper", 0},
		{"no number", "{number: DM-2, ", "{", "{resolution: 0.01 mm, permissible error: 0.005", "instruments / depth micrometer / number: found no such key", 0},
		{"error without a unit", "0.5 °C, calibration due: 2027-04-12}\n", "0.5, calibration due: 2027-04-12}\n", "0.5,", "instruments / thermometer / permissible error: found 0.5 without a unit; write 0.5 °C or", 0},
		{"error of another kind", "permissible error: 0.06 bar", "permissible error: 0.06 mm", "0.06 mm", "instruments / pressure gauge / permissible error: found 0.06 mm, a length; write a pressure", 0},
		{"error of nothing", "permissible error: 0.06 bar", "permissible error: 0 bar", "0 bar", "instruments / pressure gauge / permissible error: found 0 bar; write the largest permissible error", 0},
		{"resolution of nothing", "resolution: 0.05 bar", "resolution: 0 bar", "0 bar", "instruments / pressure gauge / resolution: found 0 bar; write a resolution above 0", 0},
		{"instrument twice", "  depth gauge:", "  dial indicator:", "dial indicator: {number: DG", "instruments / dial indicator: found this key a second time (first in line 14)", 0},
		{"address of seven lines", "[Sluice Lane 4, Saltmarsh]", "[a, b, c, d, e, f, g]", "[a, b", "address: found over six lines; write at most six", 0},
		{"instrument with nothing", "{number: DG-1, resolution: 0.02 mm, permissible error: 0.02 mm, calibration due: 2027-05-15}", "", "depth gauge:|", "instruments / depth gauge: found nothing; write a group", 0},
		{"instrument with a long name", "  depth gauge:", "  depth gauge with the long base from the drawer by the door:", "depth gauge with", "instruments / depth gauge with the long base from the drawer by the door: found 58 characters; write at most 40", 0},
		{"shop name too long", "name: Saltmarsh Injection Bench", "name: " + strings.Repeat("Saltmarsh ", 6) + "Bench", "Saltmarsh S", "name: found 65 characters; write at most 60", 0},
		{"address too long", "[Sluice Lane 4,", "[" + strings.Repeat("Sluice ", 9) + "4,", "Sluice S", "address / 1: found 64 characters; write at most 60", 0},
		{"address cut off", "address: [Sluice Lane 4, Saltmarsh]", "address:\n  - Sluice Lane #4", "Sluice", "address / 1: found the text cut off at \"#4\"", 0},
		{"resolution of seven decimals", "resolution: 0.02 mm", "resolution: 0.0200000 mm", "0.0200000", "instruments / depth gauge / resolution: found 0.0200000 mm; write at most 5 decimals, as 0.02000 mm", 0},
		{"length of a gauge", "{number: DG-1, ", "{number: DG-1, length: 300 mm, ", "300 mm", "instruments / depth gauge / length: found a length of what measures no torque", 0},
		{"size twice", "0.55 mm: 6", "0.5 mm: 6", "0.5 mm: 6", "stock / preset shims / 0.5 mm: found the size 0.5 mm a second time", 0},
		{"meter in no words", "paper: A4\n", "paper: A4\ndelivery read by: flow meter\n", "flow", "delivery read by: found flow meter; write graduates or meter", 0},
		{"meter that is not there", "paper: A4\n", "paper: A4\ndelivery read by: meter\n", "by: |meter", "delivery read by: found a meter, and no delivery meter among the instruments; write delivery meter: {number: …, resolution: 0.1 mm³/stroke", 0},
		{"meter that reads volumes", "  graduates:", "  delivery meter:", "0.2 cm³, perm", "instruments / delivery meter / resolution: found 0.2 cm³, a volume; write a delivery, as 36.0 cm³/1000", 0},
		{"oil thermometer in bar", "TH-5, resolution: 0.5 °C", "TH-5, resolution: 0.5 bar", "0.5 bar", "instruments / oil thermometer / resolution: found 0.5 bar, a pressure; write a temperature, as 40 °C", 0},
		{"size without a unit", "0.55 mm: 6", "0.55: 6", "0.55: 6", "stock / preset shims / 0.55: found 0.55 without a unit; write 0.55 mm or 0.0217 in", 0},
		{"count", "0.55 mm: 6", "0.55 mm: some", "some", "stock / preset shims / 0.55 mm: found some; write a whole number from 0 to 9999", 0},
	})
}

func TestAllFaultsAtOnceInFileOrder(t *testing.T) {
	text := demo(t, "ostrel-d4.yaml")
	text = edit(t, text, "rotation: right", "rotation: up")
	text = edit(t, text, "on: 2026-10-02", "on: yesterday")
	text = edit(t, text, "drain time: 30 s", "drain time: 30")
	_, err := specs.ReadSpec("x.yaml", []byte(text))
	var faults strict.Faults
	require.True(t, errors.As(err, &faults))
	require.Len(t, faults, 3)
	assert.Less(t, faults[0].Line, faults[1].Line)
	assert.Less(t, faults[1].Line, faults[2].Line)
	assert.Equal(t, 3, strings.Count(err.Error(), "x.yaml:"))
}

func TestDemoSpecMetric(t *testing.T) {
	s, err := specs.ReadSpec("ostrel-d4.yaml", []byte(demo(t, "ostrel-d4.yaml")))
	require.NoError(t, err)
	assert.True(t, s.Invented)
	assert.Equal(t, specs.Pump{Name: "Ostrel D4", Kind: "axial-plunger distributor", Outlets: 4, Marks: []string{"1", "2", "3", "4"}, Rotation: specs.Right}, s.Pump)
	assert.Equal(t, time.Date(2026, 10, 2, 0, 0, 0, 0, time.UTC), s.Vouched.On)
	assert.Equal(t, specs.Equipment{ColdStartDevice: true, ShutOffSolenoid: "12 V"}, s.Equipment)

	preset := s.Dimension(specs.SpringPreset)
	require.NotNil(t, preset)
	assert.Equal(t, calc.Length(6_200_000), preset.Target) // 1 mm is 1 000 000 nm
	assert.Equal(t, calc.Length(6_100_000), preset.Low)
	assert.Equal(t, calc.Length(6_300_000), preset.High)
	assert.Equal(t, 2, preset.Decimals)
	assert.Equal(t, "mm", preset.Unit.Symbol)
	// Target ± the larger of ten times half of 0.20 mm and half of 6.20 mm.
	assert.Equal(t, calc.Length(3_100_000), preset.BelievableLow)
	assert.Equal(t, calc.Length(9_300_000), preset.BelievableHigh)
	assert.Equal(t, 1.0, preset.Effect) // common practice, no source
	assert.Equal(t, 2, preset.Shims.Places)
	assert.Len(t, preset.Shims.Tray.Sizes, 13)

	depth := s.Dimension(specs.PlungerDepth)
	assert.Equal(t, calc.Length(3_200_000), depth.Target)
	assert.Equal(t, calc.Millimetre, depth.BelievableLow)
	assert.Equal(t, -1.0, depth.Effect) // common practice, no source
	assert.Equal(t, 3, depth.Repeats)
	assert.Equal(t, specs.Largest, depth.Take)
	assert.Equal(t, calc.Length(600_000), s.Dimension(specs.TimingPack).Shims.Prescribed)
	assert.Nil(t, s.Dimension(specs.PreStroke))
	assert.Nil(t, s.Dimension(specs.ColdStartTravel).Shims)
	assert.Equal(t, &specs.Thread{Pitch: calc.Millimetre, Decimals: 1, OutGrows: true}, s.Dimension(specs.ShaftProjection).Thread)
	assert.Equal(t, specs.Bracket, s.Dimension(specs.EndFloat).Take)
	assert.Equal(t, "end plug", s.Dimension(specs.StartingGap).Shims.Tray.Part)
	assert.Equal(t, 12*calc.Millimetre, s.Dimension(specs.StartingGap).Block)

	head := s.Torques[2]
	assert.Equal(t, specs.AtHead, head.At)
	require.Len(t, head.Steps, 2)
	assert.Equal(t, 12.0, head.Steps[1].Value)
	assert.True(t, head.Reuse)
	assert.False(t, s.Torques[3].Reuse)

	assert.Equal(t, 36.0, mid(s.Bench.Deliveries[0].Limits))
	assert.Equal(t, 1, s.Bench.Deliveries[0].Limits.Decimals)
	assert.Equal(t, 2300.0, s.Bench.RunOut[0].Limits.Low)
	assert.Equal(t, "full load", s.Bench.FullLoadScrew)
	assert.Equal(t, 40.0, s.Bench.Conditions.Reference.Value)

	assert.Equal(t, &specs.TimingPiston{Diameter: 28 * calc.Millimetre, SpringRate: 48, Stroke: 7 * calc.Millimetre, PinRadius: 24 * calc.Millimetre}, s.Piston)
	assert.Equal(t, 835.0, s.Engine.FuelDensity15.Base())
	assert.Equal(t, calc.Quantity{Value: 245, Unit: calc.GPerKWh}, s.Engine.SpecificConsumption)
	assert.False(t, s.Bench.FarthestFromMean)
	require.Len(t, s.Bench.RunOut, 2)
	assert.Equal(t, 5.0, s.Bench.RunOut[1].At.Value)
	assert.True(t, s.Bench.RunOut[1].AsFound, "as the first")
	assert.Equal(t, 2100.0, s.Bench.Droop.Rated)
	assert.Equal(t, 4.0, s.Bench.Droop.NoLoadAt.Value)
	assert.Equal(t, &specs.Range{Low: math.Inf(-1), High: 16.5, Unit: calc.Percentage, Decimals: 1}, s.Bench.Droop.Limits)
	assert.True(t, s.Bench.ReturnFlow.AsFound)
}

func mid(r specs.Range) float64 { return (r.Low + r.High) / 2 }

func TestDemoSpecInches(t *testing.T) {
	s, err := specs.ReadSpec("vessant-s6.yaml", []byte(demo(t, "vessant-s6.yaml")))
	require.NoError(t, err)
	pack := s.Dimension(specs.TimingPack)
	// 1 in = 25.4 mm exactly (NIST SP 811, appendix B): 0.0780 in is
	// 0.0780 × 25 400 000 nm.
	assert.Equal(t, calc.Length(1_981_200), pack.Target)
	assert.Equal(t, calc.Length(609_600), pack.Shims.Prescribed)
	assert.Equal(t, 4, pack.Decimals)
	assert.Equal(t, "in", pack.Unit.Symbol)
	assert.Equal(t, []string{"A", "B", "C", "D", "E", "F"}, s.Pump.Marks)
	assert.Equal(t, specs.Left, s.Pump.Rotation)
	assert.True(t, s.Equipment.PreStroke)
	assert.True(t, s.Dimension(specs.ShaftProjection).Thread.LeftHanded)
	assert.Nil(t, s.Dimension(specs.ColdStartTravel))
	var boost []float64
	for _, p := range s.Bench.Deliveries {
		if p.Kind == specs.Boost {
			require.NotNil(t, p.Boost, p.Name)
			boost = append(boost, p.Boost.Value)
		}
	}
	assert.Equal(t, []float64{10, 5, 0}, boost)
	assert.True(t, s.Bench.FarthestFromMean)
	assert.Equal(t, &specs.TimingPiston{Stroke: calc.Length(6_096_000)}, s.Piston) // 0.240 × 25 400 000 nm
	assert.Equal(t, 230.0, s.Engine.SpecificConsumption.Base())
	require.NotNil(t, s.Bench.Droop)
	assert.Equal(t, 1200.0, s.Bench.Droop.Rated)
	assert.Nil(t, s.Bench.Droop.Limits)
	require.Len(t, s.Bench.RunOut, 1)
	assert.False(t, s.Bench.RunOut[0].AsFound)
	assert.Equal(t, "%", s.Bench.Deliveries[1].Spread.Unit.Symbol)
}

// Both demonstration sheets are ones a shop could work to: every tolerance is
// several times what its instrument may be wrong by.
func TestDemoTolerancesAreMeasurable(t *testing.T) {
	for sheet, kit := range map[string]string{"ostrel-d4.yaml": "saltmarsh.yaml", "vessant-s6.yaml": "prairie.yaml"} {
		s, err := specs.ReadSpec(sheet, []byte(demo(t, sheet)))
		require.NoError(t, err)
		h, err := specs.ReadShop(kit, []byte(demo(t, kit)))
		require.NoError(t, err)
		for _, d := range s.Dimensions {
			i := h.Instrument(d.Instrument)
			require.NotNil(t, i, d.Instrument)
			half := (d.High - d.Low).In(calc.MM) / 2
			assert.Greater(t, half, 3*i.Permissible.Base(), "%s: %s", sheet, d.Name)
		}
		for _, name := range []string{"torque wrench", "pressure gauge", "timing travel gauge", "graduates", "measuring vessel", "bench tachometer", "thermometer", "oil thermometer", "stop watch"} {
			require.NotNil(t, h.Instrument(name), "%s: %s", kit, name)
			assert.False(t, h.Instrument(name).Due.IsZero(), "%s: %s", kit, name)
		}
		for _, p := range s.Bench.SupplyPressure {
			half := (p.Limits.High - p.Limits.Low) / 2 * p.Limits.Unit.Factor
			assert.Greater(t, half, 3*h.Instrument("pressure gauge").Permissible.Base())
		}
		for _, p := range s.Bench.TimingTravel {
			half := (p.Limits.High - p.Limits.Low) / 2 * p.Limits.Unit.Factor
			assert.Greater(t, half, 3*h.Instrument("timing travel gauge").Permissible.Base())
		}
	}
}

// Where delivery at the middle of its limits falls through the run-out value,
// the run-out speed is within its own limits, and so is the droop (ISO 3046-4:
// no-load less rated speed, in per cent of the rated).
func TestDemoRunOutFitsItsPoints(t *testing.T) {
	for _, sheet := range []string{"ostrel-d4.yaml", "vessant-s6.yaml"} {
		s, err := specs.ReadSpec(sheet, []byte(demo(t, sheet)))
		require.NoError(t, err)
		var speeds, deliveries []float64
		for _, p := range s.Bench.Deliveries {
			if p.Kind == specs.Governed {
				low := max(p.Limits.Low, 0)
				speeds = append(speeds, p.Speed)
				deliveries = append(deliveries, (low+p.Limits.High)/2)
			}
		}
		require.Len(t, speeds, 2)
		fallsTo := func(at float64) float64 {
			return speeds[0] + (deliveries[0]-at)/(deliveries[0]-deliveries[1])*(speeds[1]-speeds[0])
		}
		for _, o := range s.Bench.RunOut {
			n := fallsTo(o.At.Value)
			assert.Greater(t, n, o.Limits.Low, sheet)
			assert.Less(t, n, o.Limits.High, sheet)
		}
		d := s.Bench.Droop
		require.NotNil(t, d)
		percent := (fallsTo(d.NoLoadAt.Value) - d.Rated) / d.Rated * 100
		assert.Greater(t, percent, 0.0)
		if d.Limits != nil {
			assert.Less(t, percent, d.Limits.High-0.5, sheet)
		}
	}
}

func TestDemoShops(t *testing.T) {
	s, err := specs.ReadShop("saltmarsh.yaml", []byte(demo(t, "saltmarsh.yaml")))
	require.NoError(t, err)
	assert.False(t, s.Letter)
	assert.True(t, s.Invented)
	assert.Equal(t, time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), s.Instrument("depth micrometer").Due)
	assert.Equal(t, []int{6, 4, 6, 3, 4, 3, 4, 2, 3, 2, 2, 2, 2, 1, 0, 2, 3}, s.Stock[0].Count)
	assert.Equal(t, calc.Length(200_000), s.Stock[0].Sizes[0])
	p, err := specs.ReadShop("prairie.yaml", []byte(demo(t, "prairie.yaml")))
	require.NoError(t, err)
	assert.True(t, p.Letter)
	undated, err := specs.ReadShop("x.yaml", []byte(edit(t, demo(t, "prairie.yaml"), "permissible error: 0.2 s, calibration due: 2028-06-30", "permissible error: 0.2 s")))
	require.NoError(t, err)
	assert.True(t, undated.Instrument("stop watch").Due.IsZero())
}

// A file written by another system's editor reads the same.
func TestByteOrderMarkAndLineEnds(t *testing.T) {
	plain := demo(t, "ostrel-d4.yaml")
	want, err := specs.ReadSpec("x.yaml", []byte(plain))
	require.NoError(t, err)
	got, err := specs.ReadSpec("x.yaml", []byte("\uFEFF"+strings.ReplaceAll(plain, "\n", "\r\n")))
	require.NoError(t, err)
	assert.Equal(t, want, got)
}

func TestDecimalCommaOutsideBrackets(t *testing.T) {
	text := edit(t, demo(t, "ostrel-d4.yaml"), "target: 6.20 mm", "target: 6,20 mm")
	s, err := specs.ReadSpec("x.yaml", []byte(text))
	require.NoError(t, err)
	assert.Equal(t, calc.Length(6_200_000), s.Dimension(specs.SpringPreset).Target)
}

// Every group written as something else is a fault, not a crash, and nothing
// is said of what stands inside.
func TestGroupsOfAnotherShape(t *testing.T) {
	const text = "spec: 1\npump: x\nvouched: [a]\nequipment: 3\ndimensions: []\ntrays: none\ntorques: {a: b}\ntiming piston: p\nengine: e\nbench: {conditions: x, supply pressure: y, timing travel: [z], delivery: {}, run-out: r, droop: d, return flow: s, leak test: u}\nnotes: n\n"
	_, err := specs.ReadSpec("x.yaml", []byte(text))
	var faults strict.Faults
	require.True(t, errors.As(err, &faults))
	assert.Len(t, faults, 17, "%v", err)
}

// The sheet prints effect and pitch as the file has them.
func TestDivisorAsWritten(t *testing.T) {
	for written, want := range map[string]string{"-1": "−1", "+1": "1", "−0,50": "−0.50", "1.250": "1.250"} {
		text := edit(t, demo(t, "ostrel-d4.yaml"), "effect: -1", "effect: "+written)
		s, err := specs.ReadSpec("x.yaml", []byte(text))
		require.NoError(t, err)
		assert.Equal(t, want, s.Dimension(specs.PlungerDepth).EffectText, written)
		assert.Empty(t, s.Dimension(specs.SpringPreset).EffectText, "left out")
	}
	s, err := specs.ReadSpec("x.yaml", []byte(demo(t, "vessant-s6.yaml")))
	require.NoError(t, err)
	assert.Equal(t, 3, s.Dimension(specs.ShaftProjection).Thread.Decimals) // 0.050 in
}

// A run-out may have one limit, a shut-off limit any decimals, and the
// prescribed shim and the number of stacks may be left out.
func TestWhatMayBeLeftOut(t *testing.T) {
	text := demo(t, "ostrel-d4.yaml")
	text = edit(t, text, "limits: [2300 rev/min, 2400 rev/min]", "at most: 2400 rev/min")
	text = edit(t, text, "at most: 0.0 cm³/1000", "at most: 0 cm³/1000")
	text = edit(t, text, ", prescribed: 0.60 mm", "")
	text = edit(t, text, "places: 2, ", "")
	text = edit(t, text, "target: 3.20 mm", "target: 3.20000 mm")
	s, err := specs.ReadSpec("x.yaml", []byte(text))
	require.NoError(t, err)
	assert.Equal(t, math.Inf(-1), s.Bench.RunOut[0].Limits.Low)
	assert.Equal(t, 0, s.Bench.Deliveries[8].Limits.Decimals)
	assert.Equal(t, 0.0, s.Bench.Deliveries[8].Limits.High)
	assert.Zero(t, s.Dimension(specs.TimingPack).Shims.Prescribed)
	assert.Equal(t, 2, s.Dimension(specs.SpringPreset).Shims.Places) // common practice, no source
	assert.Equal(t, 1, s.Dimension(specs.EndFloat).Shims.Places)
	assert.Equal(t, 5, s.Dimension(specs.PlungerDepth).Decimals)
}

// A single run-out needs no list, the points of a table stand in any order, and
// a timing piston may have one figure only.
func TestBenchInOtherWords(t *testing.T) {
	text := demo(t, "ostrel-d4.yaml")
	text = edit(t, text, "    - {at: 10.0 cm³/1000, limits: [2300 rev/min, 2400 rev/min], as found: yes}\n    - {at: 5.0 cm³/1000, limits: [2350 rev/min, 2450 rev/min]}\n",
		"      {at: 5.0 cm³/1000, at least: 2350 rev/min, as found: no}\n")
	text = edit(t, text, "{speed: 500 rev/min,", "{speed: 1700 rev/min,")
	text = edit(t, text, "{speed: 800 rev/min,", "{speed: 1400 rev/min,")
	text = edit(t, text, "{diameter: 28 mm, spring rate: 48 N/mm, stroke: 7.0 mm, pin radius: 24 mm}", "{pin radius: 0.95 in}")
	text = edit(t, text, "at most: 16.5 %", "limits: [2 %, 15 %]")
	text = edit(t, text, "  delivery:\n", "  spread means: highest less lowest\n  delivery:\n")
	s, err := specs.ReadSpec("x.yaml", []byte(text))
	require.NoError(t, err)
	require.Len(t, s.Bench.RunOut, 1)
	assert.Equal(t, 2350.0, s.Bench.RunOut[0].Limits.Low)
	assert.False(t, s.Bench.RunOut[0].AsFound)
	assert.Equal(t, 1700.0, s.Bench.SupplyPressure[0].Speed)
	assert.Equal(t, 1400.0, s.Bench.TimingTravel[0].Speed)
	assert.Equal(t, &specs.TimingPiston{PinRadius: calc.Length(24_130_000)}, s.Piston) // 0.95 × 25 400 000 nm
	assert.Equal(t, 15.0, s.Bench.Droop.Limits.High)
	assert.False(t, s.Bench.FarthestFromMean)
}

// A spec without engine, droop and timing piston says nothing of them.
func TestBenchWithoutWhatIsOptional(t *testing.T) {
	text := demo(t, "ostrel-d4.yaml")
	text = edit(t, text, "timing piston: {diameter: 28 mm, spring rate: 48 N/mm, stroke: 7.0 mm, pin radius: 24 mm}\n", "")
	text = edit(t, text, "  droop: {rated: 2100 rev/min, no load at: 4.0 cm³/1000, at most: 16.5 %}\n", "")
	text = edit(t, text, "engine: {fuel density at 15 °C: 835 kg/m³, specific consumption: 245 g/kWh}\n", "")
	s, err := specs.ReadSpec("x.yaml", []byte(text))
	require.NoError(t, err)
	assert.Nil(t, s.Piston)
	assert.Nil(t, s.Bench.Droop)
	assert.Nil(t, s.Engine)
}

// A meter shows delivery per stroke: 1 cm³ in 1000 strokes is 1 mm³ in each.
func TestDeliveryMeter(t *testing.T) {
	text := edit(t, demo(t, "saltmarsh.yaml"), "paper: A4\n", "paper: A4\ndelivery read by: meter\n")
	text = edit(t, text, "  graduates: {number: GR-12, resolution: 0.2 cm³, permissible error: 0.2 cm³,", "  delivery meter: {number: DM-9, resolution: 0.1 mm³/stroke, permissible error: 0.2 cm³/1000,")
	s, err := specs.ReadShop("x.yaml", []byte(text))
	require.NoError(t, err)
	assert.True(t, s.DeliveryMeter)
	assert.Equal(t, 0.1, s.Instrument("delivery meter").Resolution.In(calc.CM3Per1000))
	for _, file := range []string{"saltmarsh.yaml", "prairie.yaml"} {
		s, err := specs.ReadShop(file, []byte(demo(t, file)))
		require.NoError(t, err)
		assert.False(t, s.DeliveryMeter, file)
	}
}

// Sizes may stand in any order; the tray is read thinnest first.
func TestTraySizesInAnyOrder(t *testing.T) {
	text := edit(t, demo(t, "ostrel-d4.yaml"), "thrust shims: {from: 2.10 mm, to: 2.90 mm, step: 0.10 mm}", "thrust shims: {sizes: [2.30 mm, 2.1 mm, 2.20 mm], part: thrust washer}")
	s, err := specs.ReadSpec("x.yaml", []byte(text))
	require.NoError(t, err)
	tray := s.Dimension(specs.EndFloat).Shims.Tray
	assert.Equal(t, []calc.Length{2_100_000, 2_200_000, 2_300_000}, tray.Sizes)
	assert.Equal(t, "thrust washer", tray.Part)
	assert.Equal(t, 2, tray.Decimals)
}

func ExampleReadSpec() {
	data, err := fs.ReadFile(specs.Demo(), "ostrel-d4.yaml")
	if err != nil {
		panic(err)
	}
	slip := strings.Replace(string(data), "target: 6.20 mm", "target: 6.20", 1)
	_, err = specs.ReadSpec("ostrel-d4.yaml", []byte(slip))
	fmt.Println(err)
	// Output:
	// ostrel-d4.yaml:31:13: dimensions / plunger spring preset / target: found 6.20 without a unit; write 6.20 mm or 0.2441 in
}

// The damaged files each say in their first line what error they must bring.
func TestDamagedFiles(t *testing.T) {
	files, err := filepath.Glob("../testdata/specs/*")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		t.Run(filepath.Base(f), func(t *testing.T) {
			data, err := os.ReadFile(f)
			require.NoError(t, err)
			first, _, _ := strings.Cut(string(data), "\n")
			_, want, ok := strings.Cut(first, "# wants ")
			require.True(t, ok, "first line")
			err = spec("x.yaml", data)
			require.Error(t, err)
			assert.Contains(t, err.Error(), strings.TrimSpace(want))
		})
	}
}

func FuzzReadSpec(f *testing.F) {
	f.Add([]byte(demo(f, "ostrel-d4.yaml")))
	f.Add([]byte(demo(f, "vessant-s6.yaml")))
	f.Add([]byte("spec: 1\ntrays: {a: {from: 1 mm, to: 2 mm, step: 0 mm}}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		begin := time.Now()
		s, err := specs.ReadSpec("fuzz.yaml", data)
		checkFuzzed(t, begin, s == nil, err)
	})
}

func FuzzReadShop(f *testing.F) {
	f.Add([]byte(demo(f, "saltmarsh.yaml")))
	f.Add([]byte(demo(f, "prairie.yaml")))
	f.Fuzz(func(t *testing.T, data []byte) {
		begin := time.Now()
		s, err := specs.ReadShop("fuzz.yaml", data)
		checkFuzzed(t, begin, s == nil, err)
	})
}

// checkFuzzed holds for any bytes: a value or faults, soon, in printable text.
func checkFuzzed(t *testing.T, begin time.Time, none bool, err error) {
	if took := time.Since(begin); took > 5*time.Second {
		t.Errorf("took %v", took)
	}
	if none != (err != nil) {
		t.Errorf("value missing is %v, error %v", none, err)
	}
	if err != nil && !utf8.ValidString(err.Error()) {
		t.Errorf("error is not UTF-8: %q", err)
	}
}
