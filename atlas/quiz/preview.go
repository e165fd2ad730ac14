package quiz

import (
	"context"
	"errors"
	"image"
	"math"

	"sectionary/annotate"
	"sectionary/atlas"
)

// previewCode stands where the hand-out code of a released page will.
const previewCode = "--------"

// Preview paints the first page of a request, height pixels high, without releasing or recording anything. A request
// that would be refused fails with an error whose Sentence a slip would hold; reasons for labels left out come back
// beside the page.
func Preview(ctx context.Context, lib *atlas.Library, terms *annotate.Terms, r Request, height int) (*image.RGBA, []LeftOut, error) {
	j := newJob(lib, terms, r)
	j.slip.Code = previewCode
	pages, err := j.firstPages(ctx)
	if err != nil {
		return nil, j.slip.LeftOut, err
	}
	p := pages[0]
	height = min(max(height, 1), 8000)
	b := newPixels(max(1, int(math.Round(p.W/p.H*float64(height)))), height, area{0, 0, p.W, p.H})
	p.paint(b)
	return b.m, j.slip.LeftOut, nil
}

// firstPages lays out the pages that would be released.
func (j *job) firstPages(ctx context.Context) ([]*page, error) {
	if err := j.gather(ctx); err != nil {
		return nil, err
	}
	return j.pages(newDesk(j.r, j.slip.Code))
}

// Sentence is what a refused request is answered with, "" for errors that are no refusal.
func Sentence(err error) string {
	var no refusal
	var denied *atlas.Refusal
	switch {
	case errors.As(err, &no):
		return string(no)
	case errors.As(err, &denied):
		return denied.Sentence
	}
	return ""
}
