package packet

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shimcard/specs"
)

// What the demonstration's readings say, counted by hand from the typed form:
// its pack, stacks of both sides, foot shim, thrust shim and end plug.
func TestShimsOfAJob(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	uses, unclear := j.Shims(read(t, j, typed))
	require.Empty(t, unclear)
	type row struct {
		tray, size        string
		out, fitted, kept int
	}
	var got []row
	for _, u := range uses {
		got = append(got, row{u.Tray, u.Size, u.Out, u.Fitted, u.Kept})
	}
	require.Equal(t, []row{
		{"timing shims", "0.40 mm", 1, 0, 0}, {"timing shims", "0.45 mm", 1, 0, 0}, {"timing shims", "0.60 mm", 1, 1, 1}, {"timing shims", "1.00 mm", 0, 1, 0},
		{"preset shims", "0.70 mm", 2, 0, 0}, {"preset shims", "0.90 mm", 0, 2, 0},
		{"foot shims", "2.40 mm", 1, 0, 0}, {"foot shims", "2.55 mm", 0, 1, 0},
		{"thrust shims", "2.50 mm", 1, 0, 0}, {"thrust shims", "2.70 mm", 0, 1, 0},
		{"end plugs", "8.60 mm", 1, 0, 0}, {"end plugs", "8.80 mm", 0, 1, 0},
	}, got)

	// A stack counts as the report says that the tray makes it.
	inch, inches := demoJob(t, "prairie")
	r := read(t, inch, inches)
	for _, it := range inch.Judge(r).Items {
		if it.Name == "Plunger spring preset" {
			require.Contains(t, it.Advice, "from the tray 0.0400 + 0.0200")
		}
	}
	uses, unclear = inch.Shims(r)
	require.Empty(t, unclear)
	for _, u := range uses {
		if u.Tray == "preset shims" && u.Fitted > 0 {
			require.Contains(t, []string{"0.040 in", "0.020 in"}, u.Size)
			require.Equal(t, 2, u.Fitted)
		}
	}

	// A worn shim counts as the size it was; what is no size is named, not counted.
	typed = maps.Clone(typed)
	typed["C9"] = "2.39"
	typed["H5"] = "2.58" // between 2.55 and 2.60
	typed["G5"], typed["G6"] = "1.25", "1.25"
	uses, unclear = j.Shims(read(t, j, typed))
	require.Empty(t, unclear)
	var sizes []string
	for _, u := range uses {
		if u.Tray == "preset shims" || u.Tray == "foot shims" {
			sizes = append(sizes, u.Size)
		}
	}
	require.Contains(t, sizes, "2.40 mm")
	require.Contains(t, sizes, "2.60 mm")
	require.NotContains(t, sizes, "1.25 mm", "a stack of two, as the picker makes it")
	typed["H5"] = "3.30"
	_, unclear = j.Shims(read(t, j, typed))
	require.Len(t, unclear, 1)
	require.Contains(t, unclear[0], "H5")
	require.Contains(t, unclear[0], "3.30 mm is no size of the tray foot shims")

	// Nothing fitted: what came out went back.
	for code := range typed {
		if strings.Contains("FGHJK", code[:1]) && code != "F16" {
			delete(typed, code)
		}
	}
	uses, _ = j.Shims(read(t, j, typed))
	require.Empty(t, uses)
}

const shopWithStock = `# Demonstration shop: invented.
shop: 1
invented: yes
name: Bench # ours: counted in October
instruments: {}
stock:
  timing shims: {0.60 mm: 6, 1.00 mm: 3}   # from the drawer
  "preset shims":
    0.70 mm: 4
    0,90 mm: "2"    # two, wörtlich µ
  foot shims: {2.40 mm: 0, 2.55 mm: 0, 2.60 mm: 9}
paper: A4
`

// stockShop writes a shop file, and gives the folder of a fresh demonstration job.
func stockShop(t *testing.T, text string) (shop, job string, typed map[string]string) {
	t.Helper()
	dir := t.TempDir()
	shop = filepath.Join(dir, "shop.yaml")
	require.NoError(t, os.WriteFile(shop, []byte(text), 0o644))
	job = fleet(t, filepath.Join(dir, "jobs"), 1, want{"saltmarsh", "A4", "en", "one side", "two holes", nil})[0]
	intake := filepath.Join(job, IntakeFile)
	data, err := os.ReadFile(intake)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(intake, []byte(strings.Replace(string(data), "received: 2022-03-01", "received: 2026-10-05", 1)), 0o644))
	j, err := Open(job)
	require.NoError(t, err)
	typed, err = demoReadings("saltmarsh", j.Plan)
	require.NoError(t, err)
	typeAnew(t, job, typed)
	return shop, job, typed
}

func typeAnew(t *testing.T, dir string, typed map[string]string) {
	t.Helper()
	j, err := Open(dir)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, FormFile), formOf(j, typed), 0o644))
}

func counts(t *testing.T, shop string) map[string]int {
	t.Helper()
	data, err := os.ReadFile(shop)
	require.NoError(t, err)
	s, err := specs.ReadShop(shop, data)
	require.NoError(t, err)
	out := map[string]int{}
	for _, k := range s.Stock {
		for i, size := range k.Sizes {
			out[k.Tray+" "+size.Fixed(k.Unit, k.Decimals)] = k.Count[i]
		}
	}
	return out
}

var today = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

func TestStockIsTakenOnce(t *testing.T) {
	shop, job, typed := stockShop(t, shopWithStock)
	q := StockQuestion{Shop: shop, Jobs: []string{job}, Today: today, ReorderAt: 2}

	dry := q
	dry.DryRun = true
	_, err := TakeStock(dry)
	require.NoError(t, err)
	data, _ := os.ReadFile(shop)
	require.Equal(t, shopWithStock, string(data))
	require.NoFileExists(t, StockBook(shop))

	took, err := TakeStock(q)
	require.NoError(t, err)
	require.False(t, took.Right(), "a foot shim was fitted that the count did not have")
	after := map[string]int{"timing shims 0.60": 6, "timing shims 1.00": 2, "preset shims 0.70": 4, "preset shims 0.90": 0, "foot shims 2.40": 0, "foot shims 2.55": 0, "foot shims 2.60": 9}
	require.Equal(t, after, counts(t, shop))
	require.Equal(t, []string{"end plugs", "thrust shims"}, took.Uncounted)
	require.Contains(t, took.String(), "foot shims  2.55 mm: 0 → 0, 1 more taken than it counted")
	require.Contains(t, took.String(), "reorder\n  timing shims  1.00 mm: 2 left\n  preset shims  0.90 mm: 0 left\n")

	// Only the counts and the line of their number differ.
	data, _ = os.ReadFile(shop)
	count := regexp.MustCompile(`(mm: "?)\d+`)
	text := strings.Replace(string(data), "stock applied: 1\n", "", 1)
	require.Equal(t, count.ReplaceAllString(shopWithStock, "$1#"), count.ReplaceAllString(text, "$1#"))

	// Once.
	took, err = TakeStock(q)
	require.NoError(t, err)
	require.True(t, took.Jobs[0].Before)
	require.Equal(t, after, counts(t, shop))
	again, _ := os.ReadFile(shop)
	require.Equal(t, data, again)

	// Another shim: the difference alone.
	typed["H5"] = "2.60"
	typeAnew(t, job, typed)
	took, err = TakeStock(q)
	require.NoError(t, err)
	require.True(t, took.Jobs[0].Changed)
	require.Equal(t, 8, counts(t, shop)["foot shims 2.60"])
	typed["H5"] = "2.55"
	typeAnew(t, job, typed)

	// Back into the tray, and not, and as it was said last.
	yes, no := true, false
	q.Back = &yes
	_, err = TakeStock(q)
	require.NoError(t, err)
	require.Equal(t, 6, counts(t, shop)["preset shims 0.70"])
	q.Back = nil
	took, err = TakeStock(q)
	require.NoError(t, err)
	require.True(t, took.Jobs[0].Before)
	q.Back = &no
	_, err = TakeStock(q)
	require.NoError(t, err)
	require.Equal(t, 4, counts(t, shop)["preset shims 0.70"])
}

// A run ended anywhere between its writes is made good by the next; the shop file
// restored from a backup too.
func TestStockSurvivesBeingCutOff(t *testing.T) {
	shop, job, _ := stockShop(t, shopWithStock)
	q := StockQuestion{Shop: shop, Jobs: []string{job}, Today: today}
	_, err := TakeStock(q)
	require.NoError(t, err)
	after := counts(t, shop)
	book, err := os.ReadFile(StockBook(shop))
	require.NoError(t, err)

	for _, cut := range []int{0, 1, len(book) / 2, len(book) - 2, len(book) - 1, len(book)} { // the book written so far, the shop file not yet
		require.NoError(t, os.WriteFile(shop, []byte(shopWithStock), 0o644))
		require.NoError(t, os.WriteFile(StockBook(shop), book[:cut], 0o644))
		_, err = TakeStock(q)
		require.NoError(t, err)
		require.Equal(t, after, counts(t, shop))
		now, _ := os.ReadFile(StockBook(shop))
		require.Equal(t, string(book), string(now))
	}
	q.Jobs = nil // any next run will do
	require.NoError(t, os.WriteFile(shop, []byte(shopWithStock), 0o644))
	_, err = TakeStock(q)
	require.NoError(t, err)
	require.Equal(t, after, counts(t, shop))

	// What must not be guessed at.
	require.NoError(t, os.WriteFile(StockBook(shop), []byte("{}{\n"), 0o644))
	_, err = TakeStock(q)
	require.ErrorContains(t, err, "shop.yaml.stock:1: ")
	require.NoError(t, os.Remove(StockBook(shop)))
	_, err = TakeStock(q)
	require.ErrorContains(t, err, "stock applied: 1, and")
	require.Equal(t, after, counts(t, shop))
}

// Other layouts of the same file; and what cannot be written in place.
func TestStockKeepsTheLayout(t *testing.T) {
	for name, text := range map[string]string{
		"CRLF":  strings.ReplaceAll(shopWithStock, "\n", "\r\n"),
		"BOM":   "\uFEFF" + shopWithStock,
		"flow":  `{shop: 1, name: "Bänch", instruments: {}, stock: {preset shims: {0.90 mm: 5}, foot shims: {2.55 mm: 12}}}` + "\n",
		"block": "shop: 1\nname: B\ninstruments: {}\nstock:\n    preset shims:\n        0.90 mm: 5\n        # none\n",
		"there": "stock applied: 0 # by machine\n" + strings.Replace(shopWithStock, "# Demonstration shop: invented.\n", "", 1),
	} {
		t.Run(name, func(t *testing.T) {
			shop, job, _ := stockShop(t, text)
			before := counts(t, shop)
			_, err := TakeStock(StockQuestion{Shop: shop, Jobs: []string{job}, Today: today})
			require.NoError(t, err)
			after := counts(t, shop)
			require.Equal(t, before["preset shims 0.90"]-2, after["preset shims 0.90"])
			data, _ := os.ReadFile(shop)
			if name == "flow" {
				require.Contains(t, string(data), "stock applied: 1, stock: {preset shims: {0.90 mm: 3}, foot shims: {2.55 mm: 11}}")
				return
			}
			require.Equal(t, strings.Count(text, "\n")+strings.Count(string(data), "stock applied: 1")-strings.Count(text, "stock applied"), strings.Count(string(data), "\n"))
			require.Equal(t, strings.Count(text, "#"), strings.Count(string(data), "#"))
		})
	}
	shop, job, _ := stockShop(t, "shop: 1\nname: B\ninstruments: {}\n")
	_, err := TakeStock(StockQuestion{Shop: shop, Jobs: []string{job}, Today: today})
	require.ErrorContains(t, err, "no stock in it")
	require.NoFileExists(t, StockBook(shop))
	_, err = TakeStock(StockQuestion{Shop: shop + "x"})
	require.ErrorContains(t, err, "name it with --shop")
}

// TestStockTaker is not a test but another process that takes one job's stock.
func TestStockTaker(t *testing.T) {
	shop, job := os.Getenv("TAKE_STOCK_OF"), os.Getenv("TAKE_STOCK_JOB")
	if shop == "" {
		return
	}
	took, err := TakeStock(StockQuestion{Shop: shop, Jobs: []string{job}, Today: today})
	require.NoError(t, err)
	require.False(t, took.Jobs[0].Before)
}

// Eight at once: every one that says it is done is in the book and in the counts.
func TestStockTakenByEightAtOnce(t *testing.T) {
	const many = 8
	text := strings.Replace(shopWithStock, "1.00 mm: 3", "1.00 mm: 100", 1)
	shop, job, _ := stockShop(t, text)
	self, err := os.Executable()
	require.NoError(t, err)
	// The same job under other numbers.
	var jobs []string
	form, err := os.ReadFile(filepath.Join(job, FormFile))
	require.NoError(t, err)
	for n := range many {
		number := nth(2026, 20+n)
		dir := filepath.Join(filepath.Dir(job), number)
		require.NoError(t, os.CopyFS(dir, os.DirFS(job)))
		require.NoError(t, os.WriteFile(filepath.Join(dir, FormFile), bytes.ReplaceAll(form, []byte(filepath.Base(job)), []byte(number)), 0o644))
		require.NoError(t, errorsOf(os.RemoveAll(filepath.Join(dir, HistoryFile)), os.RemoveAll(filepath.Join(dir, PacketFile))))
		jobs = append(jobs, dir)
	}
	var wait sync.WaitGroup
	for _, dir := range jobs {
		wait.Go(func() {
			c := exec.Command(self, "-test.run=^TestStockTaker$")
			c.Env = append(os.Environ(), "TAKE_STOCK_OF="+shop, "TAKE_STOCK_JOB="+dir)
			if out, err := c.CombinedOutput(); err != nil {
				t.Errorf("%v: %s", err, out)
			}
		})
	}
	wait.Wait()
	lines, _, err := readBook(StockBook(shop))
	require.NoError(t, err)
	var booked []string
	for _, l := range lines {
		booked = append(booked, l.Job)
	}
	var want []string
	for _, dir := range jobs {
		want = append(want, filepath.Base(dir))
	}
	require.ElementsMatch(t, want, booked)
	require.Equal(t, 100-many, counts(t, shop)["timing shims 1.00"])
	data, err := os.ReadFile(shop)
	require.NoError(t, err)
	require.Contains(t, string(data), "stock applied: 8\n")
}

func TestStockIsNotWrittenOverWhatAnEditorSaved(t *testing.T) {
	shop, job, _ := stockShop(t, shopWithStock)
	before, err := ReadFile(shop)
	require.NoError(t, err)
	require.NoError(t, asRead(before, 0))
	_, err = TakeStock(StockQuestion{Shop: shop, Jobs: []string{job}, Today: today})
	require.NoError(t, err)
	after, err := ReadFile(shop)
	require.NoError(t, err)
	info, err := os.Stat(StockBook(shop))
	require.NoError(t, err)
	require.NoError(t, asRead(after, info.Size()))
	require.ErrorContains(t, asRead(after, 0), "changed by somebody else")
	require.ErrorContains(t, asRead(before, info.Size()), "changed by somebody else")
}

// One count, however a job's spec writes its size: what goes out and comes in is summed
// before the count stops at 0.
func TestStockOfASizeWrittenInTwoWays(t *testing.T) {
	for range 20 { // no order of theirs makes a difference
		shop := filepath.Join(t.TempDir(), "shop.yaml")
		require.NoError(t, os.WriteFile(shop, []byte("shop: 1\nname: B\ninstruments: {}\nstock:\n  foot shims: {2.6 mm: 2}\n"), 0o644))
		require.NoError(t, appendBook(StockBook(shop), 0, []stockLine{
			{Job: "26-0001-C", Change: []stockChange{{"foot shims", "2.60 mm", -3}}},
			{Job: "26-0002-A", Change: []stockChange{{"foot shims", "2.600 mm", 2}}},
		}))
		took, err := TakeStock(StockQuestion{Shop: shop, Today: today})
		require.NoError(t, err)
		require.True(t, took.Right())
		require.Equal(t, map[string]int{"foot shims 2.6": 1}, counts(t, shop))
		require.Len(t, took.Counts, 1)
		require.Equal(t, "2.600 mm", took.Counts[0].Size)
	}
	shop := filepath.Join(t.TempDir(), "shop.yaml")
	require.NoError(t, os.WriteFile(shop, []byte("shop: 1\nname: B\ninstruments: {}\nstock:\n  foot shims: {2.6 mm: 2}\n"), 0o644))
	require.NoError(t, appendBook(StockBook(shop), 0, []stockLine{{Job: "26-0001-C", Change: []stockChange{{"foot shims", "2.60", -1}}}}))
	_, err := TakeStock(StockQuestion{Shop: shop, Today: today})
	require.ErrorContains(t, err, "shop.yaml.stock:1: \"2.60\" has no unit")
}

// Who only looks takes no lock: whatever is booked meanwhile, he sees a book that has
// what the shop file counts.
func TestStockListedBesideBookings(t *testing.T) {
	shop := filepath.Join(t.TempDir(), "shop.yaml")
	text := func(applied int) []byte {
		return fmt.Appendf(nil, "shop: 1\nname: B\ninstruments: {}\nstock applied: %d\nstock:\n  foot shims: {2.60 mm: %d}\n", applied, 1000-applied)
	}
	require.NoError(t, os.WriteFile(shop, text(0), 0o644))
	var booked atomic.Bool
	done := make(chan error, 1)
	go func() { // as TakeStock writes
		defer booked.Store(true)
		for n := range 300 {
			_, whole, err := readBook(StockBook(shop))
			if err = errors.Join(err, appendBook(StockBook(shop), whole, []stockLine{{Job: nth(2026, n+1), Change: []stockChange{{"foot shims", "2.60 mm", -1}}}})); err == nil {
				err = replaceFile(shop, text(n+1))
			}
			if err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for !booked.Load() {
		_, err := TakeStock(StockQuestion{Shop: shop, DryRun: true, Today: today})
		require.NoError(t, err)
	}
	require.NoError(t, <-done)
}
