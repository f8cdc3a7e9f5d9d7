package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"shimcard/cmd/internal/help"
	"shimcard/packet"
)

func enterCommand() *cobra.Command {
	var by string
	var twice, settle, putBack, asItIs bool
	c := &cobra.Command{
		Use:   "enter JOB",
		Short: "type the sheets back, page by page as on paper",
		Long: `Enter shows the sheets of a job with the boxes where they are on paper, asks for
one after the other, and has every figure on disk before it asks for the next. It
ends at ^X or Ctrl-C and goes on another time behind the box typed last. With
--twice a second person types everything once more without seeing what the first
one typed, and --settle asks only for the boxes in which the two differ.

Where the form has lost what was typed, since an older one was put back or an editor
saved over it, nothing goes on until it is said which counts: --put-back types again
what the history has, --as-it-is keeps the form.

Standard input that is not a terminal is read line by line: a value for the next
box, or a box code and its value; a blank line leaves a box as it is, and ! alone
confirms what it holds. What cannot be believed is refused unless the line ends
in !. A line "why: …" is the reason kept with what is changed from there on, up to
the next one. Exit status: 0 all accepted, 2 something refused.`,
		Example: `  benchreport enter jobs/26-0412-B
  benchreport enter --twice jobs/26-0412-B
  printf 'H1a 3.34\n3.33\n' | benchreport enter --by K.L. jobs/26-0412-B
  printf 'why: misread\nH1a 3.35\n' | benchreport enter --by K.L. jobs/26-0412-B`,
		Args: help.One("one job folder: benchreport enter jobs/26-0412-B"),
		RunE: func(c *cobra.Command, args []string) error {
			if twice && settle {
				return errors.New("--twice types, --settle decides: write one of them")
			}
			if putBack && asItIs {
				return errors.New("--put-back has what was typed count, --as-it-is the form: write one of them")
			}
			terminal := term.IsTerminal(int(os.Stdin.Fd())) && term.IsTerminal(int(os.Stdout.Fd()))
			in := bufio.NewReader(os.Stdin)
			if terminal && by != "" && len(packet.Copies(args[0], true)) > 0 { // the screen would hide the notes
				fmt.Fprintf(c.OutOrStdout(), "Enter types into %s, Ctrl-C stops: ", args[0])
				if _, err := in.ReadString('\n'); err != nil {
					return errors.New("stopped; nothing was typed")
				}
			}
			for terminal && by == "" {
				fmt.Fprint(c.OutOrStdout(), "your initials: ")
				line, err := in.ReadString('\n')
				if by = strings.TrimSpace(line); err != nil {
					break
				}
			}
			if by == "" {
				return errors.New("nobody is named as typing: write --by and your initials")
			}
			open := packet.OpenTyping
			if twice {
				open = packet.OpenSecond
			}
			typing, err := open(args[0], by)
			if err != nil {
				return err
			}
			switch {
			case putBack:
				err = typing.PutBack()
			case asItIs:
				err = typing.AsItIs()
			default:
				err = typing.Whole()
			}
			if err != nil {
				return err
			}
			places, err := typing.Places()
			if err != nil {
				return err
			}
			d := &desk{typing: typing, places: places}
			if settle {
				if err := d.settle(); err != nil {
					return err
				}
			}
			if terminal && (d.differ == nil || len(d.differ) > 0) {
				err = show(d)
			} else if !terminal {
				err = d.lines(in, c.ErrOrStderr())
			}
			if err != nil {
				return err
			}
			fmt.Fprint(c.OutOrStdout(), d.ending(args[0], twice))
			return nil
		},
	}
	c.Flags().StringVar(&by, "by", "", "initials of the one who types")
	c.Flags().BoolVar(&twice, "twice", false, "type everything a second time, blind")
	c.Flags().BoolVar(&putBack, "put-back", false, "what was typed counts, where the form has lost it")
	c.Flags().BoolVar(&asItIs, "as-it-is", false, "the form counts, where it has lost what was typed")
	c.Flags().BoolVar(&settle, "settle", false, "decide the boxes in which the two typings differ")
	return c
}

// desk is where the sheets are typed back, box by box in the order of the form.
type desk struct {
	typing *packet.Typing
	places []packet.Place
	at     int                          // the box in hand
	differ map[string]packet.Difference // nil: not settling
}

func (d *desk) box() *packet.Box { return d.places[d.at].Box }

// settle leaves on the desk only the boxes in which the two typings differ.
func (d *desk) settle() error {
	list, twice, err := d.typing.Differences()
	if err != nil {
		return err
	}
	if !twice {
		return errors.New("nothing to settle: nobody has typed this job a second time; benchreport enter --twice")
	}
	d.differ = map[string]packet.Difference{}
	for _, x := range list {
		d.differ[x.Box.Code] = x
	}
	d.at = -1
	if to, ok := d.next(1); ok {
		d.at = to
	} else {
		d.at = 0
	}
	return nil
}

// write has a text for a box on disk.
func (d *desk) write(b *packet.Box, text, why string) error {
	if d.differ == nil {
		return d.typing.Put(b, text, why)
	}
	if err := d.typing.Settle(b, text, why); err != nil {
		return err
	}
	delete(d.differ, b.Code)
	return nil
}

// confirm has the other boxes of some doubts confirmed, and returns the text of
// the box in hand as it is then to be written.
func (d *desk) confirm(text string, doubts []packet.Doubt) (string, error) {
	out := text
	for _, x := range doubts {
		switch raw := d.typing.Raw(x.Box); {
		case x.Box == d.box():
			if text != "" && x.Box.Kind != packet.Text {
				out = strings.TrimSuffix(text, " !") + " !"
			}
		case !d.typing.Readings.Entries[x.Box.Code].Confirmed && (raw != "" || x.Box.From != nil):
			if err := d.write(x.Box, strings.TrimSpace(raw+" !"), ""); err != nil {
				return "", err
			}
		}
	}
	return out, nil
}

// confirmable reports whether a value may stand in spite of some doubts.
func confirmable(doubts []packet.Doubt) bool {
	for _, d := range doubts {
		if d.Refused {
			return false
		}
	}
	return true
}

var partOfDate = regexp.MustCompile(`^([0-9]{1,2})(?:[.,]([0-9]{1,2})[.,]?)?$`)

// meant is what the short ways of typing stand for: 1 and 0 in a tick box, the
// number of a choice, the day of a date, or its day and month; a confirmation
// alone, what the box holds.
func (d *desk) meant(text string) string {
	b := d.box()
	if (text == "!" || text == "*") && b.Kind != packet.Text {
		raw := d.typing.Raw(b)
		if d.typing.Readings.Entries[b.Code].Confirmed {
			return raw
		}
		return strings.TrimSpace(raw + " !")
	}
	switch b.Kind {
	case packet.Tick:
		switch text {
		case "1":
			return "yes"
		case "0":
			return "no"
		}
	case packet.Choice:
		if n, err := strconv.Atoi(text); err == nil && n >= 1 && n <= len(b.Choices) {
			return b.T(b.Choices[n-1])
		}
	case packet.Date:
		last, err := time.Parse(time.DateOnly, d.lastDate())
		if m := partOfDate.FindStringSubmatch(text); m != nil && err == nil {
			if m[2] == "" {
				m[2] = last.Format("01")
			}
			return fmt.Sprintf("%d-%02s-%02s", last.Year(), m[2], m[1])
		}
	}
	return text
}

// lastDate is the date typed nearest before the box in hand, else when the pump
// came in.
func (d *desk) lastDate() string {
	for i := d.at - 1; i >= 0; i-- {
		if b := d.places[i].Box; b.Kind == packet.Date {
			if date := d.typing.Readings.Entries[b.Code].Text; date != "" {
				return date
			}
		}
	}
	return d.typing.Intake.Received.Format(time.DateOnly)
}

// next is the index of the box that comes after the one in hand, or before it, in
// the order of the form; when settling, of those that differ. ok is false beyond
// the last one.
func (d *desk) next(by int) (to int, ok bool) {
	for i := d.at + by; i >= 0 && i < len(d.places); i += by {
		if _, differs := d.differ[d.places[i].Box.Code]; differs || d.differ == nil {
			return i, true
		}
	}
	return d.at, false
}

// find is the index of the box of a code, -1 when there is none.
func (d *desk) find(code string) int {
	for i, p := range d.places {
		if strings.EqualFold(p.Box.Code, code) {
			return i
		}
	}
	return -1
}

// typed counts the boxes that hold something.
func (d *desk) typed() int {
	n := 0
	for _, p := range d.places {
		if d.typing.Raw(p.Box) != "" {
			n++
		}
	}
	return n
}

// ending says how far the typing is.
func (d *desk) ending(dir string, twice bool) string {
	p := d.typing
	out := p.T("Boxes that hold something: %d of %d.", d.typed(), len(d.places)) + "\n"
	switch {
	case d.differ != nil:
		out = p.T("Boxes that still differ: %d.", len(d.differ)) + "\n"
	case twice:
		out += p.T("What differs from the first typing: %s", "benchreport enter --settle "+dir) + "\n"
	}
	return out
}

var codeLike = regexp.MustCompile(`^[A-Z][0-9]+(\.[0-9]+)?[a-z]?:?$`)

// lines takes a value a line.
func (d *desk) lines(in io.Reader, complain io.Writer) error {
	p := d.typing
	refused, after, why := 0, d.differ != nil && len(d.differ) == 0, "" // after the last box
	lines := bufio.NewScanner(in)
	n := 1
	for ; lines.Scan(); n++ {
		text := strings.TrimSpace(lines.Text())
		if reason, is := strings.CutPrefix(text, "why:"); is {
			why = strings.TrimSpace(reason)
			continue
		}
		code, value, found := strings.Cut(text, " ")
		if i := d.find(strings.TrimSuffix(code, ":")); i >= 0 && (found || strings.HasSuffix(code, ":")) {
			d.at, after, text = i, false, strings.TrimSpace(value)
		} else if i < 0 && codeLike.MatchString(code) { // another job's, or mistyped
			refused++
			fmt.Fprintln(complain, p.T("line %d: there is no box %s in this job", n, strings.TrimSuffix(code, ":")))
			continue
		}
		if after {
			if text != "" {
				return fmt.Errorf("line %d: %q comes after the last box, %s", n, text, d.box().Code)
			}
			continue
		}
		if text != "" {
			text = d.meant(text)
			b, doubts := d.box(), d.typing.Check(d.box(), text)
			for _, x := range doubts {
				if strings.HasSuffix(text, "!") && confirmable(doubts) {
					break
				}
				refused++
				hint := p.T("put it right, or confirm it with ! behind it")
				if x.Instead != "" && x.Box == b {
					hint = p.T("did you mean %s? put it right, or confirm it with ! behind it", x.Instead)
				}
				if x.Refused {
					fmt.Fprintln(complain, p.T("line %d: %s, %s: %s", n, b.Code, b.Label, x.Reason))
					text = ""
					break
				}
				fmt.Fprintln(complain, p.T("line %d: %s, %s: found %s: %s; %s", n, b.Code, b.Label, text, reasonOf(x, b), hint))
				text = ""
				break
			}
			if text != "" {
				text, err := d.confirm(text, doubts)
				if err == nil && d.typing.Raw(b) != "" {
					err = d.write(b, text, why)
				} else if err == nil {
					err = d.write(b, text, "")
				}
				if taken := (*packet.Taken)(nil); errors.As(err, &taken) {
					refused++
					fmt.Fprintf(complain, "line %d: %v\n", n, err)
				} else if err != nil {
					return err
				}
			}
		}
		var more bool
		d.at, more = d.next(1)
		after = !more
	}
	if err := lines.Err(); errors.Is(err, bufio.ErrTooLong) {
		return fmt.Errorf("line %d: longer than 64 KiB; no box takes that much. What came before is kept", n)
	} else if err != nil {
		return err
	}
	if refused > 0 {
		return errors.New(p.T("refused: %d; what was accepted is kept", refused))
	}
	return nil
}

// reasonOf names the box of a doubt when it is another one.
func reasonOf(x packet.Doubt, b *packet.Box) string {
	if x.Box != b {
		return x.Box.Code + ": " + x.Reason
	}
	return x.Reason
}

// show is the typing screen.
func show(d *desk) error {
	t, err := tcell.NewScreen()
	if err != nil {
		return fmt.Errorf("this terminal (TERM=%s) cannot show the sheets: %w; type a line for each box into a file instead, and: benchreport enter --by INITIALS JOB < FILE", os.Getenv("TERM"), err)
	}
	s := &screen{desk: d, Printer: d.typing.Printer, term: t, pages: map[int][]int{}}
	for i, p := range d.places {
		s.pages[p.Page] = append(s.pages[p.Page], i)
		s.last = max(s.last, p.Page)
		if d.differ == nil && d.typing.Raw(p.Box) != "" {
			d.at = min(i+1, len(d.places)-1)
		}
	}
	if b := d.typing.Last(); b != nil && d.differ == nil { // where it was left
		d.at = min(d.find(b.Code)+1, len(d.places)-1)
	}
	if d.at > 0 && d.differ == nil {
		s.said = s.T("It goes on behind the last box typed.")
	}
	return s.run()
}
