package calc

import (
	"fmt"
	"math"
	"slices"
)

// Piston is how a timing piston answers pressure, from p·A = F0 + k·x.
type Piston struct {
	Start float64 // pressure in kPa at which it begins to move, F0/A
	PerMM float64 // kPa for each mm of travel, k/A
	Stop  float64 // mm of travel at its stop; +Inf where nothing tells

	UStart, UPerMM float64 // standard uncertainties; NaN where Dof is 0, UPerMM also where PerMM was given
	S              float64 // standard deviation of one travel about the slope, mm; NaN where Dof is 0
	Dof            int

	Used     []int // places of the readings on the slope, which alone were fitted
	Contrary []int // places of readings at rest or at the stop that the slope contradicts: the piston sticks, or a reading is wrong
}

// Travel returns the travel in mm at a pressure in kPa.
func (p Piston) Travel(pressure float64) float64 {
	return min(max((pressure-p.Start)/p.PerMM, 0), p.Stop)
}

// FitPiston finds the piston from readings of pressure in kPa and travel in mm,
// in any order. perMM is k/A in kPa per mm where the sheet gives it, leaving
// only Start to find, the mean of p − perMM·x; 0 has both found by regression
// of travel on pressure. stop is the sheet's stroke in mm, 0 when it says none.
// The readings go before the sheet: where the travel no longer rises at the
// highest pressures, that is the stop. resolution is that of the travel gauge.
func FitPiston(pressure, travel []float64, perMM, stop, resolution float64) (Piston, error) {
	switch {
	case len(pressure) != len(travel):
		return Piston{}, fmt.Errorf("timing piston: %d pressures but %d travels", len(pressure), len(travel))
	case !finite(pressure...) || !finite(travel...):
		return Piston{}, fmt.Errorf("timing piston: a reading is not a finite number")
	case !finite(perMM, resolution) || perMM < 0 || !(stop >= 0) || resolution < 0:
		return Piston{}, fmt.Errorf("timing piston: %v kPa per mm, stop %v mm, resolution %v mm; none may be negative", perMM, stop, resolution)
	case len(travel) == 0:
		return Piston{}, fmt.Errorf("timing piston: no readings")
	}
	if stop == 0 {
		stop = math.Inf(1)
	}
	slack := 1e-9 * (1 + slices.Max(travel)) // decimal figures are not exact in binary
	half := resolution/2 + slack
	for i, x := range travel {
		if x < -half {
			return Piston{}, errorf("timing piston", "%s is a travel of %s; zero the gauge with the piston at rest and read again", At(i), about(x, MM))
		}
	}

	byPressure := make([]int, len(travel))
	for i := range byPressure {
		byPressure[i] = i
	}
	slices.SortStableFunc(byPressure, func(a, b int) int {
		switch {
		case pressure[a] < pressure[b]:
			return -1
		case pressure[a] > pressure[b]:
			return 1
		}
		return 0
	})
	var moved []int
	for _, i := range byPressure {
		if travel[i] > half {
			moved = append(moved, i)
		}
	}
	if len(moved) == 0 {
		return Piston{}, errorf("timing piston", "it never moved, up to %s; read it at higher pressures", about(pressure[byPressure[len(byPressure)-1]], KPa))
	}
	resting := atStop(moved, pressure, travel, perMM, resolution+slack)
	if resting < len(moved) {
		var top []float64
		for _, i := range moved[resting:] {
			top = append(top, travel[i])
		}
		if shown := Mean(top); !(math.Abs(shown-stop) <= resolution+slack) {
			stop = shown
		}
	}
	p := Piston{PerMM: perMM, Stop: stop, UStart: math.NaN(), UPerMM: math.NaN(), S: math.NaN()}
	var ps, xs []float64
	for k, i := range moved {
		if k < resting && travel[i] < stop-half {
			p.Used = append(p.Used, i)
			ps, xs = append(ps, pressure[i]), append(xs, travel[i])
		}
	}
	slices.Sort(p.Used)
	if err := p.fit(ps, xs, resolution+slack); err != nil {
		return Piston{}, err
	}
	p.Contrary = p.contradicted(pressure, travel, perMM == 0, resolution)
	return p, nil
}

// atStop returns from which place on the readings that moved, sorted by
// pressure, lie at the stop: the last two or more, equal within the resolution
// over a rise of pressure that should have shown three times that. Where the
// sheet gives no slope, the readings below give one: to the stop's first
// reading, so rather too slow than too fast.
func atStop(moved []int, pressure, travel []float64, perMM, resolution float64) int {
	from, low, high := len(moved), math.Inf(1), math.Inf(-1)
	for from > 0 {
		x := travel[moved[from-1]]
		if max(high, x)-min(low, x) > resolution {
			break
		}
		low, high = min(low, x), max(high, x)
		from--
	}
	if from > len(moved)-2 {
		return len(moved)
	}
	first, last := moved[from], moved[len(moved)-1]
	if perMM == 0 {
		if from == 0 {
			return len(moved) // nothing below tells how fast it should rise
		}
		lowest := moved[0]
		perMM = (pressure[first] - pressure[lowest]) / (travel[first] - travel[lowest])
	}
	if perMM > 0 && (pressure[last]-pressure[first])/perMM > 3*resolution {
		return from
	}
	return len(moved)
}

// fit finds Start, PerMM where it is not given, and what goes with them, from
// readings on the slope.
func (p *Piston) fit(pressure, travel []float64, resolution float64) error {
	n := len(travel)
	if n == 0 {
		return errorf("timing piston", "no reading lies between rest and the stop; read it where it moves")
	}
	if n == 1 && p.PerMM == 0 {
		return errorf("timing piston", "one reading between rest and the stop; two are needed, or the piston's size and spring from the sheet")
	}
	line, err := FitCurve(pressure, travel, 1)
	if p.PerMM == 0 {
		switch {
		case err != nil:
			return errorf("timing piston", "every reading on the slope is at %s; read it at another pressure", about(pressure[0], KPa))
		case slices.Max(travel)-slices.Min(travel) <= resolution:
			return errorf("timing piston", "travel stays %s from %s to %s; look whether it sticks, or is at its stop already", about(travel[0], MM), about(slices.Min(pressure), KPa), about(slices.Max(pressure), KPa))
		case line.Coef[1] <= 0:
			return fallingError(pressure)
		}
		slope := line.Coef[1]
		p.PerMM = 1 / slope
		// About the middle of the readings, where the line is best known.
		middle, _ := line.At(line.mid)
		p.Start = line.mid - middle/slope
		_, u := line.At(p.Start)
		p.UStart, p.UPerMM = u/slope, line.U[1]/(slope*slope)
		p.S, p.Dof = line.S, line.Dof
		return nil
	}
	if err == nil && line.Coef[1] < 0 && (slices.Max(pressure)-slices.Min(pressure))/p.PerMM > 3*resolution {
		return fallingError(pressure)
	}
	starts := make([]float64, n)
	for i := range starts {
		starts[i] = pressure[i] - p.PerMM*travel[i]
	}
	p.Start, p.Dof = Mean(starts), n-1
	if n > 1 {
		s := StdDev(starts)
		p.UStart, p.S = s/math.Sqrt(float64(n)), s/p.PerMM
	}
	return nil
}

func fallingError(pressure []float64) error {
	return errorf("timing piston", "travel falls as pressure rises from %s to %s; look whether the readings are swapped, or the gauge upside down", about(slices.Min(pressure), KPa), about(slices.Max(pressure), KPa))
}

// contradicted returns the places of the readings left out of the fit that lie
// off the piston found by more than chance allows at 95 %.
func (p Piston) contradicted(pressure, travel []float64, slopeFitted bool, resolution float64) []int {
	// No travel is known better than the gauge reads, however well they agree.
	s, dof := ResolutionU(resolution), math.Inf(1)
	if p.S > s {
		s, dof = p.S, float64(p.Dof)
	}
	var onSlope []float64
	for _, i := range p.Used {
		onSlope = append(onSlope, pressure[i])
	}
	n, middle, squares := float64(len(onSlope)), Mean(onSlope), 0.0
	for _, x := range onSlope {
		squares += (x - middle) * (x - middle)
	}
	var list []int
	for i, x := range travel {
		if slices.Contains(p.Used, i) {
			continue
		}
		share := 1 + 1/n // of one reading, and of the line beneath it
		if slopeFitted {
			share += (pressure[i] - middle) * (pressure[i] - middle) / squares
		}
		chance := Expand(s*math.Sqrt(share), dof, 0.95)
		if math.Abs(x-p.Travel(pressure[i])) > resolution/2+chance+1e-9*(1+x) {
			list = append(list, i)
		}
	}
	return list
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
