package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"gopkg.in/yaml.v3"

	"shimcard/packet"
	"shimcard/specs"
)

// ask takes the intake at a terminal, one question a line, and returns it as
// the intake file it would have been. Type, rotation and outlets are asked for,
// not taken from the spec: they are read off the plate, and an answer that
// contradicts the spec is asked again. Answers broken off, by the end of the input or
// by a signal, are kept in a file.
func ask(in io.Reader, out io.Writer, stopped <-chan os.Signal, spec, shop packet.File) (packet.File, error) {
	s, err := specs.ReadSpec(spec.Name, spec.Data)
	if err != nil {
		return packet.File{}, err
	}
	if _, err := specs.ReadShop(shop.Name, shop.Data); err != nil {
		return packet.File{}, err
	}
	lines := bufio.NewScanner(in)
	var ended error
	given := false
	answer := func(question string) string {
		if ended != nil {
			return ""
		}
		fmt.Fprint(out, question, ": ")
		line := make(chan bool, 1)
		go func() { line <- lines.Scan() }()
		select {
		case <-stopped:
			fmt.Fprintln(out)
			ended = errBroken
			return ""
		case more := <-line:
			if !more {
				fmt.Fprintln(out)
				ended = errors.Join(errBroken, lines.Err())
				return ""
			}
		}
		a := strings.TrimSpace(lines.Text())
		given = given || a != ""
		return a
	}
	until := func(question string, wrong func(string) string) (a string) {
		for ended == nil {
			a = answer(question)
			why := wrong(a)
			if why == "" || ended != nil {
				break
			}
			fmt.Fprintln(out, "  "+why)
		}
		return a
	}
	need := func(question string) string {
		return until(question, func(a string) string {
			if a == "" {
				return "this one is needed"
			}
			return ""
		})
	}
	must := func(question, want string) string {
		until(question, func(a string) string {
			if !strings.EqualFold(a, want) {
				return fmt.Sprintf("found %q, the spec %s says %s; look at the pump, or break off (Ctrl-D) and take the right spec", a, spec.Name, want)
			}
			return ""
		})
		return want
	}
	may := func(question string) string {
		if a := answer(question + " (Enter: none)"); a != "-" {
			return a
		}
		return ""
	}
	today := time.Now().Format(time.DateOnly)
	received := until("received, year-month-day [today]", func(a string) string {
		if _, err := time.Parse(time.DateOnly, a); a != "" && err != nil {
			return "write it as " + today
		}
		return ""
	})
	if received == "" {
		received = today
	}
	type group = map[string]any
	file := group{
		"intake":   1,
		"received": received,
		"by":       need("taken in by, initials"),
		"customer": group{"name": need("customer"), "reference": may("machine or reference"), "contact": may("contact")},
		"pump": group{"name": must("pump type, from the plate", s.Pump.Name), "serial": need("serial number, from the plate"),
			"outlets": must("outlets, counted on the pump", fmt.Sprint(s.Pump.Outlets)), "rotation": must("rotation from the drive end, right or left", string(s.Pump.Rotation))},
		"engine":       may("engine"),
		"complaint":    need("complaint, in the customer's words"),
		"came with it": list(may("what came with it, separated by commas")),
		"authorised":   group{"work": need("work the customer agreed to"), "limit": may("up to what amount"), "by": may("agreed by, how")},
	}
	data, err := yaml.Marshal(file)
	if err != nil {
		return packet.File{}, err
	}
	answers := packet.File{Name: "the answers", Data: data}
	switch {
	case ended != nil && !given:
		return packet.File{}, ended
	case ended != nil:
		return packet.File{}, keep(answers, ended)
	}
	return answers, nil
}

var errBroken = errors.New("the intake was broken off")

// breaks are the signals that end a command with questions: Ctrl-C, a closed window,
// a computer that is switched off.
func breaks() <-chan os.Signal {
	stopped := make(chan os.Signal, 1)
	signal.Notify(stopped, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	return stopped
}

// keepWhenStopped keeps the answers when a signal ends the command while the job is
// being made.
func keepWhenStopped(stopped <-chan os.Signal, answers packet.File) {
	go func() {
		<-stopped
		fmt.Fprintln(os.Stderr, keep(answers, errors.New("broken off while the job was being made; traveller list shows whether it was")))
		os.Exit(2)
	}()
}

// list parts an answer at its commas and leaves out what is empty.
func list(a string) (out []string) {
	for part := range strings.SplitSeq(a, ",") {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// keep saves answers that led to no job, so that nobody types them twice. Where there
// is no room for a file they are in the message.
func keep(answers packet.File, because error) error {
	f, err := os.CreateTemp(".", "intake-*.yaml")
	if err == nil {
		_, err = f.Write(answers.Data)
		if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
			os.Remove(f.Name())
		}
	}
	if err != nil {
		return fmt.Errorf("%w\nyour answers could not be kept: %w\ncopy them from here into a file, and run again with --intake and its name:\n\n%s", because, err, answers.Data)
	}
	return fmt.Errorf("%w\nyour answers are kept: correct %s and run again with --intake %s", because, f.Name(), f.Name())
}
