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
	"sync"
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
)

const (
	maxPages        = 100
	pdfPatience     = 30 * time.Second // for one PDF
	maxAttached     = 100              // files
	maxAttachedSize = 1 << 20          // bytes of one
	memoryPages     = 6 << 10          // of 64 KiB, for pdfium: 384 MiB
	dpi             = 220.             // a page is drawn at, unless it is larger than pageDots allows
	pageDots        = 12_000_000       // of a drawn page
)

// File is an attachment of a PDF.
type File struct {
	Name string
	Data []byte
}

// Attachments gives the files attached to a PDF whose names are wanted, in the
// order of its catalogue, of up to 1 MiB each; none is no error. Others are not
// unpacked. name is the PDF's, for errors. Names are what the PDF says, not to be
// used as paths unchecked.
func Attachments(name string, data []byte, wanted func(name string) bool) ([]File, error) {
	var files []File
	err := withPDF(name, data, pdfDeadline(), func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT) error {
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
				return fmt.Errorf("attachment %s: %w", name.Name, err)
			}
			if len(got.Contents) > maxAttachedSize {
				return fmt.Errorf("attachment %s is larger than %d MB; this is no report of a job", name.Name, maxAttachedSize>>20)
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

// IsPDF tells a PDF by its head.
func IsPDF(data []byte) bool {
	return bytes.Contains(data[:min(len(data), 1024)], []byte("%PDF-"))
}

// readPDF draws each page and searches it.
func readPDF(name string, data []byte, deadline time.Time) ([]Found, error) {
	var found []Found
	err := withPDF(name, data, deadline, func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT) error {
		count, err := in.FPDF_GetPageCount(&requests.FPDF_GetPageCount{Document: doc})
		if err != nil {
			return err
		}
		if count.PageCount > maxPages {
			return fmt.Errorf("%d pages, at most %d are read at once; print the pages with the symbols into a PDF of their own", count.PageCount, maxPages)
		}
		// One page is drawn while others are searched.
		texts := make([][]string, count.PageCount)
		searches := make(chan struct{}, runtime.GOMAXPROCS(0))
		var all sync.WaitGroup
		defer all.Wait()
		for n := range count.PageCount {
			g, err := draw(in, doc, n)
			if err != nil {
				return fmt.Errorf("page %d: %w", n+1, err)
			}
			searches <- struct{}{}
			all.Go(func() {
				texts[n], _ = search(g, deadline) // late, withPDF says so
				<-searches
			})
		}
		all.Wait()
		for n, page := range texts {
			for _, text := range page {
				found = append(found, Found{text, n + 1})
			}
		}
		return nil
	})
	if err == nil && found == nil {
		err = fmt.Errorf("%s: no code symbol found on its pages; scan them again at 300 dpi, flat and not as a fax, or type the number beside the symbol", name)
	}
	if err != nil {
		return nil, err
	}
	return found, nil
}

// draw draws page n (from 0).
func draw(in pdfium.Pdfium, doc references.FPDF_DOCUMENT, n int) (gray, error) {
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
		RenderFlags: enums.FPDF_RENDER_FLAG_ANNOT | enums.FPDF_RENDER_FLAG_PRINTING, // a stamp laid over the page is what a reader sees
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
	return webassembly.Init(webassembly.Config{
		MaxTotal: 2, RuntimeConfig: c, FSConfig: wazero.NewFSConfig(), Stdout: io.Discard, Stderr: io.Discard,
	})
})

// pdfDeadline is when one PDF must be done with. To translate pdfium takes a busy
// machine long, once; that does not count.
func pdfDeadline() time.Time {
	_, _ = engine() // withPDF says what went wrong
	return time.Now().Add(pdfPatience)
}

// withPDF opens a PDF in an instance of its own and ends it with the deadline.
func withPDF(name string, data []byte, deadline time.Time, use func(pdfium.Pdfium, references.FPDF_DOCUMENT) error) (err error) {
	if !IsPDF(data) {
		return fmt.Errorf("%s: not a PDF", name)
	}
	pool, err := engine()
	if err != nil {
		return fmt.Errorf("%s: a PDF cannot be read on this machine (%w); give a picture of the page", name, err)
	}
	ctx, cancel := context.WithDeadline(context.Background(), deadline)
	defer cancel()
	in, err := pool.GetInstanceWithContext(ctx)
	if err != nil {
		return fmt.Errorf("%s: a PDF cannot be read now: %w", name, err)
	}
	late := time.AfterFunc(time.Until(deadline), func() { _ = in.Kill() })
	defer func() {
		if !late.Stop() {
			err = fmt.Errorf("%s: takes more than %v to draw and search; give a picture of the page, or print fewer pages into a PDF", name, pdfPatience)
			return
		}
		_ = in.Close()
	}()
	doc, err := in.OpenDocument(&requests.OpenDocument{File: &data})
	if errors.Is(err, pdferrors.ErrPassword) {
		return fmt.Errorf("%s: locked with a password; print it into a new PDF, or give a picture of the page", name)
	}
	if err != nil {
		return fmt.Errorf("%s: the PDF is damaged or cut short (%v); copy it again, or give a picture of the page", name, err)
	}
	if err := use(in, doc.Document); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}
