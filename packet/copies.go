package packet

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"shimcard/packet/codes"
)

// jobFiles are the files of a job folder that hold what nobody can make again.
var jobFiles = []string{IntakeFile, SpecFile, ShopFile, FormFile, HistoryFile, secondFile, secondHistoryFile}

// secondName is how file managers and synchronisers call a second one of a name:
// "readings (copy).yaml", "readings (1).yaml", "readings.sync-conflict-….yaml",
// "readings (conflicted copy ….).yaml". Common practice, no source.
var secondName = regexp.MustCompile(`(?i)conflict|konflikt|copy|kopie|\(\d+\)`)

// Copies says what lies in a job folder, and beside it, that may be another edit of
// the same job: files that a synchroniser put there because two machines had changed
// them, and further folders of the job. Nothing is ever merged; people decide. With
// beside, the names of all folders are read.
func Copies(dir string, beside bool) (found []string) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		for _, name := range jobFiles {
			ext := filepath.Ext(name)
			rest, ok := strings.CutPrefix(e.Name(), strings.TrimSuffix(name, ext))
			if rest, end := strings.CutSuffix(rest, ext); ok && end && secondName.MatchString(rest) && !slices.Contains(jobFiles, e.Name()) {
				found = append(found, fmt.Sprintf("%s: another edit of %s, that this command does not read; compare the two, and keep one", filepath.Join(dir, e.Name()), name))
				break
			}
		}
	}
	full, err := filepath.Abs(dir)
	if err != nil {
		return found
	}
	root, own := filepath.Dir(full), filepath.Base(full)
	number, err := codes.ParseNumber(own)
	if err != nil {
		if number, err = formNumber(filepath.Join(dir, FormFile)); err != nil {
			return found
		}
	}
	others := []string{number}
	if beside {
		if f, err := os.Open(root); err == nil {
			others, _ = f.Readdirnames(-1)
			f.Close()
		}
	}
	slices.Sort(others)
	for _, name := range others {
		// After the number only what a file name is parted with: 26-0412-B is not
		// in 26-0412-BX.
		rest, ok := strings.CutPrefix(name, number)
		if name == own || !ok || rest != "" && !strings.Contains(" ._-(~", rest[:1]) {
			continue
		}
		if _, err := os.Stat(filepath.Join(root, name, IntakeFile)); err == nil {
			found = append(found, fmt.Sprintf("%s: another folder of job %s; this command works on %s alone: keep one of them", filepath.Join(root, name), number, dir))
		}
	}
	return found
}
