package packet

import (
	"fmt"
	"strings"
)

// Summary is what a report says in a few lines, for a terminal: the verdict,
// what is not met, what is missing stage by stage, what to look at next.
func (r *Results) Summary() string {
	var w strings.Builder
	line := func(mark, text string) { fmt.Fprintf(&w, "  %-7s %s\n", mark, text) }
	w.WriteString(r.T("%s, %s serial %s: %s; %d of %d items met", r.Job, r.Pump, r.Serial, r.T(string(r.Overall)), r.Met, r.Count) + "\n")
	for _, it := range r.Items {
		switch it.Verdict {
		case Meets, NotMeasured: // what is missing follows
		default:
			line(it.Code, join("; ", it.Name+": "+r.T(string(it.Verdict)), it.Note))
		}
		if it.MissesPrediction() {
			line(it.Code, r.T("%s: measured again, it missed what the shims must do", it.Name))
		}
	}
	const most = 8 // boxes named of one stage
	var stages []string
	var why []Missing // said on their own
	missing := map[string][]string{}
	for _, m := range r.Missing {
		if missing[m.Stage] == nil {
			stages = append(stages, m.Stage)
		}
		if m.Why != "" && !strings.HasSuffix(m.Why, r.T("%s is blank", "")) {
			why = append(why, m)
			continue
		}
		missing[m.Stage] = append(missing[m.Stage], m.Code)
	}
	for _, m := range why {
		line(m.Code, m.Label+": "+m.Why)
	}
	for _, s := range stages {
		codes := missing[s]
		if codes == nil {
			continue
		}
		if n := len(codes) - most; n > 0 {
			line(s, r.T("required and not there: %s and %d more", strings.Join(codes[:most], ", "), n))
		} else {
			line(s, r.T("required and not there: %s", strings.Join(codes, ", ")))
		}
	}
	for _, s := range r.Slips {
		line(s.Code, r.T("the pen wrote %s, its own boxes make %s", r.Mark(fmt.Sprint(s.Pen)), r.Mark(fmt.Sprint(s.Worked))))
	}
	if len(r.Now.Hints) > 0 {
		line("", r.T("next: %s; benchreport advise says more", r.Now.Hints[0].Finding))
	}
	return w.String()
}
