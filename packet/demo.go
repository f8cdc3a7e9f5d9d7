package packet

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"gopkg.in/yaml.v3"

	"shimcard/specs"
)

// demo holds the invented intakes and readings; specs.Demo holds the rest.
//
//go:embed demo/*.yaml
var demo embed.FS

// Demo is one demonstration job made on disk.
type Demo struct {
	Name    string
	Folder  string // of the job
	Files   string // where its spec, shop and intake were written
	Results *Results
}

// MakeDemos makes the two demonstration jobs below dir, from intake to report.
// Every figure in them is invented. Where a demonstration is there already nothing is
// made: somebody may have changed its files to try something.
func MakeDemos(dir string) ([]Demo, error) {
	var out []Demo
	demos := []struct{ name, spec, shop, last string }{
		{"saltmarsh", "ostrel-d4.yaml", "saltmarsh.yaml", ""},
		{"prairie", "vessant-s6.yaml", "prairie.yaml", "26-0411"}, // a shop in the middle of its year
	}
	for _, d := range demos {
		there := filepath.Join(dir, d.name)
		switch _, err := os.Lstat(there); {
		case err == nil:
			return nil, fmt.Errorf("%s is there already, and stays as it is; make the demonstration in another folder, or delete that one first", there)
		case !errors.Is(err, fs.ErrNotExist):
			return nil, plainError(err)
		}
	}
	for _, d := range demos {
		files := filepath.Join(dir, d.name)
		jobs := filepath.Join(files, "jobs")
		n, err := openNumbers(jobs, "")
		if err != nil {
			return nil, err
		}
		if d.last != "" {
			if err := mark(filepath.Join(n.dir, d.last)); err != nil {
				return nil, plainError(err)
			}
		}
		var in [3]File
		for i, src := range []struct {
			fsys fs.FS
			path string
			name string
		}{
			{demo, "demo/" + d.name + "-intake.yaml", "intake.yaml"},
			{specs.Demo(), d.spec, d.spec},
			{specs.Demo(), d.shop, "shop.yaml"},
		} {
			data, err := fs.ReadFile(src.fsys, src.path)
			if err != nil {
				return nil, err
			}
			in[i] = File{filepath.Join(files, src.name), data}
			if err := replaceFile(in[i].Name, data); err != nil {
				return nil, err
			}
		}
		folder, job, err := Create(jobs, in[0], in[1], in[2])
		if err != nil {
			return nil, err
		}
		typed, err := demoReadings(d.name, job.Plan)
		if err != nil {
			return nil, err
		}
		form := Form(job.Number, job.Plan, func(b *Box) string { return typed[b.Code] })
		if err := replaceFile(filepath.Join(folder, FormFile), form); err != nil {
			return nil, err
		}
		res, doubts, err := job.Report(folder)
		if err != nil {
			return nil, err
		}
		if len(doubts) > 0 {
			return nil, fmt.Errorf("demo %s:%s", d.name, doubts[0])
		}
		out = append(out, Demo{d.name, folder, files, res})
	}
	return out, nil
}

// demoReadings are the invented readings of a demonstration, by box code.
func demoReadings(name string, p *Plan) (map[string]string, error) {
	data, err := demo.ReadFile("demo/" + name + "-readings.yaml")
	if err != nil {
		return nil, err
	}
	var nodes map[string]yaml.Node
	if err := yaml.Unmarshal(data, &nodes); err != nil {
		return nil, err
	}
	typed, known := map[string]string{}, map[string]bool{}
	for _, b := range p.Boxes() {
		known[b.Code] = true
	}
	for code, n := range nodes {
		if !known[code] {
			return nil, fmt.Errorf("demo %s: no box %s", name, code)
		}
		typed[code] = n.Value
	}
	return typed, nil
}
