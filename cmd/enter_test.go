package cmd

import (
	"fmt"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
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
	keys   int // pressed, Enter and the like one each
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

// start runs a command; what it leaves on the screen stays there.
func (x *terminal) start(environment, command string) {
	x.Helper()
	run := fmt.Sprintf("PATH=%s:$PATH LANG=C.UTF-8 %s exec %s", bin, environment, command)
	if exec.Command("tmux", "-S", x.socket, "has-session").Run() == nil {
		x.tmux("respawn-pane", "-k", run)
		return
	}
	x.tmux("new-session", "-d", "-x", "80", "-y", "24", "sleep 1000")
	x.tmux("set-option", "-g", "remain-on-exit", "on")
	x.tmux("respawn-pane", "-k", run)
}

// kill ends the command with a signal and waits until it is gone.
func (x *terminal) kill(with syscall.Signal) {
	x.Helper()
	var pid int
	_, err := fmt.Sscan(x.tmux("list-panes", "-F", "#{pane_pid}"), &pid)
	require.NoError(x, err)
	require.NoError(x, syscall.Kill(pid, with))
	x.until("it is gone", func(string) bool { return strings.HasPrefix(x.tmux("list-panes", "-F", "#{pane_dead}"), "1") })
}

func (x *terminal) shown() string { x.Helper(); return x.tmux("capture-pane", "-p") }

// until waits for something to be seen.
func (x *terminal) until(what string, seen func(screen string) bool) {
	x.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
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
			x.keys += len([]rune(text))
			if text != "" {
				args = append(args, "send-keys", "-l", "--", text, ";")
			}
			continue
		}
		x.keys++
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

// newJob makes the demonstration's job anew, with nothing typed.
func newJob(t *testing.T, name string) (folder string, job *packet.Job, readings map[string]string) {
	t.Helper()
	root := t.TempDir()
	spec := map[string]string{"saltmarsh": "ostrel-d4.yaml", "prairie": "vessant-s6.yaml"}[name]
	out, err := exec.Command(filepath.Join(bin, "traveller"), "new", "--spec", filepath.Join("..", "specs", "demo", spec),
		"--shop", filepath.Join("..", "specs", "demo", name+".yaml"),
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
	kills, pressed := 0, 0
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
		before := x.keys
		x.press(keys...)
		if kills < 8 && rnd.Intn(4) == 0 {
			time.Sleep(time.Duration(rnd.Intn(300)) * time.Millisecond)
			sure := index[x.box()] // those before it are accepted
			x.kill(syscall.SIGKILL)
			kills++
			accepted(sure)
			x.start("", command)
			x.until("the screen again", func(screen string) bool { return inHand.MatchString(screen) })
			again := index[x.box()]
			require.LessOrEqual(t, again, i)
			for k := again; k < sure; k++ { // it goes on behind the last box that holds something
				require.Empty(t, readings[boxes[k].Code], "begins again at %s, %s was accepted", boxes[again].Code, boxes[k].Code)
			}
			i = again
			continue
		}
		pressed += x.keys - before
		if i < len(boxes) {
			x.at(boxes[i].Code)
		}
	}
	x.see("This was the last box")
	x.press("C-x")
	x.see("Pane is dead (status 0")
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

	figures, digits := 0, 0
	for _, b := range boxes {
		if v := readings[b.Code]; v != "" && b.Kind == packet.Number {
			figures, digits = figures+1, digits+len(v)
		}
	}
	t.Logf("keys: %d values of which %d figures with %d characters, %d boxes: %d keys outside the killed runs",
		len(readings), figures, digits, len(boxes), pressed)
}
