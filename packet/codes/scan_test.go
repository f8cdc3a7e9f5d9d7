package codes

import (
	"fmt"
	"hash/fnv"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
)

// parallel calls f with n numbers that are given out, from several goroutines.
func parallel(n int, f func(number string)) {
	work := make(chan string, 256)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for number := range work {
				f(number)
			}
		})
	}
	numbers(n, func(number string) { work <- number })
	close(work)
	wg.Wait()
}

// pages are symbols of a job's documents, with a page and a digest that vary
// with the number.
func pages(number string) []string {
	h := fnv.New64a()
	h.Write([]byte(number))
	n := h.Sum64()
	digest := digits16(fmt.Appendf(nil, "%08x", uint32(n)))
	return []string{
		Page{Number: number, Document: Traveller, Page: 1 + int(n>>8%120)}.Symbol(),
		Page{Number: number, Document: Report, Page: 1 + int(n>>16%20), Digest: digest}.Symbol(),
	}
}

// Job numbers and page symbols typed by a scanner whose keyboard is set to
// another country than the computer's, with caps lock off and on: what is
// accepted is what was printed, and next to nothing is refused. Layouts:
// testdata/xkb-symbols.txt.
func TestEveryKeyboard(t *testing.T) {
	published := boards(t)
	for _, s := range layouts {
		for _, c := range layouts {
			for _, l := range []lock{off, letters, all} {
				k := newKeyboard(published[s.name], published[c.name], l, false)
				n := 200
				if s.name == "US" && c.name != "US" && l == off {
					n = 100_000
				}
				var refused, count atomic.Int32
				parallel(n, func(number string) {
					texts := append(pages(number), plain(number))
					text := texts[int(count.Add(1))%3]
					scan, err := Read(k.typed(t, text))
					if err != nil {
						refused.Add(1)
					} else if plain(scan.text()) != text {
						t.Errorf("%s scanner, %s computer, lock %d: %s read as %s", s.name, c.name, l, text, scan.text())
					}
				})
				require.LessOrEqual(t, int(refused.Load()), n/200, "%s scanner, %s computer, lock %d", s.name, c.name, l)
			}
		}
	}
}

// Trying keyboards does not undo what the check characters catch: one wrong
// character, or two neighbours swapped, is refused in a job number, and in a page
// symbol never makes another job.
func TestSlipsAreNoOtherJob(t *testing.T) {
	var count atomic.Int32
	parallel(100_000, func(number string) {
		if count.Add(1)%2500 != 0 {
			return
		}
		slips(plain(number), alphabet, func(slip string) {
			if scan, err := Read(slip); err == nil {
				t.Errorf("%s read as %s for %s", slip, scan.Number, number)
			}
		})
		for _, text := range pages(number) {
			slips(text, alphabet, func(slip string) {
				if scan, err := Read(slip); err == nil && scan.Number != number {
					t.Errorf("%s read as of %s for %s", slip, scan.Number, number)
				}
			})
		}
	})
}

// A number with a letter that keyboards move, as earlier versions gave out, is
// read as it stands and never guessed.
func TestEarlierNumbers(t *testing.T) {
	number, ok := NewNumber(2026, "", 2)
	require.Equal(t, "26-0002-A", number)
	require.False(t, ok)
	scan, err := Read("260002a")
	require.NoError(t, err)
	require.Equal(t, number, scan.Number)
	_, err = Read("260002q") // as a US scanner types it on a French computer, digits shifted
	require.Error(t, err)
}

func TestReadsWhatPeopleType(t *testing.T) {
	for _, s := range []string{"26-0412-B", "260412b", " 26 0412 b\r\n", "26\u20130412\u2013B", "\x0226-0412-B\x03"} {
		scan, err := Read(s)
		require.NoError(t, err, s)
		require.Equal(t, Scan{Number: "26-0412-B"}, scan)
	}
	p := Page{Number: "26-0412-B", Document: Report, Page: 2, Digest: "02C04H719KX3P5E0"}
	scan, err := Read(strings.ToLower(p.Symbol()) + "\n")
	require.NoError(t, err)
	require.Equal(t, Scan{Number: "26-0412-B", Page: &p}, scan)
}

func TestReadSaysHowKeyboardsAreSet(t *testing.T) {
	text := Page{Number: "26-0412-B", Document: Traveller, Page: 7}.Symbol()
	published := boards(t)
	scan, err := Read(newKeyboard(published["US"], published["French"], off, false).typed(t, text))
	require.NoError(t, err)
	require.Equal(t, text, scan.text())
	require.Equal(t, "scanner set to a US keyboard, computer to a French one", scan.Keyboard)
}

// What is refused says what was read, why, and what to do.
func TestRefusals(t *testing.T) {
	part := Part{Number: "26-0412-B", Document: Traveller, Index: 1, Total: 3, Set: "01234567", chunk: []byte("piece")}.Symbol()
	for s, says := range map[string]string{
		"":                      "nothing was read",
		" \r\n":                 "nothing was read",
		"HELLO":                 `found "HELLO", which is no code of a job`,
		"http://example.org/26": "no code of a job",
		"https://example.org/" + strings.Repeat("x", 100): "…",
		"26041":       "no code of a job",
		"26-0413-B":   "26-0413-B cannot be right: its last character does not fit the rest; look at the sheet again",
		"260413BT07Z": "26-0413-B cannot be right",
		"260412BT08A": "page symbol: 260412BT08A cannot be right",
		"260412BT00" + string(checkCharacter("260412BT00")): "cannot be right",
		part[:len(part)-1]:        "symbol 1 of 3 was misread; scan it again, set the scanner to the computer's keyboard, or give a picture",
		part[:len(part)-6]:        "symbol 1 of 3 was misread",
		part + "0":                "symbol 1 of 3 was misread",
		part[:12]:                 "its beginning cannot be read",
		"J2" + part[2:]:           "a symbol of version 2; a later version of these commands reads it",
		"P3" + part[2:]:           "a symbol of version 3",
		strings.Repeat("8", 9000): "9000 characters in all",
		"26-0412-\u0412":          "no code of a job",
	} {
		_, err := Read(s)
		require.ErrorContains(t, err, says, s)
		require.Less(t, len(err.Error()), 400)
	}
	for _, s := range []string{"HELLO", ""} {
		_, err := Read(s)
		require.ErrorIs(t, err, ErrForeign)
	}
	_, err := Read("26-0413-B")
	require.NotErrorIs(t, err, ErrForeign)
}

func FuzzRead(f *testing.F) {
	published := boards(f)
	texts := append(pages("26-0412-B"), "26-0412-B", Part{Number: "26-0412-B", Document: Report, Index: 2, Total: 2, Set: "01234567", chunk: []byte("piece")}.Symbol())
	for _, text := range texts {
		f.Add(text)
		for _, computer := range []string{"German", "French"} {
			f.Add(newKeyboard(published["US"], published[computer], off, true).typed(f, capitals(strings.ReplaceAll(text, "-", ""))))
		}
	}
	f.Fuzz(func(t *testing.T, s string) {
		scan, err := Read(s)
		if err != nil {
			require.NotEmpty(t, err.Error())
			require.Less(t, len(err.Error()), 1000)
			return
		}
		// What was accepted is whole: it reads back the same as printed.
		again, err := Read(scan.text())
		require.NoError(t, err)
		again.Keyboard = scan.Keyboard
		require.Equal(t, scan, again)
	})
}
