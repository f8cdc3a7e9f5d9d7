package packet

import (
	"fmt"
	"path/filepath"
	"regexp"

	"shimcard/specs"
	"shimcard/specs/strict"
)

var kindForm = regexp.MustCompile(`(?m)^\x{FEFF}?(spec|shop|intake|form)\s*:`)

// Check reads one file of any kind as its command would, and says in a few
// words what it is. A typing form is checked against the job folder it lies in;
// its doubts come back beside it.
func Check(name string) (what string, doubts []Doubt, err error) {
	f, err := ReadFile(name)
	if err != nil {
		return "", nil, err
	}
	m := kindForm.FindSubmatch(f.Data)
	if err := strict.Open(name, f.Data).Err(); m == nil && err != nil {
		return "", nil, err // empty, binary, no YAML at all
	}
	if m == nil {
		return "", nil, fmt.Errorf("%s: neither spec, shop, intake nor typing form; its first line must say which: spec: 1, shop: 1, intake: 1 or form: 1", name)
	}
	switch string(m[1]) {
	case "spec":
		s, err := specs.ReadSpec(name, f.Data)
		if err != nil {
			return "", nil, err
		}
		return fmt.Sprintf("spec of %s, %d outlets, %s-hand", s.Pump.Name, s.Pump.Outlets, s.Pump.Rotation), nil, nil
	case "shop":
		s, err := specs.ReadShop(name, f.Data)
		if err != nil {
			return "", nil, err
		}
		return "shop file of " + s.Name, nil, nil
	case "intake":
		in, err := ReadIntake(name, f.Data)
		if err != nil {
			return "", nil, err
		}
		return fmt.Sprintf("intake of %s, serial %s", in.Pump.Name, in.Pump.Serial), nil, nil
	}
	job, err := Open(filepath.Dir(name))
	if err != nil {
		return "", nil, fmt.Errorf("%s: a typing form is checked where it belongs, in its job folder: %w", name, err)
	}
	r, err := ReadForm(name, f.Data, job.Number, job.Plan)
	if err != nil {
		return "", nil, err
	}
	return "typing form of job " + job.Number, stopping(job.Doubts(r)), nil
}

// CheckTogether says what a spec among these files asks for that a shop file
// among them has not, each naming the shop file. Files that are neither, or are
// not good by themselves, are left out.
func CheckTogether(names ...string) []error {
	var pumps []*specs.Spec
	var lacks []error
	for _, name := range names {
		if f, err := ReadFile(name); err == nil {
			if s, err := specs.ReadSpec(name, f.Data); err == nil {
				pumps = append(pumps, s)
			}
		}
	}
	for _, name := range names {
		f, err := ReadFile(name)
		if err != nil {
			continue
		}
		shop, err := specs.ReadShop(name, f.Data)
		if err != nil {
			continue
		}
		for _, s := range pumps {
			for _, lack := range NewPlan(s, shop).Unreached() {
				lacks = append(lacks, fmt.Errorf("%s: %s: %s", name, s.Pump.Name, lack))
			}
		}
	}
	return lacks
}
