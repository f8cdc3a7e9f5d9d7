package packet

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/require"

	"shimcard/layout"
)

// What a batch prints of a job, beside others that share its plan, is what the job's
// folder prints alone.
func TestBatchPrintsWhatTheFolderPrints(t *testing.T) {
	var files [2]File
	for i, name := range []string{"ostrel-d4.yaml", "saltmarsh.yaml"} {
		data, err := readDemoSpecs(name)
		require.NoError(t, err)
		files[i] = File{name, data}
	}
	lines, err := readBatch(File{"table", []byte("received,by,customer,pump,serial,complaint,work,came with it\n" +
		"2026-10-05,R.T.,Brackwater Growers,Ostrel D4,1,Smokes,Overhaul,four pipes\n" +
		"2026-10-05,R.T.,Brackwater Growers and others by a long name,Ostrel D4,2,Leaks,Overhaul,\n" +
		"2026-10-06,R.T.,Saltmarsh,Ostrel D4,3,Hard to start,Seal kit,\"bracket, four pipes, cable\"\n")})
	require.NoError(t, err)
	done := 0
	require.NoError(t, Batch(t.Context(), t.TempDir(), lines, files[0], files[1], nil, func(l *BatchLine) {
		require.NoError(t, l.Err)
		job, err := Open(l.Dir)
		require.NoError(t, err)
		want, err := job.Traveller()
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(l.Dir, PacketFile))
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, got), l.Number)
		done++
	}))
	require.Equal(t, 3, done)
}

// Two stray quotes are no field with lines of other pumps in it: the lines between
// are read, and those of the quotes named.
func TestStrayQuotesSwallowNoPumps(t *testing.T) {
	const head = "received,by,customer,pump,serial,complaint,work\n"
	line := func(serial, rest string) string {
		return "2026-10-05,R.T.,Brackwater Growers,Ostrel D4," + serial + "," + rest + "\n"
	}
	lines, err := readBatch(File{"t", []byte(head + line("1", "Leaks,Overhaul") + line("2", `"Smokes,Overhaul`) +
		line("3", "Knocks,Overhaul") + line("4", `Leaks",Overhaul`) + line("5", "Stalls,Overhaul"))})
	require.NoError(t, err)
	var taken, faults []string
	for _, l := range lines {
		if l.Err == nil {
			taken = append(taken, fmt.Sprint(l.Line))
			require.NotContains(t, string(l.intake.Data), "Ostrel D4,")
		} else {
			faults = append(faults, l.Err.Error())
		}
	}
	require.Equal(t, []string{"2", "4", "6"}, taken)
	require.Equal(t, []string{
		"t:3: found a quote that is not closed, or a line break inside a field; close it, or write the field on one line",
		`t:5: found a quote that is out of place or not closed; write "" for a quote inside quotes`,
	}, faults)

	// A line break that is meant, at the end of a field too; in the names it is a blank.
	lines, err = readBatch(File{"t", []byte(strings.Replace(head, "serial", "\"serial\n\"", 1) + line("1", "\"Leaks\n\",Overhaul") + line("2", "Leaks,Overhaul"))})
	require.NoError(t, err)
	require.ErrorContains(t, lines[0].Err, "t:3: found a quote that is not closed, or a line break inside a field")
	require.ErrorContains(t, lines[1].Err, "t:4: ")
	require.NoError(t, lines[2].Err)
	_, err = readBatch(File{"t", []byte(head + strings.Repeat(line("1", "\"Leaks\nsmokes\",Overhaul"), 40))})
	require.ErrorContains(t, err, "t: found over 50 lines with quotes out of place or line breaks inside fields")

	// Too many are refused by their count; blank lines are none.
	_, err = readBatch(File{"t", []byte(head + strings.Repeat("\n,\n"+line("1", "Leaks,Overhaul"), mostBatchLines+1))})
	require.EqualError(t, err, "t: found 10001 lines, at most 10000 are taken at once; part the file")
}

// Tables as spreadsheets save them come to the same lines.
func TestTablesOfSpreadsheets(t *testing.T) {
	const table = "received;by;customer;pump;serial;complaint;work\n" +
		"2026-10-05;R.T.;Größe & Söhne;Ostrel D4;1;Smokes, hard to start;Overhaul\n" +
		"2026-10-05;R.T.;Brackwater Growers;Ostrel D4;2;Leaks;Overhaul\n"
	read := func(form string, data []byte) []*BatchLine {
		t.Helper()
		lines, err := readBatch(File{"t", data})
		require.NoError(t, err, form)
		return lines
	}
	want := read("plain", []byte(table))
	for form, c := range map[string]struct {
		data  []byte
		first int // the line of the first pump
	}{
		"a line that names the separator":   {[]byte("sep=;\r\n" + strings.ReplaceAll(table, "\n", "\r\n")), 3},
		"the same, behind the mark":         {[]byte("\uFEFFSEP=|\n" + strings.ReplaceAll(table, ";", "|")), 3},
		"the same, of another than is most": {[]byte("sep=\t\n" + strings.Replace(strings.ReplaceAll(table, ";", "\t"), "received", "received ", 1)), 3},
		"UTF-16":                            {inUTF16(table, binary.LittleEndian), 2},
		"UTF-16, tabs, the big end first":   {inUTF16("sep=\t\r\n"+strings.ReplaceAll(table, ";", "\t"), binary.BigEndian), 3},
		"columns of nothing at the end":     {[]byte(strings.ReplaceAll(table, "\n", ";; \n")), 2},
		"the same, not on every line":       {[]byte(strings.Replace(table, "\n", ";;;\n", 1)), 2},
	} {
		lines := read(form, c.data)
		require.Len(t, lines, len(want), form)
		for i, l := range lines {
			require.NoError(t, l.Err, form)
			require.Equal(t, string(want[i].intake.Data), string(l.intake.Data), form)
			require.Equal(t, c.first+i, l.Line, form)
		}
	}
	// Something below no name is not left out, and one column too many is no blank one.
	lines := read("below no name", []byte(strings.Replace(strings.ReplaceAll(table, "\n", ";;\n"), "1;Smokes, hard to start;Overhaul;", "1;Smokes; hard to start;Overhaul", 1)))
	require.EqualError(t, lines[0].Err, `t:2: column 8: found "Overhaul", and the first line has no name for it; name the column, or leave it blank`)
	require.NoError(t, lines[1].Err)
	lines = read("too many", []byte(strings.Replace(table, "Leaks;Overhaul", "Leaks;Overhaul;", 1)))
	require.EqualError(t, lines[1].Err, "t:3: found 8 columns, the first line names 7; write as many, in quotes what has a separator in it")
	_, err := readBatch(File{"t", []byte("sep=;\nreceived;;by\n1;;2\n")})
	require.ErrorContains(t, err, `t:2: column 2: found the name ""; write one of`)
	_, err = readBatch(File{"t", []byte("sep=;\n;;\n1;2;3\n")})
	require.ErrorContains(t, err, `t:2: column 1: found the name ""; write one of`)
	_, err = readBatch(File{"t", []byte("sep=;\n")})
	require.ErrorContains(t, err, "t: found nothing; write a line that names the columns")
	_, err = readBatch(File{"t", inUTF16(table, binary.LittleEndian)[:101]})
	require.EqualError(t, err, "t: found a text in UTF-16 that is cut off or broken; save it again as UTF-8")
	lines = read("a quote behind such a line", []byte("sep=;\n"+strings.Replace(table, "Leaks", "\"Leaks\" all over", 1)))
	require.ErrorContains(t, lines[1].Err, "t:4: found a quote that is out of place or not closed")
}

// tableOf is a batch of many lines that are all good, and the files it needs.
func tableOf(t *testing.T, many int) (lines []*BatchLine, spec, shop File) {
	t.Helper()
	var files [2]File
	for i, name := range []string{"ostrel-d4.yaml", "saltmarsh.yaml"} {
		data, err := readDemoSpecs(name)
		require.NoError(t, err)
		files[i] = File{name, data}
	}
	var table strings.Builder
	table.WriteString("received,by,customer,pump,serial,complaint,work\n")
	for n := range many {
		fmt.Fprintf(&table, "2026-10-05,R.T.,Brackwater Growers,Ostrel D4,%d,Smokes,Overhaul\n", n)
	}
	lines, err := readBatch(File{"table", []byte(table.String())})
	require.NoError(t, err)
	return lines, files[0], files[1]
}

type noRoom struct{}

func (noRoom) Write([]byte) (int, error) { return 0, syscall.ENOSPC }

// Whatever stops a batch, every job that has its folder by then is told of.
func TestStoppedBatchTellsWhatItMade(t *testing.T) {
	const many = 12
	root := filepath.Join(t.TempDir(), "jobs")
	lines, spec, shop := tableOf(t, many)
	told := map[string]bool{}
	err := Batch(t.Context(), root, lines, spec, shop, layout.NewBook(noRoom{}), func(l *BatchLine) {
		require.NoError(t, l.Err)
		told[l.Number] = true
	})
	require.ErrorIs(t, err, syscall.ENOSPC)
	made := names(t, root)
	require.NotEmpty(t, made)
	for _, name := range made {
		require.True(t, told[name], name)
	}
	require.Len(t, told, len(made))
}

// A batch that is broken off ends what is at work and tells of it; the same again goes on.
func TestBrokenBatchGoesOn(t *testing.T) {
	root := filepath.Join(t.TempDir(), "jobs")
	lines, spec, shop := tableOf(t, 4*runtime.GOMAXPROCS(0)+20)
	ctx, breakOff := context.WithCancel(t.Context())
	made := 0
	err := Batch(ctx, root, lines, spec, shop, nil, func(l *BatchLine) {
		require.NoError(t, l.Err)
		made++
		breakOff()
	})
	require.ErrorIs(t, err, errBatchBroken)
	require.Less(t, made, len(lines))
	require.Len(t, names(t, root), made)
	old := 0
	require.NoError(t, Batch(t.Context(), root, lines, spec, shop, nil, func(l *BatchLine) {
		if l.Old {
			old++
		}
	}))
	require.Equal(t, made, old)
	require.Len(t, names(t, root), len(lines))
	// Broken off when all was done, it is whole.
	ctx, breakOff = context.WithCancel(t.Context())
	come := 0
	require.NoError(t, Batch(ctx, root, lines[:5], spec, shop, nil, func(*BatchLine) {
		if come++; come == 5 {
			breakOff()
		}
	}))
}

// A packet made before that is gone, or no packet any more, comes into the book as its
// folder prints it; one that cannot be printed either keeps no other line from it.
func TestBookOfPacketsThatAreGone(t *testing.T) {
	root := filepath.Join(t.TempDir(), "jobs")
	lines, spec, shop := tableOf(t, 6)
	require.NoError(t, Batch(t.Context(), root, lines[:5], spec, shop, nil, func(*BatchLine) {}))
	packet := func(of int) string { return filepath.Join(lines[of].Dir, PacketFile) }
	whole, err := os.ReadFile(packet(0))
	require.NoError(t, err)
	half := make([]byte, len(whole))
	copy(half, whole[:len(whole)/2])
	require.NoError(t, errorsOf(os.Remove(packet(0)), os.WriteFile(packet(1), half, 0o644), os.WriteFile(packet(2), nil, 0o644),
		os.Remove(packet(3)), os.Remove(filepath.Join(lines[3].Dir, SpecFile))))
	again, _, _ := tableOf(t, 6)
	var faults, numbers []string
	var out bytes.Buffer
	book := layout.NewBook(&out)
	require.NoError(t, Batch(t.Context(), root, again, spec, shop, book, func(l *BatchLine) {
		if l.Err != nil {
			faults = append(faults, l.Err.Error())
		} else {
			numbers = append(numbers, l.Number)
		}
	}))
	require.NoError(t, book.Close())
	require.Len(t, faults, 1)
	require.Contains(t, faults[0], "table:5: job "+lines[3].Number+": its packet.pdf cannot be read, nor printed anew: "+filepath.Join(lines[3].Dir, SpecFile)+": no such file")
	require.Len(t, numbers, 5)
	require.Regexp(t, `/First \d+ 0 R\n/Last \d+ 0 R\n/Count 5>>`, out.String()[out.Len()-20000:]) // its bookmarks
	got, err := os.ReadFile(packet(0))
	require.NoError(t, err)
	require.True(t, bytes.Equal(whole, got))
	require.NoFileExists(t, packet(3))
}

// A batch that was killed does not stop the next where its process is seen to be no
// more, though its number belongs to another program by then. One that cannot be seen,
// of before the last start, of a container, of another machine, stops it until it has
// not been heard of for ten minutes; one that is at work always does.
func TestTurnOfADeadBatch(t *testing.T) {
	living := exec.Command("sleep", "60")
	require.NoError(t, living.Start())
	defer func() { _ = living.Process.Kill(); _ = living.Wait() }()
	ended := exec.Command("true") // and not waited for
	require.NoError(t, ended.Start())
	defer func() { _ = ended.Wait() }()
	require.Eventually(t, func() bool { _, began := life(ended.Process.Pid); return began == "ended" }, time.Minute, time.Millisecond)
	killed := exec.Command("true")
	require.NoError(t, killed.Run())
	pid, killedPid := living.Process.Pid, killed.Process.Pid
	place, began := life(pid)
	require.Regexp(t, `^[0-9a-f-]{36} pid:\[[0-9]+\]$`, place)
	require.Regexp(t, `^[0-9]+$`, began)
	start, world, _ := strings.Cut(place, " ")
	const atWork, unseen, dead = "at work", "unseen", "dead"
	for name, c := range map[string]struct {
		host string
		pid  int
		said string
		is   string
	}{
		"at work":                              {host(), pid, place + " " + began + "\n", atWork},
		"killed":                               {host(), killedPid, place + " 7\n", dead},
		"killed and not waited for":            {host(), ended.Process.Pid, place + " 7\n", dead},
		"of this start, the number used again": {host(), pid, place + " 1" + began + "\n", dead},
		"of before the last start":             {host(), pid, "0" + place + " " + began + "\n", unseen},
		"of before the last start, killed":     {host(), killedPid, "0" + place + " " + began + "\n", unseen},
		"of a container":                       {host(), killedPid, start + " pid:[1] " + began + "\n", unseen},
		"told by half":                         {host(), pid, strings.TrimSpace(place + " " + began), unseen},
		"told by an earlier version":           {host(), killedPid, start + " " + began + "\n", unseen},
		"told by nobody":                       {host(), killedPid, "", unseen},
		"of a system that does not say":        {host(), killedPid, " \n", unseen},
		"of another machine":                   {"elsewhere", killedPid, "0" + start + " " + world + " " + began + "\n", unseen},
	} {
		for _, minutes := range []int{0, 9, 11} {
			n, err := openNumbers(t.TempDir(), "")
			require.NoError(t, err)
			file := filepath.Join(n.dir, fmt.Sprintf("%s%s-%d-00000001-batch", unfinished, c.host, c.pid))
			require.NoError(t, os.WriteFile(file, []byte(c.said), 0o600))
			info, err := os.Stat(file)
			require.NoError(t, err)
			require.NoError(t, os.Chtimes(file, time.Time{}, info.ModTime().Add(-time.Duration(minutes)*time.Minute)))
			turn, err := n.batch()
			if c.is == dead || c.is == unseen && minutes > 10 {
				require.NoError(t, err, name)
				require.NoFileExists(t, file, name)
				_, err = n.batch()
				require.EqualError(t, err, fmt.Sprintf("%s: another batch is at work here, process %d on %s; wait for it", n.root, os.Getpid(), host()), name)
				turn.end()
				require.NoFileExists(t, turn.file)
				continue
			}
			require.ErrorContains(t, err, fmt.Sprintf("another batch is at work here, process %d on %s", c.pid, c.host), name)
			require.FileExists(t, file, name)
			if c.is == unseen {
				require.Regexp(t, fmt.Sprintf(`, last heard of %s ago; wait for it; if it was killed, or that machine switched off, run this again in %d min, or delete %s$`,
					map[int]string{0: "[0-9]+s", 9: "9m[0-9]+s"}[minutes], 10-minutes, file), err.Error(), name)
			}
		}
	}
}

// Of batches that begin in the same moment one works.
func TestBatchesInTheSameMoment(t *testing.T) {
	n, err := openNumbers(t.TempDir(), "")
	require.NoError(t, err)
	for range 20 {
		var turns [6]*turn
		var wait sync.WaitGroup
		for i := range turns {
			wait.Go(func() { turns[i], _ = n.batch() })
		}
		wait.Wait()
		works := 0
		for _, turn := range turns {
			if turn != nil {
				works++
				turn.end()
			}
		}
		require.Equal(t, 1, works)
	}
}

// A batch is heard of while it works, and makes nothing more once its turn is another's.
func TestTurnIsRenewedAndLost(t *testing.T) {
	defer func(was time.Duration) { turnRenewed = was }(turnRenewed)
	turnRenewed = time.Millisecond
	n, err := openNumbers(t.TempDir(), "")
	require.NoError(t, err)
	mine, err := n.batch()
	require.NoError(t, err)
	said, err := os.ReadFile(mine.file)
	require.NoError(t, err)
	info, err := os.Stat(mine.file)
	require.NoError(t, err)
	long := info.ModTime().Add(-time.Hour)
	require.NoError(t, os.Chtimes(mine.file, time.Time{}, long))
	require.Eventually(t, func() bool {
		info, err := os.Stat(mine.file)
		return err == nil && info.ModTime().Sub(long) > 30*time.Minute
	}, time.Minute, time.Millisecond)
	again, err := os.ReadFile(mine.file)
	require.NoError(t, err)
	require.Equal(t, string(said), string(again))
	require.NoError(t, mine.lost())
	require.NoError(t, os.Remove(mine.file))
	require.ErrorContains(t, mine.lost(), mine.file+" is gone: another batch may be at work here")
	mine.end()

	root := t.TempDir()
	lines, spec, shop := tableOf(t, 4*runtime.GOMAXPROCS(0)+20)
	made := 0
	err = Batch(t.Context(), root, lines, spec, shop, nil, func(l *BatchLine) {
		require.NoError(t, l.Err)
		if made++; made == 1 {
			files, err := filepath.Glob(filepath.Join(root, numbersFolder, "*"+batchTurn))
			require.NoError(t, err)
			require.Len(t, files, 1)
			require.NoError(t, os.Remove(files[0]))
		}
	})
	require.ErrorContains(t, err, "another batch may be at work here")
	require.Less(t, made, len(lines))
	require.Len(t, names(t, root), made)
}

// Over a folder that is half synchronised nothing is made again that may be there.
func TestBatchOverAHalfSynchronisedFolder(t *testing.T) {
	root, elsewhere := t.TempDir(), t.TempDir()
	lines, spec, shop := tableOf(t, 6)
	run := func() (made, old int, err error) {
		t.Helper()
		lines, _, _ = tableOf(t, 6)
		err = Batch(t.Context(), root, lines, spec, shop, nil, func(l *BatchLine) {
			require.NoError(t, l.Err)
			require.Regexp(t, `^26-[0-9]{4}-[0-9A-Z]$`, l.Number)
			if l.Old {
				old++
			} else {
				made++
			}
		})
		return made, old, err
	}
	made, _, err := run()
	require.NoError(t, err)
	require.Equal(t, 6, made)
	var intakes []string
	whole := map[string][]byte{}
	for _, name := range names(t, root) {
		intake := filepath.Join(root, name, IntakeFile)
		intakes = append(intakes, intake)
		whole[intake], err = os.ReadFile(intake)
		require.NoError(t, err)
	}
	// A link to a folder is a folder, and a job of one pump no job of a table.
	first := filepath.Dir(intakes[0])
	require.NoError(t, errorsOf(os.Rename(first, filepath.Join(elsewhere, "x")), os.Symlink(filepath.Join(elsewhere, "x"), first)))
	_, _, err = Create(root, File{"intake.yaml", bytes.TrimPrefix(whole[intakes[0]], whole[intakes[0]][:bytes.IndexByte(whole[intakes[0]], '\n')+1])}, spec, shop)
	require.NoError(t, err)
	made, old, err := run()
	require.NoError(t, err)
	require.Equal(t, []int{0, 6}, []int{made, old})

	cut := whole[intakes[4]][:len(batchMark)+7]
	require.NoError(t, errorsOf(os.Remove(intakes[1]), os.WriteFile(intakes[2], nil, 0o644),
		os.WriteFile(intakes[3], make([]byte, len(whole[intakes[3]])), 0o644), os.WriteFile(intakes[4], cut, 0o644)))
	words := filepath.Dir(intakes[5]) + "_done"
	require.NoError(t, errorsOf(os.Rename(filepath.Dir(intakes[5]), words), os.Rename(filepath.Join(words, IntakeFile), filepath.Join(words, "x"))))
	before := names(t, root)
	made, old, err = run()
	require.ErrorContains(t, err, intakes[1]+": not there\n"+intakes[2]+": found nothing in it\n"+intakes[3]+": found zeros in it\n"+
		intakes[4]+": cut off in its first lines\n"+filepath.Join(words, IntakeFile)+": not there\n"+root+": the jobs of these folders (5) may be of this table")
	require.Equal(t, []int{0, 0}, []int{made, old})
	require.Equal(t, before, names(t, root))

	// The synchroniser is done, but for one that was taken elsewhere.
	for _, intake := range intakes[1:5] {
		require.NoError(t, os.WriteFile(intake, whole[intake], 0o644))
	}
	require.NoError(t, os.Rename(words, filepath.Join(elsewhere, "y")))
	made, old, err = run()
	require.NoError(t, err)
	require.Equal(t, []int{1, 5}, []int{made, old})
	// However a folder is called, its job keeps its number.
	require.NoError(t, errorsOf(os.Rename(filepath.Dir(intakes[1]), filepath.Join(root, "Copy of "+filepath.Base(filepath.Dir(intakes[1])))),
		os.Rename(filepath.Dir(intakes[2]), filepath.Join(root, "Hill Farm"))))
	_, old, err = run()
	require.NoError(t, err)
	require.Equal(t, 6, old)
	// Where all lines have their jobs, another folder does not matter; a pipe in place
	// of its intake is not waited for.
	other := filepath.Join(root, nth(2026, 40))
	require.NoError(t, errorsOf(os.Mkdir(other, 0o755), syscall.Mkfifo(filepath.Join(other, IntakeFile), 0o600)))
	_, old, err = run()
	require.NoError(t, err)
	require.Equal(t, 6, old)
}

// However an editor saved an intake, its job is known again.
func TestBatchKnowsIntakesAsEditorsSaveThem(t *testing.T) {
	root := t.TempDir()
	lines, spec, shop := tableOf(t, 9)
	require.NoError(t, Batch(t.Context(), root, lines, spec, shop, nil, func(*BatchLine) {}))
	forms := map[string]func(string) []byte{
		"as it was":                      func(s string) []byte { return []byte(s) },
		"a mark of UTF-8":                func(s string) []byte { return []byte("\uFEFF" + s) },
		"a comment above":                func(s string) []byte { return []byte("# seen, R.T.\n\n" + s) },
		"Windows line ends":              func(s string) []byte { return []byte(strings.ReplaceAll(s, "\n", "\r\n")) },
		"UTF-16":                         func(s string) []byte { return inUTF16(s, binary.LittleEndian) },
		"UTF-16, a comment, big end":     func(s string) []byte { return inUTF16("# Größe\r\n"+s, binary.BigEndian) },
		"moved in":                       func(s string) []byte { return []byte("  " + s) },
		"of before people were told":     func(s string) []byte { return []byte(strings.Replace(s, batchMarkStays, "\n", 1)) },
		"the same, blanks and a comment": func(s string) []byte { return []byte("#\n" + strings.Replace(s, batchMarkStays, " \t\r\n", 1)) },
	}
	require.Len(t, forms, len(lines))
	for form, save := range forms {
		intake := filepath.Join(lines[0].Dir, IntakeFile)
		data, err := os.ReadFile(intake)
		require.NoError(t, err)
		require.Regexp(t, `^# batch line [0-9a-f]{16}: leave this line, the batch knows the job by it\nintake: 1\n`, string(data))
		require.NoError(t, os.WriteFile(intake, save(string(data)), 0o644))
		id, err := batchLineOf(intake)
		require.NoError(t, err, form)
		require.Equal(t, lines[0].id, id, form)
		_, err = Open(lines[0].Dir)
		require.NoError(t, err, form)
		lines = lines[1:]
	}
	lines, _, _ = tableOf(t, 9)
	require.NoError(t, Batch(t.Context(), root, lines, spec, shop, nil, func(l *BatchLine) { require.True(t, l.Old) }))

	// What is cut off in what stands above the mark does not say that it has none.
	intake := filepath.Join(lines[0].Dir, IntakeFile)
	for said, why := range map[string]string{
		"# seen, R.T.":                    "cut off in its first lines",
		"# seen, R.T.\n":                  "cut off in its first lines",
		"# seen\n# batch line 0123456789": "cut off in its first lines",
		"# seen\n\x00\x00\x00":            "found zeros in it",
		"\n":                              "cut off in its first lines",
		"\uFEFF":                          "found nothing in it",
		"\xFF\xFE#":                       "found a text in UTF-16 that is cut off or broken; save it again as UTF-8",
	} {
		require.NoError(t, os.WriteFile(intake, []byte(said), 0o644))
		_, err := batchLineOf(intake)
		require.EqualError(t, err, intake+": "+why, "%q", said)
	}
}

// What a line is taken for is an intake that reads back, with nothing in it that
// would not be printed.
func FuzzReadBatch(f *testing.F) {
	f.Add([]byte("received,by,customer,reference,pump,serial,complaint,work\n2026-10-05,R.T.,Brackwater Growers,machine 7,Ostrel D4,7719-204,\"Smokes, hard to start\",Overhaul\n"))
	f.Add([]byte("\uFEFFby;received;customer;pump;serial;outlets;complaint;work;came with it;id\r\nR.T.;2026-10-05;'=1;Ostrel D4;1;4;: #;\"a\nb\";four pipes, bracket;7\r\n"))
	f.Add([]byte("sep=|\r\nreceived|by|customer|pump|serial|complaint|work||\r\n2026-10-05|R.T.|B|Ostrel D4|1|a|b||\r\n"))
	f.Add([]byte("received\tby\n\"\t\n1\t\"a\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		lines, err := readBatch(File{"f", data})
		if err != nil {
			return
		}
		for _, l := range lines {
			if l.Err == nil {
				_, err := ReadIntake(l.intake.Name, l.intake.Data)
				require.NoError(t, err)
				require.True(t, bytes.HasPrefix(l.intake.Data, []byte(batchMark+l.id+":")))
			}
		}
	})
}

func FuzzReadIntake(f *testing.F) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		data, err := os.ReadFile("demo/" + name + "-intake.yaml")
		require.NoError(f, err)
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		in, err := ReadIntake("f", data)
		if err != nil {
			return
		}
		for _, s := range append([]string{in.By, in.Customer.Name, in.Customer.Reference, in.Customer.Contact, in.Pump.Name, in.Pump.Serial, in.Engine, in.Complaint, in.Authorised.Work}, in.Accessories...) {
			for _, r := range s {
				require.False(t, unicode.IsControl(r), "%q", s)
			}
		}
	})
}
