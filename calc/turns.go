package calc

import (
	"fmt"
	"math"
)

// Turns returns how far to turn a screwed shaft so that a dimension changes by
// change (wanted less measured), and which way, looking at the end that is
// turned. A right-hand thread turned clockwise goes in. outGrows says that the
// dimension grows as the shaft comes out. The pitch must be above zero (NaN is
// returned otherwise); no change is no turn.
func Turns(change, pitch Length, leftHanded, outGrows bool) (turns float64, clockwise bool) {
	if pitch <= 0 {
		return math.NaN(), false
	}
	if change == 0 {
		return 0, false
	}
	in := (change > 0) != outGrows
	return float64(change.abs()) / float64(pitch), in != leftHanded
}

// TorqueSetting returns what to set on a torque wrench with an adapter between
// it and the nut, in the unit of wanted: wanted·L/(L + E·cos a), where wrench L
// is from the middle of the handle to the square, adapter E from the square to
// the nut, and angleDeg a between them: 0 in line outwards, 90 square (no
// change), 180 turned back along the wrench. NAVEDTRA 14315 for the adapter in
// line.
func TorqueSetting(wanted Quantity, wrench, adapter Length, angleDeg float64) (Quantity, error) {
	switch {
	case wanted.Unit.Kind != Torque:
		return Quantity{}, fmt.Errorf("torque setting: wanted is a %s (%v); write a torque such as 85 N·m", wanted.Unit.Kind, wanted)
	case !(wanted.Value > 0) || math.IsInf(wanted.Value, 0):
		return Quantity{}, fmt.Errorf("torque setting: wanted torque %v is not above zero", wanted)
	case wrench <= 0:
		return Quantity{}, fmt.Errorf("torque setting: wrench length %s mm is not above zero", wrench.Fixed(MM, 1))
	case adapter < 0:
		return Quantity{}, fmt.Errorf("torque setting: adapter length %s mm is below zero; give the angle (180° turned back) instead", adapter.Fixed(MM, 1))
	case math.IsNaN(angleDeg) || math.Abs(angleDeg) > 360:
		return Quantity{}, fmt.Errorf("torque setting: angle %v° is not within −360° and 360°", angleDeg)
	}
	reach := float64(adapter) * math.Cos(angleDeg*math.Pi/180)
	if math.Mod(math.Abs(angleDeg), 180) == 90 {
		reach = 0 // cos 90° is not quite zero in binary
	}
	arm := float64(wrench) + reach
	if arm <= 0 {
		return Quantity{}, fmt.Errorf("torque setting: an adapter of %s mm turned back reaches past a wrench of %s mm", adapter.Fixed(MM, 1), wrench.Fixed(MM, 1))
	}
	return Quantity{wanted.Value * float64(wrench) / arm, wanted.Unit}, nil
}
