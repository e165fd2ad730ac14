package quiz

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"

	"codeberg.org/go-pdf/fpdf"

	"sectionary/slices/photo"
)

const (
	pictureDots    = 300 // per inch, of pictures in a PDF
	pictureQuality = 93
)

// inkPDF is a brush onto the current page of a PDF.
type inkPDF struct {
	f        *fpdf.Fpdf
	pictures int
	widths   map[int]bool // of the pictures so far, in pixels
}

// writePDF writes pages as one PDF. The same pages give the same bytes; no date but Neutral, no names.
func writePDF(w io.Writer, pages []*page) error {
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: pages[0].W, Ht: pages[0].H}})
	f.SetCatalogSort(true)
	f.SetCreationDate(Neutral)
	f.SetModificationDate(Neutral)
	f.SetProducer("Sectionary", false)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	f.SetLineJoinStyle("round")
	f.SetLineCapStyle("round")
	for i, ttf := range typefaces {
		f.AddUTF8FontFromBytes(family(style(i)), "", ttf)
	}
	b := &inkPDF{f: f, widths: map[int]bool{}}
	for _, p := range pages {
		f.AddPageFormat("", fpdf.SizeType{Wd: p.W, Ht: p.H})
		p.paint(b)
	}
	if err := f.Output(w); err != nil {
		return fmt.Errorf("quiz: writing a PDF: %w", err)
	}
	return nil
}

func family(st style) string { return [...]string{"regular", "bold", "italic"}[st] }

func (b *inkPDF) text(at spot, st style, size float64, c color.RGBA, s string) {
	b.f.SetFont(family(st), "", size)
	b.f.SetTextColor(int(c.R), int(c.G), int(c.B))
	b.f.Text(at.X, at.Y, s)
}

func (b *inkPDF) line(pts []spot, closed bool, width float64, c color.RGBA) {
	if len(pts) < 2 {
		return
	}
	b.f.SetLineWidth(width)
	b.f.SetDrawColor(int(c.R), int(c.G), int(c.B))
	b.path(pts, closed)
	b.f.DrawPath("D")
}

func (b *inkPDF) path(pts []spot, closed bool) {
	b.f.MoveTo(pts[0].X, pts[0].Y)
	for _, p := range pts[1:] {
		b.f.LineTo(p.X, p.Y)
	}
	if closed {
		b.f.ClosePath()
	}
}

func (b *inkPDF) fill(rings [][]spot, c color.RGBA) {
	b.f.SetFillColor(int(c.R), int(c.G), int(c.B))
	for _, r := range rings {
		if len(r) > 2 {
			b.path(r, true)
		}
	}
	b.f.DrawPath("f*")
}

func (b *inkPDF) disc(at spot, radius float64, c color.RGBA) {
	b.f.SetFillColor(int(c.R), int(c.G), int(c.B))
	b.f.Circle(at.X, at.Y, radius, "F")
}

func (b *inkPDF) picture(a area, make func(w, h int) *image.RGBA) {
	const per = pictureDots / 25.4
	w, h := int(math.Round(a.W*per)), int(math.Round(a.H*per))
	if w < 1 || h < 1 {
		return
	}
	// The PDF writer orders pictures by their width, and those of one width by chance: no two may be equally wide, or the
	// same pages would not give the same bytes.
	for b.widths[w] {
		w++
	}
	m := make(w, h)
	b.widths[m.Rect.Dx()] = true
	var file bytes.Buffer
	if err := photo.EncodeJPEG(&file, m, pictureQuality); err != nil {
		b.f.SetError(err)
		return
	}
	b.pictures++
	name := fmt.Sprintf("picture %d", b.pictures)
	options := fpdf.ImageOptions{ImageType: "JPG"}
	b.f.RegisterImageOptionsReader(name, options, &file)
	b.f.ImageOptions(name, a.X, a.Y, a.W, a.H, false, options, 0, "")
}
