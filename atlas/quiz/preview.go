package quiz

import (
	"context"
	"errors"
	"image"
	"math"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
)

// ErrRefused says that a request cannot be met as it is; Sentence tells why.
var ErrRefused = errors.New("quiz: cannot be handed out")

// previewCode stands where the hand-out code of a released page will.
const previewCode = "--------"

// Preview paints the first page of a request, height pixels high, without releasing or recording anything. A request
// that would be refused fails with ErrRefused and the sentence that a slip would hold; reasons for labels left out
// come back beside the page.
func Preview(ctx context.Context, lib *atlas.Library, terms *annotate.Terms, r Request, height int) (*image.RGBA, []LeftOut, error) {
	j := &job{lib: lib, terms: terms, r: r, today: time.Now(), donors: map[string]atlas.Donor{}}
	j.slip = Slip{Code: previewCode}
	p, err := j.firstPage(ctx)
	var no refusal
	var denied *atlas.Refusal
	switch {
	case errors.As(err, &no):
		return nil, j.slip.LeftOut, &refused{string(no)}
	case errors.As(err, &denied):
		return nil, j.slip.LeftOut, &refused{denied.Sentence}
	case err != nil:
		return nil, nil, err
	}
	height = min(max(height, 1), 8000)
	b := newPixels(max(1, int(math.Round(p.W/p.H*float64(height)))), height, area{0, 0, p.W, p.H})
	p.paint(b)
	return b.m, j.slip.LeftOut, nil
}

// firstPage lays out the page that would be released first.
func (j *job) firstPage(ctx context.Context) (*page, error) {
	if err := j.gather(ctx); err != nil {
		return nil, err
	}
	d := newDesk(j.r, j.slip.Code)
	if j.r.Kind == Exam {
		pages, err := j.examPages(d)
		if err != nil {
			return nil, err
		}
		return pages[0], nil
	}
	s := j.sheets[0]
	return d.studyPages(*s, s.practiceMaterial(j.donors))[0], nil
}

// refused is ErrRefused with the sentence to show.
type refused struct{ sentence string }

func (r *refused) Error() string { return "quiz: " + r.sentence }
func (r *refused) Unwrap() error { return ErrRefused }

// Sentence is what a refused request is answered with, "" for other errors.
func Sentence(err error) string {
	var r *refused
	if errors.As(err, &r) {
		return r.sentence
	}
	return ""
}
