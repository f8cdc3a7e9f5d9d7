package packet

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"shimcard/packet/codes"
)

// numbers gives out the job numbers of a folder of jobs, each once, to any number
// of processes on any number of machines that share it, without a server.
//
// In the folder's .new lies an empty file for the number given out last, named
// by year, letters of the site and running number, "26-0412", "26-K0412". Whoever takes the next makes the next
// file; the file system lets one of two succeed. Files of lower numbers go when
// the job has its folder. So the highest file never falls, whoever dies when, and
// the folders of a hundred thousand jobs are not read. They are read when what the
// files say does not agree with the folders: none there, the folder of none there,
// or one that came from elsewhere. Losing .new costs that, no more.
//
// That something came from elsewhere is seen by the time at which names in the
// folder last changed: .new/names holds the last that was made here. A folder that
// is made again from paper raises the number besides.
//
// Each site counts for itself, so that jobs of several sites may come together in
// one folder, now or later.
//
// Last of all a rename of the finished folder onto a job that exists fails.
type numbers struct {
	root, dir, site string

	mu    sync.Mutex
	known map[int]int    // by year: the highest number found by reading the folders
	whole map[int]string // by year: when names had last changed that known tells of
}

const numbersFolder = ".new"

// openNumbers makes ready to give out numbers of a site below root: it makes the folders
// that lack, clears away what killed processes left, and tries whether the file
// system does what it must.
func openNumbers(root, site string) (*numbers, error) {
	n := &numbers{root: root, dir: filepath.Join(root, numbersFolder), site: site, known: map[int]int{}, whole: map[int]string{}}
	if root == "" {
		return nil, errors.New("--jobs: found nothing; name the folder that holds the job folders")
	}
	if _, err := os.Stat(filepath.Join(root, FormFile)); err == nil {
		return nil, fmt.Errorf("%s: found the folder of one job; name the folder that holds the job folders, %s", root, filepath.Dir(root))
	}
	if err := os.MkdirAll(root, 0o777); err != nil {
		return nil, plainError(err)
	}
	if err := os.Mkdir(n.dir, permissions(root)|0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, closedTo(root, notWritten(root, err))
	}
	now, err := n.try()
	if err != nil {
		return nil, closedTo(n.dir, err)
	}
	clearAbandoned(n.dir, now)
	return n, nil
}

// try finds out whether the file system lets only one of two make a file, and no
// folder be renamed onto one that is not empty. It returns the file system's time,
// which may be another machine's.
func (n *numbers) try() (now time.Time, err error) {
	dir := filepath.Join(n.dir, beside())
	defer os.RemoveAll(dir)
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	for _, d := range []string{dir, a, b} {
		if err := os.Mkdir(d, 0o700); err != nil {
			return now, notWritten(n.dir, err)
		}
	}
	if err := errors.Join(mark(filepath.Join(a, "file")), mark(filepath.Join(b, "file"))); err != nil {
		return now, notWritten(n.dir, err)
	}
	info, err := os.Stat(filepath.Join(b, "file"))
	switch {
	case err != nil:
		return now, plainError(err)
	case mark(filepath.Join(a, "file")) == nil:
		return now, fmt.Errorf("%s: this file system lets two make the same file; keep the jobs on another one, or numbers are given out twice", n.root)
	case os.Rename(a, b) == nil:
		return now, fmt.Errorf("%s: this file system lets one folder replace another; keep the jobs on another one, or jobs are lost", n.root)
	}
	return info.ModTime(), nil
}

// mark makes an empty file; the error is fs.ErrExist when it is there.
func mark(name string) error {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// create takes the next number of a year and makes the job's folder of the files
// that are made for the number.
func (n *numbers) create(year int, content func(number string) ([]File, error)) (dir string, err error) {
	for {
		t, err := n.take(year)
		if err != nil {
			return "", err
		}
		files, err := content(t.number)
		if err == nil {
			dir, err = t.keep(files)
		}
		switch {
		case errors.Is(err, fs.ErrExist):
			continue // the folder came from elsewhere meanwhile
		case err != nil:
			t.giveBack()
			return "", err
		}
		return dir, nil
	}
}

// taken is a number that nobody else has and that has no folder yet.
type taken struct {
	*numbers
	number  string
	year, n int
}

// take takes the next number of a year.
func (n *numbers) take(year int) (*taken, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	for {
		last, agrees, err := n.last(year)
		if err != nil {
			return nil, err
		}
		last = max(last, n.known[year])
		if !n.current(year) && !(agrees && n.unchanged(year)) {
			if last, err = n.read(year, last); err != nil {
				return nil, err
			}
		}
		t := &taken{numbers: n, year: year, n: last}
		for ok := false; !ok; {
			if t.n++; t.n > mostJobs {
				return nil, fmt.Errorf("%s: all numbers of 20%02d are given out; take another folder of jobs", n.root, year%100)
			}
			t.number, ok = codes.NewNumber(year, n.site, t.n)
		}
		if _, err := os.Lstat(filepath.Join(n.root, t.number)); err == nil {
			// Put there by hand or by a backup: the files do not know of it.
			if _, err := n.read(year, t.n); err != nil {
				return nil, err
			}
			continue
		}
		err = mark(t.file())
		if errors.Is(err, fs.ErrExist) {
			continue // somebody else was quicker
		}
		if err != nil {
			return nil, notWritten(n.dir, err)
		}
		// Whoever looked long ago may make the file of a number that has come and
		// gone; then there is a higher one.
		highest, _, err := n.last(year)
		if err == nil && highest == t.n {
			return t, nil
		}
		t.giveBack()
		if err != nil {
			return nil, err
		}
	}
}

// mostJobs is how many job numbers a year has.
const mostJobs = 999999

// last is the highest number of a year that the files name, 0 for none, and
// whether one of them has its folder.
func (n *numbers) last(year int) (last int, agrees bool, err error) {
	entries, err := os.ReadDir(n.dir)
	if err != nil {
		return 0, false, plainError(err)
	}
	for _, e := range entries {
		if k := n.marked(year, e.Name()); k > 0 {
			last = max(last, k)
			if number, _ := codes.NewNumber(year, n.site, k); !agrees {
				_, err := os.Lstat(filepath.Join(n.root, number))
				agrees = err == nil
			}
		}
	}
	return last, agrees, nil
}

// head is what the numbers of a year begin with.
func (n *numbers) head(year int) string { return fmt.Sprintf("%02d-%s", year%100, n.site) }

// marked reads the name of a file that names the number given out last of a year;
// 0 where it is none.
func (n *numbers) marked(year int, name string) int {
	digits, ok := strings.CutPrefix(name, n.head(year))
	k, err := strconv.Atoi(digits)
	if !ok || err != nil || k < 1 || k > mostJobs {
		return 0
	}
	return k
}

// raise notes a number whose folder is made again from paper, though nobody took it
// here. Numbers before it that no folder tells of may be on paper too: what is given
// out goes on behind it.
func raise(root, number string) error {
	number, err := codes.ParseNumber(number)
	if err != nil {
		return err
	}
	name := number[:strings.LastIndexByte(number, '-')]
	year, err := strconv.Atoi(name[:2])
	if err != nil {
		return err
	}
	n := &numbers{root: root, dir: filepath.Join(root, numbersFolder), site: strings.TrimRight(name[3:], "0123456789")}
	if err := os.MkdirAll(n.dir, permissions(root)|0o700); err != nil {
		return notWritten(n.dir, err)
	}
	last, _, err := n.last(year)
	if err != nil || last >= n.marked(year, name) {
		return err
	}
	if err := mark(filepath.Join(n.dir, name)); err != nil && !errors.Is(err, fs.ErrExist) {
		return notWritten(n.dir, err)
	}
	return nil
}

// namesFile holds when names in the folder of jobs had last changed while the files
// of numbers agreed with them, and below it what those numbers begin with.
const namesFile = "names"

// changed is when names in the folder of jobs last changed; "" where the file system
// keeps that too roughly to tell one change from the next.
func (n *numbers) changed() string {
	info, err := os.Stat(n.root)
	if err != nil || info.ModTime().Nanosecond() == 0 {
		return ""
	}
	return strconv.FormatInt(info.ModTime().UnixNano(), 10)
}

// agreed is what numbers begin with that agreed with the folders as names had last
// changed at that time.
func (n *numbers) agreed(changed string) []string {
	f, err := readUpTo(filepath.Join(n.dir, namesFile), mostMark)
	lines := strings.Split(string(f.Data), "\n")
	if err != nil || changed == "" || lines[0] != changed || len(lines) < 2 {
		return nil
	}
	return lines[1 : len(lines)-1] // what a write that was cut off lacks is the last
}

// current reports whether what was read of a year's folders still holds.
func (n *numbers) current(year int) bool {
	_, read := n.known[year]
	now := n.changed()
	return read && (now == "" || now == n.whole[year])
}

// unchanged reports whether names have changed by what was made here alone since the
// numbers of a year agreed with the folders.
func (n *numbers) unchanged(year int) bool {
	return slices.Contains(n.agreed(n.changed()), n.head(year))
}

// read finds the highest number of a year among the folders, at least as high as
// it is told, and keeps it.
func (n *numbers) read(year, last int) (int, error) {
	n.whole[year] = n.changed()
	entries, err := os.ReadDir(n.root)
	if err != nil {
		return 0, plainError(err)
	}
	for _, e := range entries {
		// Folders and files that somebody renamed may have words about their number.
		said := numbersIn(e.Name())
		if said == nil && !e.Type().IsRegular() && e.Name() != numbersFolder {
			if number, err := formNumber(filepath.Join(n.root, e.Name(), FormFile)); err == nil {
				said = []string{number}
			}
		}
		for _, number := range said {
			last = max(last, n.marked(year, number[:strings.LastIndexByte(number, '-')]))
		}
	}
	n.known[year] = last
	return last, nil
}

func (t *taken) file() string {
	return filepath.Join(t.dir, fmt.Sprintf("%s%04d", t.head(t.year), t.n))
}

// giveBack lets the number be taken again: nobody has seen it.
func (t *taken) giveBack() { os.Remove(t.file()) }

// keep makes the folder of the number. The files of lower numbers are then of no
// more use.
func (t *taken) keep(files []File) (dir string, err error) {
	dir = filepath.Join(t.root, t.number)
	temp, err := fillFolder(t.root, dir, files)
	if err != nil {
		return "", err
	}
	if err := t.place(temp, dir); err != nil {
		return "", err
	}
	syncFolder(t.root)
	entries, _ := os.ReadDir(t.dir)
	for _, e := range entries {
		if k := t.marked(t.year, e.Name()); k > 0 && k < t.n {
			os.Remove(filepath.Join(t.dir, e.Name()))
		}
	}
	return dir, nil
}

// place gives the finished folder its name, and notes when that changed the names,
// where nothing else had changed them. What somebody else does to them in the same
// moment, a few milliseconds with most file systems, is not told from it.
func (t *taken) place(temp, dir string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	before := t.changed()
	if err := nameFolder(temp, dir); err != nil {
		return err
	}
	now := t.changed()
	agreed := t.agreed(before)
	for year, whole := range t.whole {
		if before == "" || whole != before {
			continue
		}
		t.whole[year] = now
		if !slices.Contains(agreed, t.head(year)) {
			agreed = append(agreed, t.head(year))
		}
	}
	if len(agreed) == 0 || now == "" {
		return nil
	}
	// Housekeeping: where it cannot be written, the names are read once more.
	file := filepath.Join(t.dir, beside())
	err := os.WriteFile(file, []byte(now+"\n"+strings.Join(agreed, "\n")+"\n"), permissions(t.dir)&0o666|0o600)
	if err == nil {
		err = os.Rename(file, filepath.Join(t.dir, namesFile))
	}
	if err != nil {
		os.Remove(file)
	}
	return nil
}
