package packet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"shimcard/packet/codes"
)

// ownFiles are the files of a job folder of which a second one may hold what the
// first does not. Those of longer names come first: a second readings-history.jsonl
// is not one of readings.yaml.
var ownFiles = []string{secondHistoryFile, HistoryFile, secondFile, FormFile, IntakeFile, SpecFile, ShopFile, ShortFile, ReportFile, ResultsFile}

// IsJobFile reports whether a file name is one that a job folder's own files have, in
// capitals or not.
func IsJobFile(name string) bool {
	name = strings.ToLower(name)
	return name == PacketFile || slices.Contains(ownFiles, name) || ownIssue.MatchString(name)
}

// ownIssue are the names of the files of issues.
var ownIssue = regexp.MustCompile(`^(issue-[1-9][0-9]*\.yaml|report-issue-[1-9][0-9]*\.pdf)$`)

// issueWord is what is left of such a name in a second one's.
var issueWord = regexp.MustCompile(`issue[-_ ]?[1-9][0-9]*`)

// pictureName are the pictures and tables that people lay beside a job.
var pictureName = regexp.MustCompile(`(?i)\.(png|jpe?g|heic|webp|gif|tiff?|bmp|csv)$`)

// secondOf is the file of a job folder that another in it may be a second one of:
// whatever file managers, synchronisers and editors call it, the name of the first is
// in it, in capitals or not. "" where it is none.
func secondOf(name string) string {
	if slices.Contains(ownFiles, name) || ownIssue.MatchString(name) || pictureName.MatchString(name) || strings.HasPrefix(name, ".") {
		return "" // hidden ones are other programs' own
	}
	low := strings.ToLower(name)
	if issue := issueWord.FindString(low); issue != "" {
		if strings.Contains(low, "report-"+issue) {
			return replacedName(issueNumber(issue))
		}
		return issueName(issueNumber(issue))
	}
	for _, exact := range []bool{true, false} { // report (1).pdf is one of report.pdf, not of report.json
		for _, own := range ownFiles {
			ext := filepath.Ext(own)
			if hasWord(low, strings.TrimSuffix(own, ext)) && (!exact || strings.Contains(low, ext)) {
				return own
			}
		}
	}
	return ""
}

// issueNumber is the number that ends what issueWord found.
func issueNumber(word string) (n int) {
	_, _ = fmt.Sscan(strings.TrimLeft(word, "isue-_ "), &n)
	return n
}

// hasWord reports whether a text has a word in it that is not a part of another: the
// shop is not in a workshop.
func hasWord(text, word string) bool {
	letter := func(s string) bool { return strings.ToLower(s) != strings.ToUpper(s) }
	for from := 0; ; {
		at := strings.Index(text[from:], word)
		if at < 0 {
			return false
		}
		start, end := from+at, from+at+len(word)
		from = end
		if before := []rune(text[:start]); len(before) > 0 && letter(string(before[len(before)-1])) {
			continue
		}
		if after := []rune(text[end:]); len(after) > 0 && letter(string(after[0])) {
			continue
		}
		return true
	}
}

// PrintableName is a name from the disk with a question mark for what a terminal
// would take for a command.
func PrintableName(name string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0x200e && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return '?'
		}
		return r
	}, name)
}

// Copies says what lies in a job folder, and beside it, that may be another edit of
// the same job: files that a synchroniser put there because two machines had changed
// them, another job's report, and further folders of the job. Nothing is ever merged; people decide. With
// beside, the names of all folders are read, and for those that say no number the index.
func Copies(dir string, beside bool) (found []string) {
	say := func(format string, args ...any) { found = append(found, PrintableName(fmt.Sprintf(format, args...))) }
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		own := secondOf(e.Name())
		if own == "" || e.IsDir() || same(filepath.Join(dir, e.Name()), filepath.Join(dir, own)) {
			continue
		}
		say("%s: perhaps another edit of %s, that this command does not read; compare the two, and keep one", filepath.Join(dir, e.Name()), own)
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
	if m := mixedIn(dir, own); m != nil {
		say("%s", m)
	}
	others := []string{number}
	if beside {
		if f, err := os.Open(root); err == nil {
			others, _ = f.Readdirnames(-1)
			f.Close()
		}
		byForm := indexedAs(root, number, len(others))
		others = append(slices.DeleteFunc(others, func(name string) bool { return numberIn(name) != number }), byForm...)
	}
	slices.Sort(others)
	for _, name := range others {
		other := filepath.Join(root, name)
		if name == own || strings.HasPrefix(name, ".") || same(other, full) {
			continue
		}
		if _, err := os.Stat(filepath.Join(other, IntakeFile)); err == nil && !ofAnother(other, number) {
			say("%s: another folder of job %s; this command works on %s alone: keep one of them", other, number, dir)
		}
	}
	return found
}

// indexedAs are the folders whose names say no number and whose forms, when they were listed
// last, said this one.
func indexedAs(root, number string, folders int) (names []string) {
	index, err := readUpTo(filepath.Join(root, IndexFile), mostIndex(folders))
	if err != nil {
		return nil
	}
	said := []byte(`"job":"` + number + `"`) // in no text of a customer's: a quotation mark has a \ there
	for line := range bytes.Lines(index.Data) {
		if !bytes.Contains(line, said) {
			continue
		}
		line, _, _ = bytes.Cut(line, []byte("\t"))
		var x indexed
		if json.Unmarshal(line, &x) == nil && x.Job != nil && x.Job.Job == number && numberIn(x.Job.Folder) == "" {
			names = append(names, x.Job.Folder)
		}
	}
	return names
}

// same reports whether two names are of one file: where a file system does not tell
// capitals apart, Readings.yaml is no second one.
func same(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}
