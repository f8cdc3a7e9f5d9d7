package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// NIST SP 811 (2008), appendix B.8: factors as printed there, in seven figures
// where they are not exact, and B.9 for temperature.
func TestUnitFactors(t *testing.T) {
	for _, c := range []struct {
		from, to string
		factor   float64
	}{
		{"psi", "kPa", 6.894757},
		{"kgf/cm²", "kPa", 98.0665},
		{"bar", "kPa", 100},
		{"MPa", "kPa", 1000},
		{"lbf·ft", "N·m", 1.355818},
		{"lbf·in", "N·m", 0.1129848},
		{"kgf·m", "N·m", 9.80665},
		{"in", "mm", 25.4},
		{"µm", "mm", 0.001},
		{"in²", "mm²", 645.16},
		{"lbf/in", "N/mm", 0.1751268},
		{"g/cm³", "kg/m³", 1000},
		{"L/min", "L/h", 60}, // 1.666667 E−05 m³/s against 2.777778 E−07
		{"min", "s", 60},
		{"lb/hp·h", "g/kWh", 608.2774}, // pound 4.535924 E−01 kg, horsepower (550 ft·lbf/s) 7.456999 E+02 W
	} {
		from, ok := ParseUnit(c.from)
		require.True(t, ok, c.from)
		to, ok := ParseUnit(c.to)
		require.True(t, ok, c.to)
		assert.InEpsilon(t, c.factor, Convert(1, from, to), 5e-7, "%s in %s", c.from, c.to)
		assert.InEpsilon(t, 1/c.factor, Convert(1, to, from), 5e-7)
	}
	f, _ := ParseUnit("°F")
	assert.InDelta(t, 100, Convert(212, f, Celsius), 1e-12)
	assert.InDelta(t, -40, Convert(-40, Celsius, f), 1e-12)
	assert.InDelta(t, 104, Quantity{40, Celsius}.In(f), 1e-12)
	assert.True(t, math.IsNaN(Convert(1, Bar, NM)), "a pressure is not a torque")
	assert.Equal(t, 41.0, Convert(41, CM3Per1000, MM3PerStroke))
}

// The units of the brief say what these spellings mean; a keyboard has no ³.
func TestUnitSpellings(t *testing.T) {
	for symbol, spellings := range map[string][]string{
		"mm": {" mm "}, "in": {`"`, "inch"}, "µm": {"um", "μm"},
		"N·m": {"Nm", "N m", "N*m", "N⋅m"}, "lbf·ft": {"lbf ft", "ft·lbf", "ft lbf"}, "lbf·in": {"lbf in", "in lbf"}, "kgf·m": {"kgf m"},
		"°C": {"C", "ºC", "° C"}, "°F": {"F"}, "°": {"deg"},
		"cm³/1000": {"cm3/1000", "cm^3/1000"}, "mm³/stroke": {"mm3/stroke"}, "cm³": {"cm3", "ml", "mL"},
		"rev/min": {"1/min", "rpm"}, "L/h": {"l/h"}, "L/min": {"l/min"}, "kg/m³": {"kg/m3"}, "g/cm³": {"g/cm3", "g/mL"},
		"kgf/cm²": {"kgf/cm2"}, "mm²": {"mm2"}, "cm²": {"cm2"}, "in²": {"in2"},
	} {
		for _, s := range append(spellings, symbol) {
			u, ok := ParseUnit(s)
			assert.True(t, ok, s)
			assert.Equal(t, symbol, u.Symbol, s)
		}
	}
	for _, s := range []string{"", "mpa", "Mm", "NM", "furlong", "degg", "/1000"} {
		_, ok := ParseUnit(s)
		assert.False(t, ok, s)
	}
	assert.Equal(t, []string{"mm", "in", "µm", "cm"}, UnitsOf(LengthKind))
	for k := Count; k <= Consumption; k++ {
		assert.NotContains(t, k.String(), "kind")
		if k != Count {
			assert.NotEmpty(t, UnitsOf(k), k)
		}
	}
	assert.Equal(t, "pressure", Pressure.String())
}

func TestQuantityString(t *testing.T) {
	for want, q := range map[string]Quantity{
		"6.2 mm": {6.2, MM}, "−0.3 mm": {0.1 - 0.4, MM}, "12.5°": {12.5, Unit{"°", Angle, 1, 0}}, "3": {3, Plain}, "5 %": {5, Percentage}, "40 °C": {40, Celsius},
	} {
		assert.Equal(t, want, q.String())
	}
	assert.InDelta(t, 750, Quantity{7.5, Bar}.Base(), 1e-12)
}
