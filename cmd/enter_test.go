package cmd

import (
	"fmt"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"

	"shimcard/packet"
)

// terminal is one of 80 × 24 characters in tmux, as a clerk's would be over ssh.
type terminal struct {
	*testing.T
	socket string
}

func newTerminal(t *testing.T) *terminal {
	x := &terminal{T: t, socket: filepath.Join(t.TempDir(), "tmux")}
	t.Cleanup(func() { _ = exec.Command("tmux", "-S", x.socket, "kill-server").Run() })
	return x
}

func (x *terminal) tmux(args ...string) string {
	x.Helper()
	out, err := exec.Command("tmux", append([]string{"-S", x.socket, "-f", "/dev/null"}, args...)...).CombinedOutput()
	require.NoError(x, err, "tmux %v: %s", args, out)
	return string(out)
}

// start runs a command; what it leaves on the screen stays there. Beside the
// socket it leaves its process number and, at the end, its status: tmux does not
// always learn of it.
func (x *terminal) start(environment, command string) {
	x.Helper()
	pid, status := x.socket+".pid", x.socket+".status"
	for _, name := range []string{pid, status} {
		require.NoError(x, os.RemoveAll(name))
	}
	script := fmt.Sprintf("PATH=%s:$PATH\nexport PATH LANG=C.UTF-8 %s\nsh -c 'echo $$ >%s; exec %s'\necho $? >%s.new; mv %[5]s.new %[5]s\n",
		bin, environment, pid, command, status)
	require.NoError(x, os.WriteFile(x.socket+".sh", []byte(script), 0o644))
	if exec.Command("tmux", "-S", x.socket, "has-session").Run() != nil {
		x.tmux("new-session", "-d", "-x", "80", "-y", "24", "sleep 1000")
		x.tmux("set-option", "-g", "remain-on-exit", "on")
	}
	x.tmux("respawn-pane", "-k", "exec sh "+x.socket+".sh")
}

// ended waits for the command to end, with a status.
func (x *terminal) ended(status string) {
	x.Helper()
	x.until("the end, "+status, func(string) bool {
		got, err := os.ReadFile(x.socket + ".status")
		return err == nil && strings.TrimSpace(string(got)) == status
	})
}

// kill sends the command a signal.
func (x *terminal) kill(with syscall.Signal) {
	x.Helper()
	data, err := os.ReadFile(x.socket + ".pid")
	require.NoError(x, err)
	var pid int
	_, err = fmt.Sscan(string(data), &pid)
	require.NoError(x, err)
	require.NoError(x, syscall.Kill(pid, with))
}

func (x *terminal) shown() string { x.Helper(); return x.tmux("capture-pane", "-p") }

// until waits for something to be seen.
func (x *terminal) until(what string, seen func(screen string) bool) {
	x.Helper()
	for end := time.Now().Add(40 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if seen(x.shown()) {
			return
		}
	}
	require.Fail(x, "not seen: "+what, "%s", x.shown())
}

func (x *terminal) see(words ...string) {
	x.Helper()
	for _, w := range words {
		x.until(w, func(screen string) bool { return strings.Contains(screen, w) })
	}
}

// press sends keys: names as tmux has them, or text behind a "=".
func (x *terminal) press(keys ...string) {
	x.Helper()
	var args []string
	for _, k := range keys {
		if text, is := strings.CutPrefix(k, "="); is {
			if text != "" {
				args = append(args, "send-keys", "-l", "--", text, ";")
			}
			continue
		}
		args = append(args, "send-keys", k, ";")
	}
	x.tmux(args...)
}

var inHand = regexp.MustCompile(`(?m)^ (\S+)  .*\d+ (?:of|von) \d+ (?:typed|getippt)  `)

// box is the code of the box in hand, "" while the screen shows none.
func (x *terminal) box() string {
	x.Helper()
	if m := inHand.FindStringSubmatch(x.shown()); m != nil {
		return m[1]
	}
	return ""
}

func (x *terminal) at(code string) {
	x.Helper()
	x.until("box "+code, func(screen string) bool {
		m := inHand.FindStringSubmatch(screen)
		return m != nil && m[1] == code
	})
}

func (x *terminal) jump(code string) { x.Helper(); x.press("C-g", "="+code, "Enter"); x.at(code) }

// newJob makes a demonstration's job anew, its shop file changed by some edits,
// with nothing typed.
func newJob(t *testing.T, name string, edits ...string) (folder string, job *packet.Job, readings map[string]string) {
	t.Helper()
	root := t.TempDir()
	spec := map[string]string{"saltmarsh": "ostrel-d4.yaml", "prairie": "vessant-s6.yaml"}[name]
	shop, err := os.ReadFile(filepath.Join("..", "specs", "demo", name+".yaml"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(root, "shop.yaml"), []byte(strings.NewReplacer(edits...).Replace(string(shop))), 0o644))
	out, err := exec.Command(filepath.Join(bin, "traveller"), "new", "--spec", filepath.Join("..", "specs", "demo", spec),
		"--shop", filepath.Join(root, "shop.yaml"),
		"--intake", filepath.Join("..", "packet", "demo", name+"-intake.yaml"), "--jobs", root).CombinedOutput()
	require.NoError(t, err, "%s", out)
	folder = filepath.Join(root, "26-0001-C")
	job, err = packet.Open(folder)
	require.NoError(t, err)
	data, err := os.ReadFile(filepath.Join("..", "packet", "demo", name+"-readings.yaml"))
	require.NoError(t, err)
	var nodes map[string]yaml.Node
	require.NoError(t, yaml.Unmarshal(data, &nodes))
	readings = map[string]string{}
	for code, n := range nodes {
		readings[code] = n.Value
	}
	return folder, job, readings
}

func formOn(t *testing.T, folder, file string, job *packet.Job) *packet.Readings {
	t.Helper()
	name := filepath.Join(folder, file)
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	r, err := packet.ReadForm(name, data, job.Number, job.Plan)
	require.NoError(t, err)
	return r
}

// shortest is how a clerk types a value: 1 and 0 in a tick box, the number of a
// choice, Enter alone for the date typed last.
func shortest(b *packet.Box, value, lastDate string) string {
	if value == "" {
		return ""
	}
	switch b.Kind {
	case packet.Tick:
		return map[string]string{"yes": "1", "no": "0"}[value]
	case packet.Choice:
		for i, c := range b.Choices {
			if c == value {
				return fmt.Sprint(i + 1)
			}
		}
	case packet.Date:
		switch {
		case value == lastDate:
			return ""
		case value[:8] == lastDate[:8]:
			return strings.TrimPrefix(value[8:], "0")
		}
	}
	return value
}

// A whole job is typed at the screen, killed at random moments and gone on with:
// what was accepted is there, and the report says what it says of the readings
// written into the form by hand.
func TestWholeJobAtTheTerminal(t *testing.T) {
	t.Parallel()
	folder, job, readings := newJob(t, "saltmarsh")
	x := newTerminal(t)
	boxes := job.Boxes()
	index := map[string]int{}
	for i, b := range boxes {
		index[b.Code] = i
	}
	date := make([]string, len(boxes)+1) // typed last before a box
	date[0] = job.Intake.Received.Format(time.DateOnly)
	for i, b := range boxes {
		date[i+1] = date[i]
		if v := readings[b.Code]; b.Kind == packet.Date && v != "" {
			date[i+1] = v
		}
	}
	accepted := func(upTo int) {
		t.Helper()
		r := formOn(t, folder, packet.FormFile, job)
		for _, b := range boxes[:upTo] {
			require.Equal(t, readings[b.Code] != "", !r.Entries[b.Code].Blank(), "%s was accepted and is lost", b.Code)
		}
	}
	rnd := rand.New(rand.NewSource(7))
	command := "benchreport enter --by K.L. " + folder
	x.start("", command)
	x.at(boxes[0].Code)
	kills := 0
	for i := 0; i < len(boxes); {
		from, keys := i, []string{}
		for ; i < len(boxes) && i < from+12; i++ {
			b := boxes[i]
			if v := readings[b.Code]; v != "" {
				keys = append(keys, "="+shortest(b, v, date[i]))
			} else if b.Kind == packet.Date {
				keys = append(keys, "Tab")
				continue
			}
			keys = append(keys, "Enter")
		}
		x.press(keys...)
		if kills < 8 && rnd.Intn(4) == 0 {
			time.Sleep(time.Duration(rnd.Intn(300)) * time.Millisecond)
			sure := index[x.box()] // those before it are accepted
			x.kill(syscall.SIGKILL)
			x.ended("137")
			kills++
			accepted(sure)
			x.start("", command)
			x.until("the screen again", func(screen string) bool { return inHand.MatchString(screen) })
			again := index[x.box()]
			require.LessOrEqual(t, again, i)
			for k := again; k < sure; k++ { // it goes on behind the box typed last
				require.Empty(t, readings[boxes[k].Code], "begins again at %s, %s was accepted", boxes[again].Code, boxes[k].Code)
			}
			i = again
			continue
		}
		if i < len(boxes) {
			x.at(boxes[i].Code)
		}
	}
	x.see("This was the last box")
	x.press("C-x")
	x.ended("0")
	require.Equal(t, 8, kills)

	got := formOn(t, folder, packet.FormFile, job)
	require.Equal(t, "K.L.", got.TypedBy)
	name := filepath.Join(t.TempDir(), packet.FormFile)
	require.NoError(t, os.WriteFile(name, packet.Form(job.Number, job.Plan, func(b *packet.Box) string { return readings[b.Code] }), 0o644))
	want := formOn(t, filepath.Dir(name), packet.FormFile, job)
	for _, b := range boxes {
		w, g := want.Entries[b.Code], got.Entries[b.Code]
		w.Line, g.Line = 0, 0
		w.Raw, g.Raw = "", ""
		require.Equal(t, w, g, b.Code)
	}
	out, err := exec.Command(filepath.Join(bin, "benchreport"), "make", folder).Output()
	require.NoError(t, err)
	require.Contains(t, string(out), "meets its test sheet; 36 of 36 items met")

	all, figures, ofFigures, digits := 0, 0, 0, 0
	for i, b := range boxes {
		v := readings[b.Code]
		n := len([]rune(shortest(b, v, date[i]))) + 1
		if v == "" {
			n = 1
		}
		all += n
		if v != "" && b.Kind == packet.Number {
			figures, ofFigures, digits = figures+1, ofFigures+n, digits+len(v)
		}
	}
	t.Logf("keys: %d for %d values in %d boxes, of them %d for %d figures of %d characters: %.2f a figure",
		all, len(readings), len(boxes), ofFigures, figures, digits, float64(ofFigures)/float64(figures))
}

// What the screen says and does, key by key.
func TestKeys(t *testing.T) {
	t.Parallel()
	folder, job, readings := newJob(t, "saltmarsh")
	x := newTerminal(t)
	command := "benchreport enter --by K.L. " + folder
	after := func(code string) string { // in the order of the form
		boxes := job.Boxes()
		return boxes[1+slices.IndexFunc(boxes, func(b *packet.Box) bool { return b.Code == code })].Code
	}
	a, b, c := job.Stages[0], job.Stages[1], job.Stages[2]
	raw := func(code string) string { return formOn(t, folder, packet.FormFile, job).Entries[code].Raw }

	// A copy is told of before the screen would hide it.
	twin := folder + " copy"
	require.NoError(t, os.CopyFS(twin, os.DirFS(folder)))
	x.start("", command)
	x.see("another folder of job ", "Enter types into ", "Ctrl-C stops:")
	require.NoError(t, os.RemoveAll(twin))
	x.press("Enter")
	x.at("A1")
	x.press("C-x")
	x.ended("0")

	// Ticks and choices by number; dates by Enter or by the day.
	x.start("", command)
	x.at("A1")
	x.see("1 whole   2 broken   3 none", "^X end")
	x.press("=2", "Enter")
	x.at("A2")
	require.Equal(t, "broken", raw("A1"))
	x.jump("A5")
	x.press("=1", "Enter", "=0", "Enter")
	x.at("A7")
	require.Equal(t, "yes", raw("A5"))
	require.Equal(t, "no", raw("A6"))
	x.jump(a.When.Code)
	x.press("Enter")
	x.at(after(a.When.Code))
	require.Equal(t, "2026-10-05", raw(a.When.Code), "the day it came in, with Enter alone")
	x.jump(b.When.Code)
	x.press("=6", "Enter")
	x.at(after(b.When.Code))
	require.Equal(t, "2026-10-06", raw(b.When.Code))

	// A doubt says why; + takes the figure meant, ! confirms, Esc edits on.
	x.jump("H1a")
	x.press("=334", "Enter")
	x.see("believable is 1.00 to 6.00", "+ takes 3.34")
	x.press("Enter", "=x") // neither is an answer
	x.see("+ takes 3.34")
	require.Empty(t, raw("H1a"))
	x.press("=+")
	x.at("H1b")
	require.Equal(t, "3.34", raw("H1a"))
	x.press("=7.77", "Enter")
	x.see("believable is 1.00 to 6.00")
	x.press("Escape")
	// A key behind an Esc that is not read yet is one with Alt.
	x.until("no doubt", func(screen string) bool { return !strings.Contains(screen, "believable is") })
	x.press("BSpace", "BSpace", "BSpace", "BSpace", "=3.33", "Enter")
	x.at("H1c")
	require.Equal(t, "3.33", raw("H1b"))
	x.press("=9.99", "Enter")
	x.see("believable is 1.00 to 6.00")
	x.press("=!")
	x.at("H1")
	require.Equal(t, "9.99 !", raw("H1c"))
	x.press("Up") // to the box above
	x.at("H1a")
	x.press("Right", "Right")
	x.at("H1c")
	x.press("=3.32", "Enter")
	x.until("why", func(screen string) bool { return strings.Contains(screen, "Why changed? (Enter: typing slip)") })
	x.press("=misread", "Enter")
	x.until("no question", func(screen string) bool { return !strings.Contains(screen, "Why changed") })

	// Worked out, and what the pen wrote.
	x.jump("H1")
	x.see("worked out: ", "Enter: it says the same")
	x.press("=3.43", "Enter")
	x.see("pen 3.43, worked out 3.34 from H1a, H1b, H1c: whose slip?")
	x.press("=!")
	x.at("H2")
	require.Equal(t, "3.43 !", raw("H1"))

	// A figure that makes another box hard to believe: one key goes there, the figure
	// typed is kept, and a box that is worked out can be confirmed.
	flow := job.AsFound.ReturnFlow.Box
	volume, seconds := flow.From.Terms[0].Box.Code, flow.From.Terms[1].Box.Code
	x.jump(volume)
	x.press("="+readings[volume], "Enter")
	x.jump(seconds)
	x.press("=1.0", "Enter")
	x.see(flow.Code+": it works out to ", "/ goes to "+flow.Code)
	x.press("=/")
	x.at(flow.Code)
	require.Equal(t, "1.0", raw(seconds))
	x.see("?? it works out to ", "! and Enter: it stands so")
	x.press("=!", "Enter")
	x.at(after(flow.Code))
	require.Equal(t, "!", raw(flow.Code))
	x.jump(seconds)
	x.press("="+readings[seconds], "Enter", "Enter")
	x.at(flow.Code)
	require.Equal(t, readings[seconds], raw(seconds))
	x.jump("A2")
	x.press("C-g", "Enter") // A5 and A6 are filled
	x.at("A3")
	x.jump("A4")
	x.press("=1", "Enter", "C-g", "Enter")
	x.at("A7")

	// Not measured, illegible, a remark; emptied again; back.
	x.jump("G1")
	x.press("C-n")
	x.at(after("G1"))
	require.Equal(t, "(not measured)", raw("G1"))
	shim := "" // taken out, and the box before it
	before := ""
	for _, x := range c.Boxes() {
		if x.Kind == packet.Number && x.From == nil && readings[x.Code] != "" {
			before, shim = shim, x.Code
			if before != "" && after(before) == shim {
				break
			}
		}
	}
	x.jump(before)
	x.press("=9", "C-u") // what is half typed goes into no box
	x.at(shim)
	require.Equal(t, "(illegible)", raw(before))
	x.press("="+readings[shim], "C-r")
	x.see("remark on " + shim + " >")
	x.press("=rust (light)", "Enter")
	x.at(after(shim))
	require.Equal(t, readings[shim]+" (rust [light])", raw(shim))
	x.press("=/")
	x.at(shim)
	x.press("Delete")
	x.see("Why changed?")
	x.press("Enter")
	x.until("emptied", func(string) bool { return raw(shim) == "" })
	x.press("BSpace")
	x.at(before)

	// A required signature left out is told of; a code that is none too.
	x.jump(c.Second.Code)
	x.press("Enter")
	x.see(c.Second.Code + ": ")
	x.press("C-g", "=Q7", "Enter")
	x.see("There is no box Q7 in this job.")

	// Where the form cannot be written, what was typed stays to be tried again.
	x.jump("H1b")
	name := filepath.Join(folder, packet.FormFile)
	form, err := os.ReadFile(name)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(name, append(form, "H999: 1\n"...), 0o644))
	x.press("=3.34", "Enter", "Enter") // and why it is changed
	x.see("Not kept: ", "H999")
	x.at("H1b")
	require.NoError(t, os.WriteFile(name, form, 0o644))
	x.press("Enter", "Enter")
	x.at("H1c")
	require.Equal(t, "3.34", raw("H1b"))

	// Signals end it as ^X does, and it goes on behind the box typed last.
	for _, with := range []syscall.Signal{syscall.SIGTERM, syscall.SIGHUP} {
		x.kill(with)
		x.ended("0")
		x.start("TERM=vt100 NO_COLOR=1", command)
		x.at("H1c")
	}
	x.press("C-c")
	x.ended("0")

	// A window too small says so, and shows the sheet when it is large enough.
	x.start("", command)
	x.at("H1c")
	x.tmux("resize-window", "-x", "60", "-y", "20")
	x.see("This window has 60 × 20 characters")
	x.tmux("resize-window", "-x", "80", "-y", "24")
	x.at("H1c")
	x.press("C-x")
	x.ended("0")

	// Blind, a second time; then only what differs is asked for.
	blind := "benchreport enter --twice --by M.O. " + folder
	x.start("", blind)
	x.at("A1")
	for _, keep := range []struct{ code, keys string }{
		{"A1", "2"}, {"A4", "1"}, {volume, readings[volume]}, {seconds, readings[seconds]}, {"A5", "1"}, {"A6", "0"}, {a.When.Code, ""}, {b.When.Code, "6"}, {"H1a", "3.35"}, {"H1b", "3.34"}, {"H1c", "3.32"},
	} {
		x.jump(keep.code)
		require.NotContains(t, x.shown(), "typed: ")
		x.press("="+keep.keys, "Enter")
		x.until(keep.code+" left", func(string) bool { return x.box() != keep.code })
	}
	x.press("C-x")
	x.ended("0")
	x.start("", "benchreport enter --settle --by K.L. "+folder)
	x.at("H1a")
	x.see("up: first typing, 3.34   down: second typing, 3.35")
	x.press("Down", "Enter")
	x.ended("0") // nothing else differs
	require.Equal(t, "3.35", raw("H1a"))
}

// Every page in German, whose words the catalogue has.
func TestScreenInGerman(t *testing.T) {
	t.Parallel()
	folder, job, _ := newJob(t, "saltmarsh", "language: en", "language: de", "decimal mark: point", "decimal mark: comma")
	x := newTerminal(t)
	x.start("", "benchreport enter --by K.L. "+folder)
	x.at("A1")
	places, err := job.Places()
	require.NoError(t, err)
	last := places[0].Page
	for _, p := range places {
		if p.Page > last { // the first box of the next page with any
			last = p.Page
			x.press("PageDown")
			x.see(fmt.Sprintf("Seite %d von ", last))
			require.NotContains(t, x.shown(), "§")
		}
	}
	x.jump("H1a")
	x.press("=334", "Enter")
	x.see("+ nimmt 3,34")
	x.press("=+")
	x.at("H1b")
	require.Equal(t, "3,34", formOn(t, folder, packet.FormFile, job).Entries["H1a"].Raw)
}
