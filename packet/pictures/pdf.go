package pictures

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/klippa-app/go-pdfium"
	"github.com/klippa-app/go-pdfium/enums"
	pdferrors "github.com/klippa-app/go-pdfium/errors"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
	"github.com/klippa-app/go-pdfium/webassembly"
	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/experimental"
	"github.com/tetratelabs/wazero/sys"
)

const (
	maxPages    = 100
	maxAttached = 100        // files
	maxTaken    = 1 << 20    // bytes of one that is taken out
	memoryPages = 4 << 10    // of 64 KiB, for pdfium: 256 MiB
	dpi         = 220.       // a page is drawn at, unless it is larger than pageDots allows
	pageDots    = 12_000_000 // of a drawn page
)

// File is an attachment of a PDF.
type File struct {
	Name string
	Data []byte
}

// Attachments gives the files attached to a PDF whose names are wanted, in the
// order of its catalogue, each up to 1 MiB; none is no error. name is the PDF's,
// for errors. Names are what the PDF says, not to be used as paths unchecked.
func Attachments(name string, data []byte, wanted func(string) bool) ([]File, error) {
	var files []File
	err := withPDF(name, data, 1, func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT, _ int, _ time.Time) error {
		count, err := in.FPDFDoc_GetAttachmentCount(&requests.FPDFDoc_GetAttachmentCount{Document: doc})
		if err != nil {
			return err
		}
		if count.AttachmentCount > maxAttached {
			return fmt.Errorf("%d files are attached, more than %d; this is no report of a job", count.AttachmentCount, maxAttached)
		}
		for i := range count.AttachmentCount {
			a, err := in.FPDFDoc_GetAttachment(&requests.FPDFDoc_GetAttachment{Document: doc, Index: i})
			if err != nil {
				return fmt.Errorf("attachment %d: %w", i+1, err)
			}
			name, err := in.FPDFAttachment_GetName(&requests.FPDFAttachment_GetName{Attachment: a.Attachment})
			if err != nil {
				return fmt.Errorf("attachment %d: %w", i+1, err)
			}
			if !wanted(name.Name) {
				continue
			}
			got, err := in.FPDFAttachment_GetFile(&requests.FPDFAttachment_GetFile{Attachment: a.Attachment})
			if err != nil {
				return fmt.Errorf("attachment %q: %w", name.Name, err)
			}
			if len(got.Contents) > maxTaken {
				return fmt.Errorf("the attached %q is larger than %d MiB; this is no report of a job", name.Name, maxTaken>>20)
			}
			files = append(files, File{name.Name, got.Contents})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return files, nil
}

// Pictured are the pages of a PDF, from 1, that are pictures, as a scanner sends
// them: one covers more than half of the page.
func Pictured(name string, data []byte) (map[int]bool, error) {
	out := map[int]bool{}
	err := withPDF(name, data, 1, func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT, pages int, _ time.Time) error {
		for n := range pages {
			page := requests.Page{ByIndex: &requests.PageByIndex{Document: doc, Index: n}}
			size, err := in.GetPageSize(&requests.GetPageSize{Page: page})
			if err != nil {
				return err
			}
			count, err := in.FPDFPage_CountObjects(&requests.FPDFPage_CountObjects{Page: page})
			if err != nil {
				return err
			}
			// A scan is a few pictures, and perhaps the words found in them.
			for i := range count.Count {
				o, err := in.FPDFPage_GetObject(&requests.FPDFPage_GetObject{Page: page, Index: i})
				if err != nil {
					return err
				}
				kind, err := in.FPDFPageObj_GetType(&requests.FPDFPageObj_GetType{PageObject: o.PageObject})
				if err != nil {
					return err
				}
				if kind.Type != enums.FPDF_PAGEOBJ_IMAGE {
					continue
				}
				b, err := in.FPDFPageObj_GetBounds(&requests.FPDFPageObj_GetBounds{PageObject: o.PageObject})
				if err == nil && float64(b.Right-b.Left)*float64(b.Top-b.Bottom) > size.Width*size.Height/2 {
					out[n+1] = true
				}
			}
		}
		return nil
	})
	return out, err
}

// IsPDF tells whether a file is a PDF, by its first bytes.
func IsPDF(data []byte) bool {
	return bytes.Contains(data[:min(len(data), 1024)], []byte("%PDF-"))
}

// readPDF draws each page and searches it.
func readPDF(name string, data []byte) ([]Found, error) {
	var texts [][]string // of the pages drawn
	late := false
	err := withPDF(name, data, 1, func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT, pages int, deadline time.Time) error {
		if pages > maxPages {
			return fmt.Errorf("%d pages, at most %d are read at once; print the pages with the symbols into a PDF of their own", pages, maxPages)
		}
		// One page is drawn while others are searched.
		texts = make([][]string, pages)
		lates := make([]bool, pages)
		searches := make(chan struct{}, runtime.GOMAXPROCS(0))
		var all sync.WaitGroup
		defer func() {
			all.Wait()
			late = slices.Contains(lates, true)
		}()
		for n := range pages {
			g, err := draw(in, doc, n, true)
			if err != nil {
				return fmt.Errorf("page %d: %w", n+1, err)
			}
			searches <- struct{}{}
			all.Go(func() {
				texts[n], lates[n] = search(g, deadline)
				<-searches
			})
		}
		return nil
	})
	if err == nil && late {
		err = fmt.Errorf("%s: %w", name, ErrTime)
	}
	if err != nil && !errors.Is(err, ErrTime) {
		return nil, err
	}
	var found []Found
	for n, page := range texts {
		for _, text := range page {
			found = append(found, Found{text, n + 1})
		}
	}
	if err == nil && found == nil {
		err = fmt.Errorf("%s: no code symbol found on its pages; scan them again at 300 dpi, flat and not as a fax, or type the number beside the symbol", name)
	}
	return found, err
}

// draw draws page n (from 0), with what is laid over it, a stamp say: as it is
// printed, or as a screen shows it.
func draw(in pdfium.Pdfium, doc references.FPDF_DOCUMENT, n int, printed bool) (gray, error) {
	flags := enums.FPDF_RENDER_FLAG_ANNOT
	if printed {
		flags |= enums.FPDF_RENDER_FLAG_PRINTING
	}
	page := requests.Page{ByIndex: &requests.PageByIndex{Document: doc, Index: n}}
	size, err := in.GetPageSize(&requests.GetPageSize{Page: page})
	if err != nil {
		return gray{}, err
	}
	w, h := size.Width/72*dpi, size.Height/72*dpi
	if !(w >= 1 && h >= 1 && w < 1e9 && h < 1e9) {
		return gray{}, fmt.Errorf("a size of %g × %g points; print it again on ordinary paper", size.Width, size.Height)
	}
	if dots := w * h; dots > pageDots {
		w, h = w*math.Sqrt(pageDots/dots), h*math.Sqrt(pageDots/dots)
	}
	got, err := in.RenderPageInPixels(&requests.RenderPageInPixels{
		Page: page, Width: max(1, int(w)), Height: max(1, int(h)), ImageFormat: requests.RenderImageFormatGrayscale,
		RenderFlags: flags, RenderForm: true, Document: &doc,
	})
	if err != nil {
		return gray{}, err
	}
	defer got.Cleanup()
	m, ok := got.Result.RenderedImage.(*image.Gray)
	if !ok {
		return gray{}, errors.New("was not drawn")
	}
	return grayOf(m), nil
}

// engine is pdfium, started once in a process and kept.
var engine = sync.OnceValues(func() (pdfium.Pool, error) {
	c := wazero.NewRuntimeConfig().
		WithCoreFeatures(api.CoreFeaturesV2 | experimental.CoreFeaturesExceptionHandling).
		WithCloseOnContextDone(true).
		WithMemoryLimitPages(memoryPages)
	if dir, err := os.UserCacheDir(); err == nil {
		// Without a place to keep it pdfium is translated anew each time: slower, no worse.
		if cache, err := wazero.NewCompilationCacheWithDir(filepath.Join(dir, "shimcard", "pdfium")); err == nil {
			c = c.WithCompilationCache(cache)
		}
	}
	// All of its memory from the beginning: growing would copy it, and hold both. What
	// is not used the machine does not give.
	ctx := experimental.WithMemoryAllocator(context.Background(), experimental.MemoryAllocatorFunc(
		func(_, _ uint64) experimental.LinearMemory { return taken }))
	return webassembly.Init(webassembly.Config{
		Context: ctx, MaxTotal: 2, RuntimeConfig: c, FSConfig: wazero.NewFSConfig(), Stdout: io.Discard, Stderr: io.Discard,
	})
})

// taken is the memory for the instance that is being made, by one at a time.
var (
	making sync.Mutex
	taken  memory
)

// memory is an instance's.
type memory []byte

func (m memory) Reallocate(size uint64) []byte {
	if size > uint64(len(m)) {
		return nil
	}
	return m[:size]
}

// Free does nothing: an instance that is ended from outside may still be at work.
// withPDF gives the memory back.
func (memory) Free() {}

// pdfPatience is the time for a PDF: what a picture has for the first page to draw, a
// third of that for each other, and never more than six pictures have.
func pdfPatience(draws int) time.Duration {
	return min(patience+time.Duration(min(max(draws, 1), maxPages)-1)*patience/3, 6*patience)
}

// withPDF opens a PDF in an instance of its own, and ends it when its time is over.
// use is told how many pages there are and when that is; draws says how often it
// draws each. To translate pdfium
// takes a busy machine long, once; that does not count.
func withPDF(name string, data []byte, draws int, use func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT, pages int, deadline time.Time) error) (err error) {
	if !IsPDF(data) {
		return fmt.Errorf("%s: not a PDF", name)
	}
	pool, err := engine()
	if err != nil {
		return fmt.Errorf("%s: a PDF cannot be read on this machine (%w); give a picture of the page", name, err)
	}
	own, err := takeMemory(memoryPages << 16)
	if err != nil {
		return fmt.Errorf("%s: a PDF takes up to %d MiB of memory to read: %w; end other programs, or give a picture of the page", name, memoryPages>>4, err)
	}
	defer own.giveBack() // last of all, when nothing works in it any more
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	making.Lock()
	taken = own
	in, err := pool.GetInstanceWithContext(ctx)
	making.Unlock()
	if err != nil {
		return fmt.Errorf("%s: a PDF cannot be read now: %w", name, err)
	}
	var over atomic.Bool
	late := time.AfterFunc(patience, func() {
		over.Store(true)
		cancel()
		_ = in.Kill()
	})
	defer func() {
		late.Stop()
		var broken *sys.ExitError
		switch {
		case over.Load():
			err = fmt.Errorf("%s: %w", name, ErrTime)
			return
		case err != nil && (errors.As(err, &broken) || strings.Contains(err.Error(), "wasm")):
			// The sandbox has stopped it, and says so over many lines.
			err = fmt.Errorf("%s: a PDF that takes more memory than it is given, or is damaged; give a picture of the page", name)
		}
		_ = in.Close()
	}()
	doc, err := in.OpenDocument(&requests.OpenDocument{File: &data})
	if errors.Is(err, pdferrors.ErrPassword) {
		return fmt.Errorf("%s: locked with a password; print it into a new PDF, or give a picture of the page", name)
	}
	if err != nil {
		return fmt.Errorf("%s: the PDF is damaged or cut short (%w); copy it again, or give a picture of the page", name, err)
	}
	count, err := in.FPDF_GetPageCount(&requests.FPDF_GetPageCount{Document: doc.Document})
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	given := pdfPatience(count.PageCount * draws)
	late.Reset(given)
	if err := use(in, doc.Document, count.PageCount, time.Now().Add(given)); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}
