package codes

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// demoFiles are the files of the invented demonstration jobs.
func demoFiles(t testing.TB, shop string) []File {
	spec := map[string]string{"saltmarsh": "ostrel-d4", "prairie": "vessant-s6"}[shop]
	var files []File
	for _, f := range [][2]string{
		{"intake.yaml", "../demo/" + shop + "-intake.yaml"},
		{"spec.yaml", "../../specs/demo/" + spec + ".yaml"},
		{"shop.yaml", "../../specs/demo/" + shop + ".yaml"},
		{"readings.yaml", "../demo/" + shop + "-readings.yaml"},
	} {
		data, err := os.ReadFile(filepath.FromSlash(f[1]))
		require.NoError(t, err)
		files = append(files, File{f[0], data})
	}
	return files
}

func gathered(t testing.TB, texts []string) *Gather {
	g := &Gather{}
	for _, text := range texts {
		_, err := g.Add(text)
		require.NoError(t, err)
	}
	return g
}

// What was packed comes back to the byte, whatever the size of the symbols, the
// order they are scanned in and the case a keyboard makes of them.
func TestPackedFilesComeBack(t *testing.T) {
	random := rand.New(rand.NewSource(1))
	noise := make([]byte, 3000)
	random.Read(noise)
	for i, files := range [][]File{
		demoFiles(t, "saltmarsh"), demoFiles(t, "prairie"),
		{{"intake.yaml", nil}}, {{"a", []byte{0}}, {"b.bin", noise}},
	} {
		for most := 120; most <= 2900; most += 1 + random.Intn(200) {
			texts, err := Pack("26-0412-B", Report, files, most)
			if err != nil {
				require.ErrorContains(t, err, "shorten remarks and notes")
				continue
			}
			again, err := Pack("26-0412-B", Report, files, most)
			require.NoError(t, err)
			require.Equal(t, texts, again)
			random.Shuffle(len(texts), func(i, j int) { texts[i], texts[j] = texts[j], texts[i] })
			longest, shortest := 0, most
			for _, text := range texts {
				longest, shortest = max(longest, len(text)), min(shortest, len(text))
				require.Equal(t, text, strings.TrimSpace(text))
				require.Empty(t, strings.Trim(text, base45Alphabet))
			}
			require.LessOrEqual(t, longest, most)
			require.LessOrEqual(t, longest-shortest, 3, "%d: symbols of one size", i)
			texts[0] = strings.ToLower(texts[0]) + "\r\n"
			got, err := gathered(t, texts).Files()
			require.NoError(t, err)
			require.Len(t, got, len(files))
			for k := range files {
				require.Equal(t, files[k].Name, got[k].Name)
				require.True(t, bytes.Equal(files[k].Data, got[k].Data))
			}
		}
	}
}

// Why a dictionary: it must save what it costs to keep for ever.
func TestDictionarySaves(t *testing.T) {
	for _, shop := range []string{"saltmarsh", "prairie"} {
		files := demoFiles(t, shop)
		with, err := compress(files)
		require.NoError(t, err)
		var w bytes.Buffer
		z, _ := flate.NewWriter(&w, flate.BestCompression)
		size := 0
		for _, f := range files {
			z.Write(f.Data)
			size += len(f.Data)
		}
		z.Close()
		t.Logf("%s: %d bytes, %d without dictionary, %d with", shop, size, w.Len(), len(with))
		require.Less(t, len(with), w.Len()*3/4)
	}
}

// Symbols as this version printed them, kept: every later version reads them.
func TestSymbolsOfEveryVersion(t *testing.T) {
	data, err := os.ReadFile("testdata/symbols-1.txt")
	require.NoError(t, err)
	g := gathered(t, strings.Split(strings.TrimSuffix(string(data), "\n"), "\n"))
	files, err := g.Files()
	require.NoError(t, err)
	require.Equal(t, Part{Number: "26-0412-B", Document: Report, Total: 3, Set: g.first.Set}, g.Set())
	require.Equal(t, "intake.yaml", files[0].Name)
	require.Equal(t, "intake: 1\nreceived: 2026-10-05\nby: R.T.\ncustomer: {name: Käthe Example, reference: no. 3}\n", string(files[0].Data))
	require.Equal(t, "readings.yaml", files[1].Name)
	require.Equal(t, "form: 1\njob: 26-0412-B\nedition: 1\nH1a: 3.33\nH1b: 3.34 (face scored)\nG1: 9.80 !\n", string(files[1].Data))
}

func TestGatherTellsSymbolsApart(t *testing.T) {
	files := demoFiles(t, "saltmarsh")[:1]
	pack := func(number string, document byte, files []File) []string {
		texts, err := Pack(number, document, files, 90)
		require.NoError(t, err)
		require.Greater(t, len(texts), 4)
		return texts
	}
	texts := pack("26-0412-B", Traveller, files)
	n := len(texts)
	g := &Gather{}
	require.Equal(t, "no job symbol read", g.String())
	require.False(t, g.Complete())
	require.Nil(t, g.Missing())
	require.Equal(t, Part{}, g.Set())
	_, err := g.Files()
	require.ErrorContains(t, err, "no job symbol read")

	fresh, err := g.Add(texts[1])
	require.NoError(t, err)
	require.True(t, fresh)
	fresh, err = g.Add(texts[1])
	require.NoError(t, err)
	require.False(t, fresh)
	require.Equal(t, "26-0412-B", g.Set().Number)
	require.Equal(t, n-1, len(g.Missing()))

	other := pack("26-0413-9", Traveller, files)
	_, err = g.Add(other[0])
	require.ErrorIs(t, err, ErrOtherSet)
	require.ErrorContains(t, err, "belongs to job 26-0413-9, not to 26-0412-B")
	_, err = g.Add(pack("26-0412-B", Report, files)[0])
	require.ErrorIs(t, err, ErrOtherSet)
	require.ErrorContains(t, err, "is printed on its report, the ones before on its packet")
	_, err = g.Add(pack("26-0412-B", Traveller, []File{{files[0].Name, append([]byte("#"), files[0].Data...)}})[0])
	require.ErrorIs(t, err, ErrOtherSet)
	require.ErrorContains(t, err, "of another printing")
	longer, err := Pack("26-0412-B", Traveller, files, 200)
	require.NoError(t, err)
	_, err = g.Add(longer[0])
	require.ErrorIs(t, err, ErrOtherSet)
	_, err = g.Add("https://example.org/")
	require.ErrorIs(t, err, ErrForeign)
	_, err = g.Add(Page{Number: "26-0412-B", Document: Traveller, Page: 7}.Symbol())
	require.ErrorContains(t, err, "names job 26-0412-B but holds nothing of it")
	require.Equal(t, n-1, len(g.Missing()), "an error changes nothing")

	for i, text := range texts {
		if i != 2 && i != 0 && i != n-1 {
			_, err = g.Add(text)
			require.NoError(t, err)
		}
	}
	require.Equal(t, fmt.Sprintf("1, 3 and %d of %d missing", n, n), g.String())
	_, err = g.Files()
	require.ErrorContains(t, err, "1, 3 and")
	for _, i := range []int{0, 2, n - 1} {
		require.False(t, g.Complete())
		_, err = g.Add(texts[i])
		require.NoError(t, err)
	}
	require.True(t, g.Complete())
	require.Equal(t, fmt.Sprintf("all %d read", n), g.String())
}

// Every single wrong character of a job symbol is noticed at once (a CRC-32
// finds every burst of up to 32 bits), and so is every pair of neighbours swapped.
func TestMisreadSymbolsAreRefused(t *testing.T) {
	texts, err := Pack("26-0412-B", Traveller, demoFiles(t, "saltmarsh")[:1], 200)
	require.NoError(t, err)
	for _, text := range texts {
		b := []byte(text)
		for i := range b {
			for j := range base45Alphabet {
				if b[i] = base45Alphabet[j]; b[i] != text[i] {
					if _, err := read(string(b)); err == nil {
						t.Fatalf("%q read for %q", b, text)
					}
				}
			}
			b[i] = text[i]
			if i > 0 && b[i] != b[i-1] {
				b[i], b[i-1] = b[i-1], b[i]
				_, err := read(string(b))
				require.Error(t, err)
				b[i], b[i-1] = b[i-1], b[i]
			}
			_, err := read(text[:i] + text[i+1:])
			require.Error(t, err)
		}
	}
	// The CRC is the common one. Source: the check value of CRC-32 (ISO-HDLC) for
	// "123456789", CBF43926, as in Williams' "A painless guide to CRC error
	// detection algorithms".
	require.Equal(t, uint32(0xCBF43926), crc32.ChecksumIEEE([]byte("123456789")))
}

// Job symbols through keyboards: they come back, or are refused.
func TestJobSymbolsThroughKeyboards(t *testing.T) {
	published := boards(t)
	var texts []string
	for _, shop := range []string{"saltmarsh", "prairie"} {
		list, err := Pack("26-0412-B", Traveller, demoFiles(t, shop), 300)
		require.NoError(t, err)
		texts = append(texts, list...)
	}
	for _, s := range layouts {
		for _, c := range layouts {
			for _, l := range []lock{off, letters, all} {
				for _, windows := range []bool{false, true} {
					if windows && c.name != "German" {
						continue
					}
					k := newKeyboard(published[s.name], published[c.name], l, windows)
					refused := 0
					for _, text := range texts {
						scan, err := Read(k.typed(t, text))
						if err != nil {
							refused++
							continue
						}
						require.Equal(t, text, scan.text())
					}
					if c.name == "German" && s.name != "German" {
						t.Logf("%s scanner, %s computer, lock %d, Windows %v: %d of %d refused", s.name, c.name, l, windows, refused, len(texts))
						continue // the + is a dead accent there
					}
					require.Zero(t, refused, "%s scanner, %s computer, lock %d", s.name, c.name, l)
				}
			}
		}
	}
}

func TestPackRefuses(t *testing.T) {
	file := func(names ...string) (files []File) {
		for _, name := range names {
			files = append(files, File{name, []byte("x")})
		}
		return files
	}
	noise := make([]byte, 200_000)
	rand.New(rand.NewSource(2)).Read(noise)
	for says, c := range map[string]struct {
		number   string
		document byte
		files    []File
		most     int
	}{
		"cannot be right":       {"26-0412-C", Traveller, file("a"), 600},
		"document 'X'":          {"26-0412-B", 'X', file("a"), 600},
		"0 files":               {"26-0412-B", Traveller, nil, 600},
		"17 files":              {"26-0412-B", Traveller, file(strings.Split("abcdefghijklmnopq", "")...), 600},
		`"../etc/passwd"`:       {"26-0412-B", Traveller, file("../etc/passwd"), 600},
		`".hidden"`:             {"26-0412-B", Traveller, file(".hidden"), 600},
		`"a..b"`:                {"26-0412-B", Traveller, file("a..b"), 600},
		`"a/b"`:                 {"26-0412-B", Traveller, file("a/b"), 600},
		`"a\\b"`:                {"26-0412-B", Traveller, file(`a\b`), 600},
		`"a\nb"`:                {"26-0412-B", Traveller, file("a\nb"), 600},
		`"a\n"`:                 {"26-0412-B", Traveller, file("a\n"), 600},
		`""`:                    {"26-0412-B", Traveller, file(""), 600},
		"two files are named A": {"26-0412-B", Traveller, file("a", "A"), 600},
		"more than 3 MiB":       {"26-0412-B", Traveller, []File{{"a", make([]byte, mostBytes)}, {"b", []byte{1}}}, 600},
		"hold no symbol":        {"26-0412-B", Traveller, file("a"), 28},
		"99 can be counted":     {"26-0412-B", Traveller, []File{{"a", noise}}, 600},
	} {
		_, err := Pack(c.number, c.document, c.files, c.most)
		require.ErrorContains(t, err, says)
	}
}

// forged makes the symbols of a stream that these commands would not make,
// every checksum right.
func forged(body []byte, files []File) []string {
	stream := append(digest("26-0412-B", Traveller, files), body...)
	total := 3 + len(stream)/1500
	var texts []string
	for i := range total {
		texts = append(texts, Part{Number: "26-0412-B", Document: Traveller, Index: i + 1, Total: total, Set: setID(stream),
			chunk: stream[i*len(stream)/total : (i+1)*len(stream)/total]}.Symbol())
	}
	return texts
}

func deflated(t testing.TB, plain []byte) []byte {
	var w bytes.Buffer
	z, err := flate.NewWriterDict(&w, flate.BestCompression, dictionary)
	require.NoError(t, err)
	_, err = z.Write(plain)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return w.Bytes()
}

// list writes files as the body of a set has them, whatever they are.
func list(files ...File) []byte {
	b := binary.AppendUvarint(nil, uint64(len(files)))
	for _, f := range files {
		b = append(binary.AppendUvarint(b, uint64(len(f.Name))), f.Name...)
		b = append(binary.AppendUvarint(b, uint64(len(f.Data))), f.Data...)
	}
	return b
}

func TestForgedSetsAreRefused(t *testing.T) {
	good := File{"intake.yaml", []byte("intake: 1\n")}
	for name, c := range map[string]struct {
		body []byte
		says string
	}{
		"bomb":            {deflated(t, make([]byte, 64<<20)), "more than 3 MiB"},
		"bomb in a file":  {deflated(t, list(File{"a", make([]byte, mostBytes+1)})), "list of files is broken"},
		"cut":             {deflated(t, list(good))[:5], "cannot be expanded"},
		"no deflate":      {[]byte("\xff\xff\xff\xff\xff"), "cannot be expanded"},
		"more after it":   {append(deflated(t, list(good)), 0), "something follows its end"},
		"nothing":         {deflated(t, nil), "list of files is broken"},
		"no file":         {deflated(t, []byte{0}), "list of files is broken"},
		"count too large": {deflated(t, binary.AppendUvarint(nil, 1<<63)), "list of files is broken"},
		"size too large":  {deflated(t, append([]byte{1, 1, 'a'}, binary.AppendUvarint(nil, 1<<63)...)), "list of files is broken"},
		"endless varint":  {deflated(t, bytes.Repeat([]byte{0xFF}, 20)), "list of files is broken"},
		"rest":            {deflated(t, append(list(good), 'x')), "list of files is broken"},
		"path":            {deflated(t, list(File{"../../x", nil})), `file name "../../x"`},
		"absolute":        {deflated(t, list(File{"/etc/passwd", nil})), "file name"},
		"control":         {deflated(t, list(File{"a\x1b[2J", nil})), "file name"},
		"twice":           {deflated(t, list(good, good)), "two files are named"},
		"long name":       {deflated(t, list(File{strings.Repeat("a", 65), nil})), "file name"},
		"other contents":  {deflated(t, list(File{"intake.yaml", []byte("intake: 2\n")})), "checksum does not fit"},
	} {
		files, err := gathered(t, forged(c.body, []File{good})).Files()
		require.ErrorContains(t, err, c.says, name)
		require.ErrorContains(t, err, "job symbols of 26-0412-B: every symbol reads well, but their whole cannot be trusted", name)
		require.Nil(t, files, name)
	}
	files, err := gathered(t, forged(deflated(t, list(good)), []File{good})).Files()
	require.NoError(t, err)
	require.Equal(t, []File{good}, files)

	// Symbols of two packings under one name: the name of the set tells.
	texts := forged(deflated(t, list(good)), []File{good})
	first, err := parsePart(texts[0])
	require.NoError(t, err)
	first.chunk = append([]byte(nil), first.chunk...)
	first.chunk[0]++
	_, err = gathered(t, []string{first.Symbol(), texts[1], texts[2]}).Files()
	require.ErrorContains(t, err, "not the set that its symbols name")
	g := gathered(t, texts)
	_, err = g.Add(first.Symbol())
	require.ErrorContains(t, err, "says something else than the one scanned before")

	for _, p := range []Part{{Number: "26-0412-B", Index: 4, Total: 3}, {Number: "26-0412-B", Index: 0, Total: 3}, {Number: "26-0412-C", Index: 1, Total: 3}} {
		p.Document, p.Set, p.chunk = Traveller, "01234567", []byte("x")
		_, err := Read(p.Symbol())
		require.ErrorContains(t, err, "not made by these commands")
	}
}

func FuzzGather(f *testing.F) {
	good := File{"intake.yaml", []byte("intake: 1\n")}
	for _, body := range [][]byte{list(good), list(good, File{"spec.yaml", []byte("spec: 1\n")}), {0}, list(File{"../x", nil})} {
		f.Add(deflated(f, body))
	}
	f.Add([]byte("\xff\xff"))
	f.Fuzz(func(t *testing.T, body []byte) {
		if len(body) > 5000 {
			return
		}
		// The digest is that of the files where there are some, so that the list of
		// files itself is tried.
		files, _ := expand(body)
		got, err := gathered(t, forged(body, files)).Files()
		if err != nil {
			return
		}
		size := 0
		for i, x := range got {
			require.Regexp(t, fileName, x.Name)
			require.True(t, bytes.Equal(files[i].Data, x.Data))
			size += len(x.Data)
		}
		require.LessOrEqual(t, size, mostBytes)
		texts, err := Pack("26-0412-B", Traveller, got, 900)
		require.NoError(t, err)
		again, err := gathered(t, texts).Files()
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}
