package packet

import (
	"strings"

	"shimcard/layout"
	"shimcard/packet/codes"
)

// The symbols that carry a whole job: side with the quiet zone in mm, how many
// stand side by side, the level of error correction, and the most characters in
// one. They are a QR code of version 18 at most, 97 modules with the quiet
// zone, of 0.57 mm: what a flatbed scanner at 150 dpi and a telephone read.
const (
	symbolSide  = 55.0
	symbolsWide = 3
	symbolLevel = "M"
	symbolMost  = 816
)

// symbolSheet is the page that carries a whole record in symbols.
func (j *Job) symbolSheet(r Record, purpose string, after ...layout.Block) layout.Section {
	out := layout.Section{Key: symbolsKey, Bookmark: j.T("The whole job in symbols"), NewPage: true,
		Blocks: []layout.Block{layout.Band{Mark: "#", Title: j.T("The whole job in symbols"), Purpose: purpose}}}
	texts, err := codes.Pack(r.Number, r.Document, r.Files, symbolMost)
	if err != nil {
		// A packet is printed all the same: what is lost is the way back from paper.
		out.Blocks = append(out.Blocks, layout.Caution{Text: j.T("This job is too much for symbols: copy its folder, the paper cannot make it again.")})
		out.Blocks = append(out.Blocks, after...)
		return out
	}
	command := "traveller"
	if r.Document == codes.Report {
		command = "benchreport"
	}
	steps := []layout.Step{
		{Text: j.T("Photograph or scan the page, then: **%s reopen** and the picture's name. Or start **%s reopen** and scan symbol by symbol, in any order.", command, command)},
		{Text: j.T("It tells which symbols are missing, and makes the folder when it has all %d. Nothing that is there is written over.", len(texts))},
	}
	if r.Document == codes.Report {
		steps = append(steps, layout.Step{Text: j.T("Whoever doubts a page: **benchreport verify** and the pictures of that page and of this one, or this PDF.")})
	}
	out.Blocks = append(out.Blocks, layout.Steps{Items: steps})
	for i := 0; i < len(texts); i += symbolsWide {
		row := layout.Columns{}
		for k := i; k < i+symbolsWide; k++ {
			var col []layout.Block
			if k < len(texts) {
				col = []layout.Block{
					layout.Symbol{Text: texts[k], Level: symbolLevel, Size: symbolSide},
					layout.Para{Text: j.T("**%d of %d**", k+1, len(texts)) + "  ·  " + r.Number, Size: 9},
				}
			}
			row.Cols = append(row.Cols, col)
		}
		out.Blocks = append(out.Blocks, row)
	}
	out.Blocks = append(out.Blocks, after...)
	return out
}

// attachments are files of the job as a document carries them: named by the
// job, so that they keep apart when they are saved out of it.
func (j *Job) attachments(files []codes.File) []layout.Attachment {
	var out []layout.Attachment
	for _, f := range files {
		out = append(out, layout.Attachment{Name: j.Number + "-" + f.Name, Description: j.T("file of job %s", j.Number), Data: f.Data})
	}
	return out
}

// symbolsKey is the section of the symbols, and what --pages calls it.
const symbolsKey = "symbols"

// Grouped writes a digest in fours, as the foot of a page has it.
func Grouped(digest string) string {
	var parts []string
	for ; len(digest) > 4; digest = digest[4:] {
		parts = append(parts, digest[:4])
	}
	return strings.Join(append(parts, digest), "\u00a0")
}
