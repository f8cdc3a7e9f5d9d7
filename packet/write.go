package packet

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/rogpeppe/go-internal/lockedfile"
)

// How files come to the disk: whole or not at all. What is being written lies
// under another name, is forced to the disk, and is renamed.

// beside is a name for what is not finished, that tells who is making it.
func beside() string {
	return fmt.Sprintf("%s%s-%d-%08x", unfinished, host(), os.Getpid(), rand.Uint32())
}

// unfinished begins the name of everything that is not finished.
const unfinished = ".new-"

func host() string {
	name, err := os.Hostname()
	if err != nil {
		name = "unknown"
	}
	return strings.Map(func(r rune) rune {
		if r == '/' || r == '\\' || r == ':' || r < ' ' {
			return '_'
		}
		return r
	}, name)
}

// When something unfinished is left over: its process is gone from this machine
// and cannot just have a like number on another machine of the same name, or
// nobody can still be at it.
const (
	leftHere  = 10 * time.Minute
	leftThere = 24 * time.Hour
)

// abandoned reports whether something is unfinished work of ours that nobody is at
// any more. Now is the time of the file system, which may be another machine's.
func abandoned(name string, changed, now time.Time) bool {
	on, pid := maker(name)
	age := now.Sub(changed)
	return pid > 0 && (age > leftThere || age > leftHere && on == host() && gone(pid))
}

// besideName matches the names that beside gives.
var besideName = regexp.MustCompile("^" + regexp.QuoteMeta(unfinished) + "(.+)-([0-9]+)-[0-9a-f]{8}$")

// maker is the machine and the process that a name of something unfinished tells;
// 0 where it is no such name.
func maker(name string) (host string, pid int) {
	m := besideName.FindStringSubmatch(name)
	if m == nil {
		return "", 0
	}
	pid, _ = strconv.Atoi(m[2])
	return m[1], pid
}

// mostMark is the most bytes of a small file in .new.
const mostMark = 64 << 10

// gone reports whether a process of this machine is no more.
func gone(pid int) bool {
	if pid <= 0 {
		return false
	}
	p, err := os.FindProcess(pid)
	return err != nil || errors.Is(p.Signal(syscall.Signal(0)), os.ErrProcessDone)
}

// clearAbandoned removes what killed processes left unfinished in a folder: files,
// and in .new, which is ours, folders too. It is housekeeping: what cannot be removed
// stays.
func clearAbandoned(dir string, now time.Time) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if _, pid := maker(e.Name()); pid == 0 || !e.Type().IsRegular() && filepath.Base(dir) != numbersFolder {
			continue
		}
		if info, err := e.Info(); err == nil && abandoned(e.Name(), info.ModTime(), now) {
			os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}

// permissions are those of a folder: what is made in it is open to nobody else.
// The umask narrows them further, as always.
func permissions(dir string) fs.FileMode {
	if info, err := os.Stat(dir); err == nil {
		return info.Mode().Perm()
	}
	return 0o700
}

// writeFolder makes dir, a folder of root, with its files, whole or not at all:
// a folder is filled in .new below root and renamed, and a rename onto a job
// that exists fails with fs.ErrExist.
func writeFolder(root, dir string, files []File) error {
	temp, err := fillFolder(root, dir, files)
	if err != nil {
		return err
	}
	if err := nameFolder(temp, dir); err != nil {
		return err
	}
	syncFolder(root)
	return nil
}

// fillFolder writes the files that dir is to have into a folder of another name.
func fillFolder(root, dir string, files []File) (filled string, err error) {
	temp := filepath.Join(root, numbersFolder, beside())
	if err := os.MkdirAll(filepath.Dir(temp), permissions(root)|0o700); err != nil {
		return "", notWritten(dir, err)
	}
	if err := os.Mkdir(temp, permissions(root)|0o700); err != nil {
		return "", notWritten(dir, err)
	}
	defer func() {
		if err != nil {
			os.RemoveAll(temp)
		}
	}()
	faults := make([]error, len(files))
	var wait sync.WaitGroup
	for i, f := range files { // beside each other: they wait for the disk
		wait.Go(func() {
			if err := writeSynced(filepath.Join(temp, f.Name), f.Data, permissions(temp)&0o666|0o600); err != nil {
				faults[i] = notWritten(filepath.Join(dir, f.Name), err)
			}
		})
	}
	wait.Wait()
	for _, err := range faults {
		if err != nil {
			return "", err
		}
	}
	syncFolder(temp)
	return temp, nil
}

// nameFolder gives a filled folder its own name; one that cannot have it goes.
func nameFolder(temp, dir string) (err error) {
	defer func() {
		if err != nil {
			os.RemoveAll(temp)
		}
	}()
	if _, err := os.Lstat(dir); err == nil {
		return fs.ErrExist // an empty folder too: a rename would replace that
	}
	if err := os.Rename(temp, dir); err != nil {
		if _, is := os.Lstat(dir); is == nil {
			return fs.ErrExist
		}
		return notWritten(dir, err)
	}
	return nil
}

// syncFolder makes what is named in a folder last through a power cut, where
// the file system can; some network mounts refuse, and then do it themselves.
func syncFolder(dir string) {
	if f, err := os.Open(dir); err == nil {
		_ = f.Sync()
		_ = f.Close()
	}
}

// writeSynced writes a file that is not there yet, and has it on the disk.
func writeSynced(name string, data []byte, mode fs.FileMode) error {
	return writeSyncedBy(name, mode, all(data))
}

func writeSyncedBy(name string, mode fs.FileMode, write func(io.Writer) error) error {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, mode)
	if err != nil {
		return err
	}
	err = write(f)
	// After a failed write the rest says the same again.
	if also := errors.Join(f.Sync(), f.Close()); err == nil {
		err = also
	}
	return err
}

func all(data []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	}
}

// notWritten names the file that was to be written, not the one beside it. Errors
// that are not the file system's pass.
func notWritten(name string, err error) error {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		err = p.Err
	} else if l, ok := errors.AsType[*os.LinkError](err); ok {
		err = l.Err
	} else {
		return err
	}
	if errors.Is(err, syscall.ENOSPC) {
		return fmt.Errorf("%s: not written: %w; make room, then the same command again; what was there is as it was", name, err)
	}
	return fmt.Errorf("%s: not written: %w; what was there is as it was", name, err)
}

// replaceFile writes a file beside its place and renames it there, so that the
// old one stays whole until the new one is.
func replaceFile(name string, data []byte) error { return replaceBy(name, all(data)) }

// replaceBy is replaceFile for what is written piece by piece. An error of write
// itself leaves the old file too.
func replaceBy(name string, write func(io.Writer) error) error {
	temp, err := fillFile(name, write)
	if err != nil {
		return err
	}
	return nameFile(temp, name)
}

// replaceFiles is replaceFile for files of a folder that belong together: all are on
// the disk before the first has its name, and none has its own before those ahead of it.
func replaceFiles(dir string, files ...File) error {
	temps := make([]string, len(files))
	for i, f := range files {
		var err error
		if temps[i], err = fillFile(filepath.Join(dir, f.Name), all(f.Data)); err != nil {
			for _, temp := range temps[:i] {
				os.Remove(temp)
			}
			return err
		}
	}
	for i, f := range files {
		if err := nameFile(temps[i], filepath.Join(dir, f.Name)); err != nil {
			for _, temp := range temps[i+1:] {
				os.Remove(temp)
			}
			return err
		}
	}
	return nil
}

// fillFile writes what is to be a file beside it, open to those to whom the old one
// is.
func fillFile(name string, write func(io.Writer) error) (temp string, err error) {
	dir := filepath.Dir(name)
	temp = filepath.Join(dir, beside())
	mode := permissions(dir)&0o666 | 0o600
	old, missing := os.Stat(name)
	if missing == nil {
		mode = old.Mode().Perm()
	}
	err = writeSyncedBy(temp, mode, write)
	if err == nil && missing == nil {
		err = os.Chmod(temp, mode) // what the umask took
	}
	if err != nil {
		os.Remove(temp)
		return "", notWritten(name, err)
	}
	return temp, nil
}

// nameFile gives a filled file its own name.
func nameFile(temp, name string) error {
	if err := os.Rename(temp, name); err != nil {
		os.Remove(temp)
		return notWritten(name, err)
	}
	dir := filepath.Dir(name)
	syncFolder(dir)
	if now, err := os.Stat(name); err == nil {
		clearAbandoned(dir, now.ModTime())
	}
	return nil
}

// locked lets one process at a time go on with what a lock file stands for; the lock
// goes with its process, whatever ends that. On a drive that cannot lock everybody
// goes on: whoever writes compares with what was read.
func locked(name string) (unlock func(), err error) {
	if info, err := os.Lstat(name); err == nil && !info.Mode().IsRegular() { // a pipe would be waited for
		return nil, fmt.Errorf("%s: found what is no file; take it away, then once more", name)
	}
	if f, err := os.OpenFile(name, os.O_CREATE|os.O_WRONLY, permissions(filepath.Dir(name))&0o666|0o600); err == nil {
		f.Close() // made here, it has the modes of the other files
	}
	type answer struct {
		unlock func()
		err    error
	}
	got := make(chan answer, 1)
	var decided atomic.Bool // whether it came in time
	go func() {
		unlock, err := lockedfile.MutexAt(name).Lock()
		if !decided.Swap(true) {
			got <- answer{unlock, err}
		} else if err == nil {
			unlock()
		}
	}()
	var a answer
	select {
	case a = <-got:
	case <-time.After(lockWait):
		if !decided.Swap(true) {
			return nil, fmt.Errorf("another program has held %s for %s, or was stopped in the middle: end that, then once more", name, lockWait)
		}
		a = <-got // just now
	}
	if errors.Is(a.err, errors.ErrUnsupported) || errors.Is(a.err, syscall.ENOLCK) {
		return func() {}, nil
	}
	return a.unlock, a.err
}

// lockWait is how long two who write at once wait for each other; what is written
// takes some milliseconds.
var lockWait = 20 * time.Second
