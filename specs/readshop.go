package specs

import (
	"fmt"
	"regexp"
	"slices"

	"shimcard/calc"
	"shimcard/specs/strict"
)

// ReadShop reads and checks a shop file; file names it in errors. The error
// is strict.Faults: everything wrong, in file order.
func ReadShop(file string, data []byte) (*Shop, error) {
	d := strict.Open(file, data)
	root := d.Root()
	if !versioned(root, "shop") {
		return nil, d.Err()
	}
	s := readShop(root)
	root.Close()
	if err := d.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// SiteLetters are those that no pen makes into a figure and that national
// keyboards have at the same place.
const SiteLetters = "BCDEFGHJKLNPRSTUVX"

var siteForm = regexp.MustCompile(`^[` + SiteLetters + `]{1,2}$`)

func readShop(root *strict.Map) *Shop {
	s := &Shop{Language: "en"}
	s.Name = root.Need("name", "name: the shop's name").TextUpTo(mostName)
	if v, ok := root.Get("site"); ok {
		if s.Site = v.Text(); !siteForm.MatchString(s.Site) {
			v.Fault(s.Site, "one or two capital letters of "+SiteLetters)
		}
	}
	if v, ok := root.Get("address"); ok {
		lines := v.List()
		if len(lines) > 6 {
			v.Fault("over six lines", "at most six")
		}
		for _, l := range lines {
			s.Address = append(s.Address, l.TextUpTo(60))
		}
	}
	s.Contact = optional(root, "contact", 80)
	if v, ok := root.Get("language"); ok {
		s.Language = v.OneOf("en", "de")
	}
	if v, ok := root.Get("decimal mark"); ok {
		s.DecimalComma = v.OneOf("point", "comma") == "comma"
	}
	if v, ok := root.Get("paper"); ok {
		s.Letter = v.OneOf("A4", "Letter") == "Letter"
	}
	if v, ok := root.Get("filing"); ok {
		s.ThreeHoles = v.OneOf("two holes", "three holes") == "three holes"
	}
	if v, ok := root.Get("printed on"); ok {
		s.TwoSided = v.OneOf("one side", "both sides") == "both sides"
	}
	s.Invented = yes(root, "invented")
	by, ok := root.Get("delivery read by")
	if ok {
		s.DeliveryMeter = by.OneOf("graduates", "meter") == "meter"
	}
	instruments := root.Need("instruments", "instruments: with one line for each").Map()
	for _, e := range instruments.Entries() {
		s.Instruments = append(s.Instruments, instrument(e))
	}
	if s.DeliveryMeter && instruments != nil && s.Instrument("delivery meter") == nil {
		by.Fault("a meter, and no delivery meter among the instruments", "delivery meter: {number: …, resolution: 0.1 mm³/stroke, permissible error: …} there, or graduates here")
	}
	if v, ok := root.Get("stock applied"); ok {
		s.StockApplied = v.Int(0, 1e9)
	}
	if v, ok := root.Get("stock"); ok {
		for _, e := range v.Map().Entries() {
			s.Stock = append(s.Stock, stock(e))
		}
	}
	return s
}

// instrumentKind is what the instruments that the sheets name themselves
// measure, where another unit would be taken for a reading; a spec names the
// others, and the dimensions they measure are lengths.
var instrumentKind = map[string][]calc.Kind{
	"micrometer":          {calc.LengthKind},
	"torque wrench":       {calc.Torque},
	"small torque wrench": {calc.Torque},
	"large torque wrench": {calc.Torque},
	"pressure gauge":      {calc.Pressure},
	"inlet gauge":         {calc.Pressure},
	"boost gauge":         {calc.Pressure},
	"timing travel gauge": {calc.LengthKind},
	"graduates":           {calc.Volume},
	"delivery meter":      {calc.Delivery},
	"measuring vessel":    {calc.Volume},
	"bench tachometer":    {calc.Speed},
	"thermometer":         {calc.Temperature},
	"oil thermometer":     {calc.Temperature},
	"stop watch":          {calc.Duration},
}

func instrument(e strict.Entry) *Instrument {
	i := &Instrument{Name: e.Key, Line: e.Line}
	e.Name.TextUpTo(mostShort)
	m := e.Value.Map()
	if m == nil {
		return i
	}
	i.Number = m.Need("number", "number: the shop's own number, DM-2").TextUpTo(20)
	resolution := m.Need("resolution", "resolution: 0.01 mm")
	i.Resolution, _ = resolution.Quantity(instrumentKind[i.Name]...)
	if i.Resolution.Unit.Factor != 0 && i.Resolution.Value <= 0 {
		resolution.Fault(resolution.Text(), "a resolution above 0")
	}
	permissible := m.Need("permissible error", "permissible error: 0.005 mm")
	if kind := i.Resolution.Unit.Kind; i.Resolution.Unit.Factor != 0 {
		i.Permissible, _ = permissible.Quantity(kind)
	} else {
		i.Permissible, _ = permissible.Quantity()
	}
	if i.Permissible.Unit.Factor != 0 && i.Permissible.Value <= 0 {
		permissible.Fault(permissible.Text(), "the largest permissible error, above 0 and without ±")
	}
	if v, ok := m.Get("length"); ok {
		i.Length = bounded(v, 50*calc.Millimetre, 2000*calc.Millimetre)
		if i.Resolution.Unit.Kind != calc.Torque {
			v.Fault("a length of what measures no torque", "it for a torque wrench only")
		}
	}
	if v, ok := m.Get("range"); ok {
		if i.Resolution.Unit.Kind != calc.Torque {
			v.Fault("a range of what measures no torque", "it for a torque wrench only")
		} else {
			i.Range = between(v, calc.Torque, 0)
		}
	}
	if v, ok := m.Get("calibration due"); ok {
		i.Due = v.Date()
	}
	m.Close()
	return i
}

func stock(e strict.Entry) *Stock {
	s := &Stock{Tray: e.Key}
	var unit calc.Unit
	var decimals int
	sizes := e.Value.Map().Entries()
	if len(sizes) > mostSizes {
		e.Value.Fault(fmt.Sprintf("%d sizes", len(sizes)), fmt.Sprintf("at most %d", mostSizes))
		return s
	}
	for _, size := range sizes {
		l, ok := length(size.Name, calc.Nanometre, &unit, &decimals)
		n := size.Value.Int(0, 9999)
		switch {
		case !ok:
		case slices.Contains(s.Sizes, l):
			size.Name.Fault("the size "+size.Key+" a second time", "each size once, with the number of all")
		default:
			s.Sizes = append(s.Sizes, l)
			s.Count = append(s.Count, n)
		}
	}
	s.Unit, s.Decimals = unit, decimals
	return s
}
