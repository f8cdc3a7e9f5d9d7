// Package pictures reads the code symbols (QR, ISO/IEC 18004) out of what a
// phone, a flatbed scanner or another program gives: a picture or a PDF. It
// knows nothing of jobs; what the texts mean is package codes' business.
//
// A symbol may be turned by any angle, tilted, unevenly lit, blurred, stained
// or thresholded by a copier, and a picture may hold many. Where the symbols
// lie is found here: finder patterns by the distances between like edges,
// which neither blur nor toner spread moves, then a projection fitted to the
// patterns every symbol of a size has in common. The bits are corrected and
// turned into text by gozxing, a port of ZXing, whose own search wants clean
// pictures.
//
// A PDF is drawn by pdfium, compiled to WebAssembly and run inside this
// process by wazero: a sandbox without files or network, its memory and time
// limited. The translated program is kept in the user's cache directory
// (22 MB): 0.2 s to start instead of 4 s. The same library takes out a PDF's
// attachments.
package pictures

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/gif"  // formats that scanners and phones save
	_ "image/jpeg" //
	_ "image/png"  //
	"strings"
	"time"

	_ "golang.org/x/image/bmp"
	_ "golang.org/x/image/tiff"
	_ "golang.org/x/image/webp"
)

const (
	maxPixels = 50_000_000 // of a picture
	maxDeep   = 25_000_000 // of one that takes twice the memory: 16 bits a colour, or a progressive JPEG
)

// patience is the time for one picture. The tests have more: they share the machine.
var patience = 10 * time.Second

// ErrTime comes with what was found when time ran out before all was searched.
var ErrTime = errors.New("time ran out before all of it was searched; what is missing, give as a picture of its page")

// Found is one symbol of a picture.
type Found struct {
	// Text is the symbol's content byte by byte, as it was encoded.
	Text string
	// Page of a PDF, from 1; 0 in a picture.
	Page int
}

// Read finds every code symbol in a picture (PNG, JPEG, GIF, TIFF, BMP, WebP,
// up to 50 megapixels) or in the pages of a PDF (up to 100), in reading order. A
// text that occurs twice on a page is given once. name is the file's, for
// errors. A picture without a symbol is an error that says what to do.
func Read(name string, data []byte) ([]Found, error) {
	if IsPDF(data) {
		return readPDF(name, data)
	}
	deadline := time.Now().Add(patience)
	g, err := decode(name, data)
	if err != nil {
		return nil, err
	}
	texts, late := search(g, deadline)
	var found []Found
	for _, text := range texts {
		found = append(found, Found{Text: text})
	}
	switch {
	case late:
		return found, fmt.Errorf("%s: %w", name, ErrTime)
	case found == nil:
		return nil, fmt.Errorf("%s: no code symbol found; take it again nearer, flatter, sharp and in more light, with the white margin around the symbol, or type the number beside it", name)
	}
	return found, nil
}

// decode reads a picture's brightness.
func decode(name string, data []byte) (gray, error) {
	if len(data) == 0 {
		return gray{}, fmt.Errorf("%s: the file is empty; copy it from the phone or scanner again", name)
	}
	c, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return gray{}, fmt.Errorf("%s: %s", name, kind(data))
	}
	if c.Width <= 0 || c.Height <= 0 || c.Width > maxPixels/c.Height {
		return gray{}, fmt.Errorf("%s: %d × %d dots, more than %d megapixels; scan at 300 dpi, or save the picture smaller", name, c.Width, c.Height, maxPixels/1_000_000)
	}
	if c.Width > maxDeep/c.Height && (c.ColorModel == color.NRGBA64Model || c.ColorModel == color.RGBA64Model || progressive(data)) {
		return gray{}, fmt.Errorf("%s: %d × %d dots, more than %d megapixels with 16 bits a colour or as a progressive JPEG; save it with 8 bits, as an ordinary JPEG, or smaller", name, c.Width, c.Height, maxDeep/1_000_000)
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return gray{}, fmt.Errorf("%s: the picture is damaged or cut short (%v); copy it from the phone or scanner again", name, err)
	}
	return grayOf(img), nil
}

// progressive reports whether a JPEG is kept as a whole while it is decoded: the
// first frame header is SOF2 (ISO/IEC 10918-1, B.1.1.3).
func progressive(data []byte) bool {
	if !bytes.HasPrefix(data, []byte("\xff\xd8")) {
		return false
	}
	for data = data[2:]; len(data) >= 4 && data[0] == 0xff; {
		switch data[1] {
		case 0xc0, 0xc1:
			return false
		case 0xc2:
			return true
		}
		n := 2 + int(data[2])<<8 + int(data[3])
		if data[1] == 0xff { // filling
			n = 1
		}
		data = data[min(n, len(data)):]
	}
	return false
}

// kind says what a file is that is no picture read here, and what to do.
func kind(data []byte) string {
	if len(data) >= 12 && string(data[4:8]) == "ftyp" {
		if brand := string(data[8:12]); strings.HasPrefix(brand, "hei") || strings.HasPrefix(brand, "hev") || brand == "mif1" || brand == "msf1" || brand == "avif" {
			return "a HEIC or AVIF picture, which is not read here; save it as JPEG"
		}
	}
	return "not a picture or PDF; give a PNG, JPEG, TIFF, GIF, BMP or WebP picture, or a PDF"
}
