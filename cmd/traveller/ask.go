package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
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
	put := func(question, usual string) string {
		for ended == nil {
			if usual != "" {
				fmt.Fprintf(out, "%s [%s]: ", question, usual)
			} else {
				fmt.Fprintf(out, "%s: ", question)
			}
			if !lines.Scan() {
				ended = errors.New("the intake was broken off; nothing was made")
				break
			}
			if a := strings.TrimSpace(lines.Text()); a != "" || usual != "" {
				if a == "" {
					return usual
				}
				return a
			}
			fmt.Fprintln(out, "  this one is needed")
		}
		return ""
	}
	may := func(question string) string {
		a := put(question+" (may stay empty: -)", "-")
		if a == "-" {
			return ""
		}
		return a
	}
	type group = map[string]any
	file := group{
		"intake":   1,
		"received": put("received, year-month-day", time.Now().Format("2006-01-02")),
		"by":       put("taken in by, initials", ""),
		"customer": group{"name": put("customer", ""), "reference": may("machine or reference"), "contact": may("contact")},
		"pump": group{"name": put("pump type, from the plate", s.Pump.Name), "serial": put("serial number, from the plate", ""),
			"outlets": put("outlets, counted on the pump", ""), "rotation": put("rotation from the drive end, right or left", "")},
		"engine":       may("engine"),
		"complaint":    put("complaint, in the customer's words", ""),
		"came with it": strings.FieldsFunc(may("what came with it, separated by commas"), func(r rune) bool { return r == ',' }),
		"authorised":   group{"work": put("work the customer agreed to", ""), "limit": may("up to what amount"), "by": may("agreed by, how")},
	}
	if ended != nil {
		return packet.File{}, ended
	}
	data, err := yaml.Marshal(file)
	return packet.File{Name: "the answers", Data: data}, err
}
