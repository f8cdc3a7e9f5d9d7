package packet

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/packet/codes"
)

// fleet writes n invented jobs below a folder, made from a demonstration: three
// pumps in turn, half a year apart, with readings that scatter. The plunger depth
// of the first pump drifts by 0.04 mm between its jobs. edits are of shop and
// intake.
func fleet(t testing.TB, root string, n int, w want) (folders []string) {
	t.Helper()
	rng := rand.New(rand.NewPCG(3, 4))
	year, running := 2022, 0
	base := jobOf(t, w)
	for i := range n {
		received := time.Date(2022, 3, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 2*i, 0)
		if received.Year() != year {
			year, running = received.Year(), 0
		}
		number := ""
		for ok := false; !ok; {
			running++
			number, ok = codes.NewNumber(year, running)
		}
		intake := string(base.files[0].Data)
		for _, line := range strings.Split(intake, "\n") {
			if strings.HasPrefix(line, "received:") {
				intake = strings.Replace(intake, line, "received: "+received.Format("2006-01-02"), 1)
			}
		}
		intake = strings.Replace(intake, base.Intake.Pump.Serial, fmt.Sprintf("%s/%d", base.Intake.Pump.Serial, i%3+1), 1)
		j, err := NewJob(number, File{IntakeFile, []byte(intake)}, base.files[1], base.files[2])
		require.NoError(t, err)
		typed, err := demoReadings(w.demo, j.Plan)
		require.NoError(t, err)
		typed = maps.Clone(typed)
		shift := func(b *Box, by float64) {
			if x, _, err := calc.ParseNumber(typed[b.Code]); err == nil {
				typed[b.Code] = strings.ReplaceAll(calc.Fixed(x+by, b.Decimals), "−", "-")
			}
		}
		for _, a := range j.Adjustments {
			step := float64(rng.IntN(3)-1) * calc.LengthOf(.01, calc.MM).In(a.Dim.Unit)
			for _, try := range a.Tries {
				if a.Dim.Take != "bracket" {
					shift(try.Now, step)
				}
			}
			// From its second job on a pump comes back as it was left, but for its
			// plunger depth.
			if s := a.Dim.Shims; i > 2 && s != nil && s.Prescribed == 0 && a.Dim.Name != "plunger depth at lowest point" {
				try := a.Tries[0]
				for k, b := range a.Repeats {
					from := try.Now
					if try.Blades != nil {
						from = try.Blades[k]
					}
					if typed[from.Code] != "" {
						typed[b.Code] = typed[from.Code]
					}
				}
				for _, b := range try.boxes() {
					delete(typed, b.Code)
				}
			}
			if a.Dim.Name == "plunger depth at lowest point" && i%3 == 0 {
				for _, b := range a.Repeats {
					shift(b, -float64(i/3%3)*calc.LengthOf(.03, calc.MM).In(a.Dim.Unit))
				}
			}
		}
		for _, s := range j.Stages {
			for _, b := range s.Boxes() {
				if b.Kind == Date && typed[b.Code] != "" {
					typed[b.Code] = received.AddDate(0, 0, 3).Format("2006-01-02")
				}
			}
		}
		dir := filepath.Join(root, number)
		require.NoError(t, os.MkdirAll(dir, 0o755))
		form := formOf(j, typed)
		data, err := j.Judge(read(t, j, typed)).JSON()
		require.NoError(t, err)
		for name, data := range map[string][]byte{IntakeFile: []byte(intake), SpecFile: base.files[1].Data, ShopFile: base.files[2].Data, FormFile: form, ResultsFile: data} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o644))
		}
		folders = append(folders, dir)
	}
	return folders
}
