package packet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"shimcard/packet/words"
)

// Status is how far a job is typed: what is missing and what is doubted, stage
// by stage.
type Status struct {
	Job         string        `json:"job"`
	TypedBy     string        `json:"typed_by,omitempty"`
	Twice       bool          `json:"typed_twice"`
	Differences []string      `json:"differences"` // boxes in which the two typings differ
	Stages      []StageStatus `json:"stages"`

	in words.Printer
}

// StageStatus is one stage's part of it.
type StageStatus struct {
	Stage   string    `json:"stage"`
	Title   string    `json:"title"`
	Boxes   int       `json:"boxes"` // worked-out ones are not counted
	Typed   int       `json:"typed"`
	Missing []Missing `json:"missing"` // required
	Doubted []Doubted `json:"doubted"`
}

// Doubted is a doubt as a program reads it.
type Doubted struct {
	Code    string `json:"box"`
	Label   string `json:"label"`
	Line    int    `json:"line"`
	Value   string `json:"value"`
	Reason  string `json:"reason"`
	Instead string `json:"instead,omitempty"`
	Stops   bool   `json:"stops_the_report"`
}

// Status tells how far the job is typed.
func (t *Typing) Status() (*Status, error) {
	differ, twice, err := t.Differences()
	if err != nil {
		return nil, err
	}
	s := &Status{Job: t.Number, TypedBy: t.Readings.TypedBy, Twice: twice, Differences: []string{}, in: t.Printer}
	for _, d := range differ {
		s.Differences = append(s.Differences, d.Box.Code)
	}
	doubts, missing := t.Doubts(t.Readings), t.judged(t.Readings).res.Missing
	for _, stage := range t.Stages {
		st := StageStatus{Stage: stage.Letter, Title: stage.Title, Missing: []Missing{}, Doubted: []Doubted{}}
		for _, b := range stage.Boxes() {
			if b.From != nil {
				continue
			}
			st.Boxes++
			if t.Raw(b) != "" {
				st.Typed++
			}
		}
		for _, m := range missing {
			if m.Stage == stage.Letter {
				st.Missing = append(st.Missing, m)
			}
		}
		for _, d := range doubts {
			if d.Box.Code[:1] == stage.Letter {
				st.Doubted = append(st.Doubted, Doubted{d.Box.Code, d.Box.Label, d.Line, d.Value, d.Reason, d.Instead, d.Stops})
			}
		}
		s.Stages = append(s.Stages, st)
	}
	return s, nil
}

// Done reports whether nothing is missing, doubted or to be settled.
func (s *Status) Done() bool {
	for _, st := range s.Stages {
		if len(st.Missing)+len(st.Doubted) > 0 {
			return false
		}
	}
	return len(s.Differences) == 0
}

// JSON is the status for a program.
func (s *Status) JSON() ([]byte, error) {
	data, err := json.MarshalIndent(s, "", "  ")
	return append(data, '\n'), err
}

// String lists the stages, and below each what is missing and doubted.
func (s *Status) String() string {
	var w bytes.Buffer
	for _, st := range s.Stages {
		fmt.Fprintf(&w, "%s  %-40s %s\n", st.Stage, st.Title, s.in.T("%3d of %3d typed", st.Typed, st.Boxes))
		for _, m := range st.Missing {
			fmt.Fprintf(&w, "     %-8s %-6s %s", s.in.T("missing"), m.Code, m.Label)
			if m.Why != "" {
				fmt.Fprintf(&w, ": %s", m.Why)
			}
			w.WriteByte('\n')
		}
		for _, d := range st.Doubted {
			fmt.Fprintf(&w, "     %-8s %-6s %s", s.in.T("doubted"), d.Code, d.Label)
			if d.Value != "" {
				fmt.Fprintf(&w, ", %s", d.Value)
			}
			fmt.Fprintf(&w, ": %s", d.Reason)
			if d.Instead != "" {
				fmt.Fprintf(&w, "; %s?", d.Instead)
			}
			w.WriteByte('\n')
		}
	}
	switch n := len(s.Differences); {
	case !s.Twice:
	case n == 0:
		w.WriteString(s.in.T("typed twice, no differences") + "\n")
	default:
		w.WriteString(s.in.T("typed twice, to settle: %s", strings.Join(s.Differences, ", ")) + "\n")
	}
	return w.String()
}
