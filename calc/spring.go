package calc

import (
	"fmt"
	"math"
)

// SpringRate returns the rate k = G·d⁴/(8·D³·n) in N/mm of a helical
// compression spring: G the shear modulus in N/mm², d the wire and D the mean
// coil diameter in mm, n the active coils. Shigley's Mechanical Engineering
// Design, chapter 10.
func SpringRate(G, d, D, n float64) (float64, error) {
	if !finite(G, d, D, n) || G <= 0 || d <= 0 || D <= d || n <= 0 {
		return 0, fmt.Errorf("spring rate: modulus %v N/mm², wire %v mm, coil %v mm, %v active coils; all must be above zero and the coil wider than the wire", G, d, D, n)
	}
	return G * d * d * d * d / (8 * D * D * D * n), nil
}

// StartPressure returns the pressure in kPa that begins to move a piston of
// area mm² against a spring of rate N/mm compressed by preload mm: k·s/A. As
// it is a straight proportion, a shim as preload gives the rise it causes.
func StartPressure(rate, preload, area float64) (float64, error) {
	if !finite(rate, preload, area) || rate <= 0 || area <= 0 {
		return 0, fmt.Errorf("starting pressure: rate %v N/mm, preload %v mm, area %v mm²; rate and area must be above zero", rate, preload, area)
	}
	return rate * preload / area * 1000, nil
}

// RingAngle returns the angle in degrees by which a piston travel turns the
// roller ring, its pin at radius from the middle (both in mm): asin(x/r). The
// crankshaft of a four-stroke engine turns twice as far.
func RingAngle(travel, radius float64) (float64, error) {
	if !finite(travel, radius) || radius <= 0 || math.Abs(travel) > radius {
		return 0, errorf("ring angle", "travel %s at a pin radius of %s; the travel must be shorter than the radius", about(travel, MM), about(radius, MM))
	}
	return math.Asin(travel/radius) * 180 / math.Pi, nil
}
