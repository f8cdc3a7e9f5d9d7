package packet

import (
	"bufio"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shimcard/packet/codes"
	"shimcard/specs"
)

// stub is a job's folder without the packet, which takes 0.2 s to print.
func stub(number string) ([]File, error) {
	return []File{{FormFile, []byte("job: " + number + "\n")}}, nil
}

// TestTakerOfNumbers is not a test but another process of one: it makes as many
// job folders as it is told, and says their names.
func TestTakerOfNumbers(t *testing.T) {
	root, jobs := os.Getenv("TAKE_NUMBERS_IN"), os.Getenv("TAKE_NUMBERS")
	if root == "" {
		return
	}
	many, err := strconv.Atoi(jobs)
	require.NoError(t, err)
	for range many {
		n, err := openNumbers(root, "") // anew each time, as a command does
		require.NoError(t, err)
		dir, err := n.create(2026, stub)
		require.NoError(t, err)
		fmt.Println("made", filepath.Base(dir))
	}
}

func taker(t *testing.T, root string, jobs int) *exec.Cmd {
	self, err := os.Executable()
	require.NoError(t, err)
	c := exec.Command(self, "-test.run=^TestTakerOfNumbers$")
	c.Env = append(os.Environ(), "TAKE_NUMBERS_IN="+root, fmt.Sprintf("TAKE_NUMBERS=%d", jobs))
	return c
}

// madeBy are the numbers that takers said.
func madeBy(output []byte) (out []string) {
	for line := range strings.Lines(string(output)) {
		if number, ok := strings.CutPrefix(strings.TrimSpace(line), "made "); ok {
			out = append(out, number)
		}
	}
	return out
}

func TestEightProcessesTakeTwoThousandNumbers(t *testing.T) {
	root := t.TempDir()
	var wg sync.WaitGroup
	var mu sync.Mutex
	var made []string
	for range 8 {
		wg.Go(func() {
			out, err := taker(t, root, 250).CombinedOutput()
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				t.Errorf("%v: %s", err, out)
			}
			made = append(made, madeBy(out)...)
		})
	}
	wg.Wait()
	different := map[string]bool{}
	for _, number := range made {
		different[number] = true
		require.FileExists(t, filepath.Join(root, number, FormFile))
	}
	require.Len(t, made, 2000)
	require.Len(t, different, 2000)
	require.Len(t, names(t, root), 2000)
}

// Processes are killed at any moment; what one of them said it made is there,
// what is there is whole, and the next goes on with a number of its own.
func TestKilledTakersLoseNothing(t *testing.T) {
	root := t.TempDir()
	said := map[string]bool{}
	for i := range 40 {
		c := taker(t, root, 1000)
		pipe, err := c.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, c.Start())
		// From the first it made: starting may take longer than any delay.
		out := bufio.NewReader(pipe)
		first, err := out.ReadString('\n')
		require.NoError(t, err)
		require.NotEmpty(t, madeBy([]byte(first)), first)
		time.Sleep(time.Duration(7*i) * time.Millisecond)
		require.NoError(t, c.Process.Kill())
		rest, _ := io.ReadAll(out)
		_ = c.Wait() // killed
		for _, number := range madeBy([]byte(first + string(rest))) {
			require.False(t, said[number], number)
			said[number] = true
		}
	}
	for number := range said {
		require.FileExists(t, filepath.Join(root, number, FormFile))
	}
	entries, err := os.ReadDir(root)
	require.NoError(t, err)
	for _, e := range entries {
		if e.Name() == numbersFolder {
			continue
		}
		form, err := os.ReadFile(filepath.Join(root, e.Name(), FormFile))
		require.NoError(t, err)
		require.Equal(t, "job: "+e.Name()+"\n", string(form))
	}
	n, err := openNumbers(root, "")
	require.NoError(t, err)
	_, err = n.create(2026, stub)
	require.NoError(t, err)
	t.Logf("%d jobs made, %d said", len(entries)-1, len(said))
}

// nth is the n-th number that is given out in a year.
func nth(year, n int) string {
	for k := 1; ; k++ {
		if number, ok := codes.NewNumber(year, "", k); ok {
			if n--; n == 0 {
				return number
			}
		}
	}
}

func TestNumbersAfterAllSortsOfMishaps(t *testing.T) {
	for name, c := range map[string]struct {
		mishap func(root string) error
		then   string
	}{
		"none":                        {func(string) error { return nil }, nth(2026, 4)},
		"the files are lost":          {func(root string) error { return os.RemoveAll(filepath.Join(root, numbersFolder)) }, nth(2026, 4)},
		"the last job is thrown away": {func(root string) error { return os.RemoveAll(filepath.Join(root, nth(2026, 3))) }, nth(2026, 4)},
		"the last job is renamed": {func(root string) error {
			return os.Rename(filepath.Join(root, nth(2026, 3)), filepath.Join(root, nth(2026, 3)+" Brackwater"))
		}, nth(2026, 4)},
		"came without the files, and the last renamed N_done":                  {func(root string) error { return renamed(root, "%s_done") }, nth(2026, 4)},
		"came without the files, and the last renamed N-copy":                  {func(root string) error { return renamed(root, "%s-copy") }, nth(2026, 4)},
		"came without the files, and the last renamed Copy of N":               {func(root string) error { return renamed(root, "Copy of %s") }, nth(2026, 4)},
		"came without the files, and the last renamed 2026-10-05 N (2)":        {func(root string) error { return renamed(root, "2026-10-05 %s (2)") }, nth(2026, 4)},
		"came without the files, and the last renamed N with 26-0001-C's pump": {func(root string) error { return renamed(root, "%s with 26-0001-C's pump") }, nth(2026, 4)},
		"came without the files, and the last is packed away": {func(root string) error {
			last := filepath.Join(root, nth(2026, 3))
			return errorsOf(os.RemoveAll(filepath.Join(root, numbersFolder)), os.RemoveAll(last), os.WriteFile(last+".zip", nil, 0o644))
		}, nth(2026, 4)},
		"the files are of an older backup": {func(root string) error {
			dir := filepath.Join(root, numbersFolder)
			return errorsOf(os.RemoveAll(dir), os.Mkdir(dir, 0o755), mark(filepath.Join(dir, "26-"+nth(2026, 1)[3:7])))
		}, nth(2026, 4)},
		"older files, and the next job renamed": {func(root string) error {
			dir := filepath.Join(root, numbersFolder)
			return errorsOf(os.RemoveAll(dir), os.Mkdir(dir, 0o755), mark(filepath.Join(dir, "26-"+nth(2026, 2)[3:7])),
				os.Rename(filepath.Join(root, nth(2026, 2)), filepath.Join(root, "the second")),
				os.Rename(filepath.Join(root, nth(2026, 3)), filepath.Join(root, "the third")))
		}, nth(2026, 4)},
		"a job came back that was never here": {func(root string) error {
			return os.Mkdir(filepath.Join(root, nth(2026, 4)), 0o755)
		}, nth(2026, 5)},
		"jobs beyond came back, and the last one made is here": {func(root string) error {
			return errorsOf(os.Mkdir(filepath.Join(root, nth(2026, 7)), 0o755), os.Mkdir(filepath.Join(root, nth(2026, 6)), 0o755))
		}, nth(2026, 8)},
		"a job beyond was made again from paper, and thrown away": {func(root string) error {
			return raise(root, nth(2026, 7))
		}, nth(2026, 8)},
		"a job of before was made again from paper": {func(root string) error {
			return raise(root, nth(2026, 2))
		}, nth(2026, 4)},
		"a job of another site was made again from paper": {func(root string) error {
			number, _ := codes.NewNumber(2026, "K", 412)
			return errorsOf(raise(root, number), is(filepath.Join(root, numbersFolder, "26-K0412")))
		}, nth(2026, 4)},
		"a number was taken and its maker killed": {func(root string) error {
			n, err := openNumbers(root, "")
			if err == nil {
				_, err = n.take(2026)
			}
			return err
		}, nth(2026, 5)},
		"a number was taken and given back": {func(root string) error {
			n, err := openNumbers(root, "")
			if err != nil {
				return err
			}
			_, err = n.create(2026, func(string) ([]File, error) { return nil, fs.ErrInvalid })
			if err == fs.ErrInvalid {
				err = nil
			}
			return err
		}, nth(2026, 4)},
		"a file that names nothing": {func(root string) error {
			return os.WriteFile(filepath.Join(root, numbersFolder, "26-9x99"), nil, 0o644)
		}, nth(2026, 4)},
	} {
		root := t.TempDir()
		for range 3 {
			n, err := openNumbers(root, "")
			require.NoError(t, err)
			_, err = n.create(2026, stub)
			require.NoError(t, err)
		}
		time.Sleep(20 * time.Millisecond) // the clock of a file system may tick in 10
		require.NoError(t, c.mishap(root), name)
		n, err := openNumbers(root, "")
		require.NoError(t, err)
		dir, err := n.create(2026, stub)
		require.NoError(t, err, name)
		require.Equal(t, c.then, filepath.Base(dir), name)
		dir, err = n.create(2027, stub)
		require.NoError(t, err, name)
		require.Equal(t, nth(2027, 1), filepath.Base(dir), name)
	}
}

// renamed is a folder of three jobs that came without its numbers, with other words
// about the number of the last, and its form not there yet.
func renamed(root, words string) error {
	last := filepath.Join(root, nth(2026, 3))
	return errorsOf(os.RemoveAll(filepath.Join(root, numbersFolder)), os.Remove(filepath.Join(last, FormFile)),
		os.Rename(last, filepath.Join(root, fmt.Sprintf(words, nth(2026, 3)))))
}

func errorsOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func is(name string) error {
	_, err := os.Stat(name)
	return err
}

// The names of all jobs are read for the first number of a year, and after somebody
// changed them, but not for every number: with very many jobs that takes long.
func TestNamesAreNotReadForEveryNumber(t *testing.T) {
	root := t.TempDir()
	create := func(year int, site string, read bool) {
		t.Helper()
		time.Sleep(20 * time.Millisecond)
		n, err := openNumbers(root, site)
		require.NoError(t, err)
		_, err = n.create(year, stub)
		require.NoError(t, err)
		require.Equal(t, read, len(n.known) > 0)
	}
	create(2026, "", true)
	create(2026, "", false)
	create(2026, "K", true)
	create(2027, "", true)
	create(2026, "", false)
	create(2026, "K", false)
	create(2027, "", false)
	time.Sleep(20 * time.Millisecond)
	require.NoError(t, os.Mkdir(filepath.Join(root, nth(2027, 9)), 0o755))
	create(2026, "", true)
	create(2026, "", false)
	create(2027, "", true) // of 2027 nobody asked since
	require.DirExists(t, filepath.Join(root, nth(2027, 10)))
	create(2027, "", false)
	create(2026, "", false)
}

// What a killed process leaves goes when its process is gone, or after a day;
// what another one is at stays.
func TestLeftoversAreCleared(t *testing.T) {
	root := t.TempDir()
	_, err := openNumbers(root, "")
	require.NoError(t, err)
	gone := exec.Command("true")
	require.NoError(t, gone.Run())
	dead, living, other := gone.Process.Pid, os.Getpid(), "elsewhere"
	now := time.Now()
	for _, c := range []struct {
		name  string
		age   time.Duration
		stays bool
	}{
		{fmt.Sprintf(".new-%s-%d-00000001", host(), dead), 11 * time.Minute, false},
		{fmt.Sprintf(".new-%s-%d-00000002", host(), dead), time.Minute, true}, // another machine of the same name may be at it
		{fmt.Sprintf(".new-%s-%d-00000003", host(), living), 11 * time.Minute, true},
		{fmt.Sprintf(".new-%s-%d-00000004", other, dead), 11 * time.Minute, true},
		{fmt.Sprintf(".new-%s-%d-00000005", other, dead), 25 * time.Hour, false},
		// Another's own.
		{".new-x", 25 * time.Hour, true},
		{".new-website-2026-plan", 25 * time.Hour, true},
	} {
		for _, dir := range []string{filepath.Join(root, numbersFolder), filepath.Join(root, "26-0001-C")} {
			file := filepath.Join(dir, c.name)
			require.NoError(t, os.MkdirAll(dir, 0o755))
			require.NoError(t, os.WriteFile(file, nil, 0o644))
			require.NoError(t, os.Chtimes(file, now, now.Add(-c.age)))
			if filepath.Base(dir) == numbersFolder {
				_, err = openNumbers(root, "")
			} else {
				err = replaceFile(filepath.Join(dir, FormFile), nil)
			}
			require.NoError(t, err)
			_, err = os.Stat(file)
			require.Equal(t, c.stays, err == nil, "%s after %s", file, c.age)
			require.NoError(t, os.RemoveAll(file))
		}
	}
	// We make no such folder but in .new.
	folder := filepath.Join(root, "26-0001-C", fmt.Sprintf(".new-%s-%d-00000006", other, dead))
	require.NoError(t, os.Mkdir(folder, 0o755))
	require.NoError(t, os.Chtimes(folder, now, now.Add(-25*time.Hour)))
	require.NoError(t, replaceFile(filepath.Join(root, "26-0001-C", FormFile), nil))
	require.DirExists(t, folder)
}

// A job's files are open to nobody to whom its folder of jobs is not; a file that
// is written again keeps what it was set to.
func TestModesFollowTheFolder(t *testing.T) {
	for _, mode := range []fs.FileMode{0o755, 0o750, 0o700} {
		root := filepath.Join(t.TempDir(), "jobs")
		require.NoError(t, os.Mkdir(root, mode))
		n, err := openNumbers(root, "")
		require.NoError(t, err)
		dir, err := n.create(2026, stub)
		require.NoError(t, err)
		form := filepath.Join(dir, FormFile)
		require.NoError(t, replaceFile(form, []byte("again")))
		for _, name := range []string{filepath.Join(root, numbersFolder), dir, form} {
			info, err := os.Stat(name)
			require.NoError(t, err)
			require.Zero(t, info.Mode().Perm()&^mode, "%s %s", name, info.Mode())
		}
		require.NoError(t, os.Chmod(form, 0o600))
		require.NoError(t, replaceFile(form, []byte("once more")))
		info, err := os.Stat(form)
		require.NoError(t, err)
		require.Equal(t, fs.FileMode(0o600), info.Mode().Perm())
	}
}

// The next number costs the same with twenty thousand jobs as with none.
func BenchmarkNextNumber(b *testing.B) {
	root := b.TempDir()
	for n := 1; n <= 20000; n++ {
		number, _ := codes.NewNumber(2026, "", n)
		require.NoError(b, os.Mkdir(filepath.Join(root, number), 0o755))
	}
	for b.Loop() {
		n, err := openNumbers(root, "")
		require.NoError(b, err)
		_, err = n.create(2026, stub)
		require.NoError(b, err)
	}
}

// The letters that a shop file may name for its site are those that numbers can
// have there.
func TestSiteLetters(t *testing.T) {
	for c := 'A'; c <= 'Z'; c++ {
		number, ok := "", false
		for n := 1; !ok; n++ {
			number, ok = codes.NewNumber(2026, string(c), n)
		}
		_, err := codes.ParseNumber(number)
		require.Equal(t, strings.ContainsRune(specs.SiteLetters, c), err == nil, number)
	}
}
