package packet

import (
	"fmt"
	"time"

	"shimcard/specs"
	"shimcard/specs/strict"
)

// Intake says who brought what, what is wrong with it, and what may be done.
type Intake struct {
	Received time.Time
	By       string
	Customer struct{ Name, Reference, Contact string }
	Pump     struct {
		Name, Serial string
		Outlets      int // 0: not said
		Rotation     specs.Rotation
	}
	Engine      string
	Complaint   string
	Accessories []string
	Authorised  struct{ Work, Limit, By string }
	Invented    bool

	place string // file and line of the pump, for contradictions
}

// The most characters of a line on the sheets, and of a text that may wrap.
const (
	mostLine  = 60
	mostWords = 400
)

// ReadIntake reads an intake file. Errors are strict.Faults.
func ReadIntake(file string, data []byte) (*Intake, error) {
	in := &Intake{}
	doc := strict.Open(file, data)
	m := doc.Root()
	m.Need("intake", "intake: 1").Int(1, 1)
	if v, ok := m.Get("invented"); ok {
		in.Invented = v.Bool()
	}
	in.Received = m.Need("received", "received: 2026-10-05").Date()
	in.By = m.Need("by", "by: R.T.").TextUpTo(mostLine)
	c := m.Need("customer", "customer: {name: …, reference: …, contact: …}").Map()
	in.Customer.Name = c.Need("name", "name: …, the customer's name").TextUpTo(mostLine)
	in.Customer.Reference = optional(c, "reference")
	in.Customer.Contact = optional(c, "contact")
	c.Close()
	p := m.Need("pump", "pump: {name: …, serial: …}").Map()
	in.Pump.Name = p.Need("name", "name: …, the type as the spec calls it").TextUpTo(mostLine)
	in.Pump.Serial = p.Need("serial", "serial: …, the number on the plate").TextUpTo(mostLine)
	if v, ok := p.Get("outlets"); ok {
		in.Pump.Outlets = v.Int(2, 12)
	}
	if v, ok := p.Get("rotation"); ok {
		in.Pump.Rotation = specs.Rotation(v.OneOf("right", "left"))
	}
	p.Close()
	in.place = fmt.Sprintf("%s:%d: ", file, p.Line())
	in.Engine = optional(m, "engine")
	in.Complaint = m.Need("complaint", "complaint: …, in the customer's words").TextUpTo(mostWords)
	if v, ok := m.Get("came with it"); ok {
		for _, a := range v.List() {
			in.Accessories = append(in.Accessories, a.TextUpTo(mostLine))
		}
	}
	a := m.Need("authorised", "authorised: {work: …, limit: …, by: …}").Map()
	in.Authorised.Work = a.Need("work", "work: …, what the customer has agreed to").TextUpTo(mostWords)
	in.Authorised.Limit = optional(a, "limit")
	in.Authorised.By = optional(a, "by")
	a.Close()
	m.Close()
	if err := doc.Err(); err != nil {
		return nil, err
	}
	return in, nil
}

func optional(m *strict.Map, key string) string {
	if v, ok := m.Get(key); ok && !v.IsNull() {
		return v.TextUpTo(mostLine)
	}
	return ""
}

// Fits checks the intake against the spec it is to be worked to. Every
// contradiction is named with both values: the wrong spec on the bench ruins a
// pump.
func (in *Intake) Fits(spec *specs.Spec) error {
	var wrong faults
	if in.Pump.Name != spec.Pump.Name {
		wrong.add(in.place+"pump: the intake says %q, the spec is for %q; take the right spec or correct the intake", in.Pump.Name, spec.Pump.Name)
	}
	if in.Pump.Outlets != 0 && in.Pump.Outlets != spec.Pump.Outlets {
		wrong.add(in.place+"outlets: the intake says %d, the spec %d; look at the pump and correct the one that is wrong", in.Pump.Outlets, spec.Pump.Outlets)
	}
	if in.Pump.Rotation != "" && in.Pump.Rotation != spec.Pump.Rotation {
		wrong.add(in.place+"rotation: the intake says %s, the spec %s; look at the plate, judged from the drive end, and correct the one that is wrong", in.Pump.Rotation, spec.Pump.Rotation)
	}
	return wrong.err()
}
