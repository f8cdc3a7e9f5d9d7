package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"shimcard/packet"
	"shimcard/specs"
)

// ask takes the intake at a terminal, one question a line, and returns it as
// the intake file it would have been. Pump type, rotation and outlets are asked
// for, not taken from the spec: they are read off the plate.
func ask(in io.Reader, out io.Writer, spec packet.File) (packet.File, error) {
	s, err := specs.ReadSpec(spec.Name, spec.Data)
	if err != nil {
		return packet.File{}, err
	}
	lines := bufio.NewScanner(in)
	var ended error
	answer := func(question string) string {
		if ended == nil {
			fmt.Fprint(out, question, ": ")
			if !lines.Scan() {
				ended = errors.New("the intake was broken off; nothing was made")
			}
		}
		return strings.TrimSpace(lines.Text())
	}
	need := func(question string) (a string) {
		for a == "" && ended == nil {
			a = answer(question)
		}
		return a
	}
	usual := func(question, value string) string {
		if a := answer(question + " [" + value + "]"); a != "" {
			return a
		}
		return value
	}
	may := func(question string) string { return strings.Trim(answer(question+" (Enter: none)"), "-") }
	type group = map[string]any
	file := group{
		"intake":   1,
		"received": usual("received, year-month-day", time.Now().Format("2006-01-02")),
		"by":       need("taken in by, initials"),
		"customer": group{"name": need("customer"), "reference": may("machine or reference"), "contact": may("contact")},
		"pump": group{"name": usual("pump type, from the plate", s.Pump.Name), "serial": need("serial number, from the plate"),
			"outlets": need("outlets, counted on the pump"), "rotation": need("rotation from the drive end, right or left")},
		"engine":       may("engine"),
		"complaint":    need("complaint, in the customer's words"),
		"came with it": strings.FieldsFunc(may("what came with it, separated by commas"), func(r rune) bool { return r == ',' }),
		"authorised":   group{"work": need("work the customer agreed to"), "limit": may("up to what amount"), "by": may("agreed by, how")},
	}
	data, err := yaml.Marshal(file)
	return packet.File{Name: "the answers", Data: data}, errors.Join(ended, err)
}

// keep saves answers that led to no job, so that nobody types them twice.
func keep(answers packet.File, because error) error {
	f, err := os.CreateTemp(".", "intake-*.yaml")
	if err != nil {
		return errors.Join(because, err)
	}
	_, err = f.Write(answers.Data)
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(because, err)
	}
	return fmt.Errorf("%w\nyour answers are kept: correct %s and run again with --intake %s", because, f.Name(), f.Name())
}
