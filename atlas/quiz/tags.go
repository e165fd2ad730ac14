package quiz

import (
	"fmt"
	"io"
	"math"

	goqr "github.com/piglig/go-qr"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// Tag is one tag for a piece, a container or a shelf. It names no donor.
type Tag struct {
	Code   string         // the item code with its check character; the QR code says the same
	Words  string         // "trunk, slab 9"
	Plane  section.Plane  // of the cut, UnknownPlane for none
	Toward section.Facing // the face the arrow points at, UnknownFacing for no arrow
	Face   string         // that face in the run's own words: "proximal face"
}

// MakeTags describes the tags of some codes. A piece is named by its kind and its place in the run, never by the words
// somebody gave it; a container and a shelf by their names. It fails with atlas.ErrNotFound for a code that nothing has.
func MakeTags(c atlas.Custody, runs []section.Run, codes []string) ([]Tag, error) {
	var out []Tag
	for _, code := range codes {
		if h, ok := c.Holder(code); ok {
			out = append(out, Tag{Code: code, Words: h.Name})
			continue
		}
		p, ok := c.Piece(code)
		if !ok {
			return nil, fmt.Errorf("%w (item %s)", atlas.ErrNotFound, code)
		}
		t := Tag{Code: code, Words: string(p.Kind)}
		for _, r := range runs {
			if r.ID != p.Run || p.Run == "" {
				continue
			}
			of := fmt.Sprintf("slab %d", p.Slab)
			if r.Part != "" {
				of = r.PartWords() + ", " + of
			}
			if t.Words = of; p.Kind != atlas.SlabPiece {
				t.Words = string(p.Kind) + " of " + of
			}
			if t.Plane = r.Plane; p.Kind == atlas.SlabPiece {
				t.Toward = r.Plane.Faces()[0]
				t.Face = t.Toward.String() + " face"
				if r.DirectionWord(t.Toward) != "" {
					t.Face = r.FaceWords(t.Toward)
				}
				if m, ok := r.Median(); ok && m.Slab == p.Slab {
					t.Toward, t.Face = m.Facing, "median face"
				}
			}
		}
		out = append(out, t)
	}
	return out, nil
}

// Tags on a sheet.
const (
	tagColumns = 3
	tagRows    = 8
	tagMargin  = 8.0  // mm of paper left free round all tags
	tagQuiet   = 4    // modules left white round a QR code, ISO/IEC 18004
	tagQR      = 30.0 // mm side of a QR code with its white rim
)

// WriteTags lays tags out on sheets to be cut along their lines, 24 on each, as one PDF.
func WriteTags(w io.Writer, tags []Tag, paper Paper) error {
	var pages []*page
	for i, t := range tags {
		on := i % (tagColumns * tagRows)
		if on == 0 {
			pages = append(pages, upright(paper))
		}
		p := pages[len(pages)-1]
		cell := area{W: (p.W - 2*tagMargin) / tagColumns, H: (p.H - 2*tagMargin) / tagRows}
		cell.X, cell.Y = tagMargin+float64(on%tagColumns)*cell.W, tagMargin+float64(on/tagColumns)*cell.H
		if err := t.put(p, cell); err != nil {
			return err
		}
	}
	if len(pages) == 0 {
		return refusal("No tags were chosen.")
	}
	return writePDF(w, pages)
}

// upright is an empty page, higher than wide.
func upright(paper Paper) *page {
	if paper == Letter {
		return &page{W: 215.9, H: 279.4}
	}
	return &page{W: 210, H: 297}
}

func (t Tag) put(p *page, a area) error {
	p.do(func(b brush) { b.line(a.corners(), true, 0.1, pale) })
	qr := area{a.X + 1.5, a.Y + (a.H-tagQR)/2, tagQR, tagQR}
	if err := qrCode(p, qr, t.Code); err != nil {
		return err
	}
	x, most := qr.right()+1, a.right()-qr.right()-3
	p.textWithin(spot{x, a.Y + 9.5}, most, bold, 17, black, t.Code)
	y := a.Y + 14.5
	lines := wrap(regular, 8.5, most, t.Words)
	if t.Plane != section.UnknownPlane {
		lines = append(lines, t.Plane.String()+" plane")
	}
	for i, line := range lines {
		if i < 3 {
			p.textWithin(spot{x, y}, most, regular, 8.5, black, line)
			y += 3.9
		}
	}
	if t.Toward != section.UnknownFacing {
		t.arrow(p, area{x, a.bottom() - 8.5, most, 6.5})
	}
	return nil
}

// arrow points up out of the tag and names the face it points at.
func (t Tag) arrow(p *page, a area) {
	tip, foot := spot{a.X + 2.2, a.Y}, spot{a.X + 2.2, a.bottom()}
	p.do(func(b brush) {
		b.line([]spot{foot, {tip.X, tip.Y + 2}}, false, 0.7, black)
		b.fill([][]spot{{tip, {tip.X + 1.9, tip.Y + 3.2}, {tip.X - 1.9, tip.Y + 3.2}}}, black)
	})
	p.textWithin(spot{a.X + 5.5, a.Y + 4.6}, a.W-5.5, bold, 8.5, black, t.Face)
}

// qrCode puts a QR code with its white rim into a.
func qrCode(p *page, a area, text string) error {
	q, err := goqr.EncodeText(text, goqr.Medium)
	if err != nil {
		return fmt.Errorf("quiz: the tag %s as a QR code: %w", text, err)
	}
	side := a.W / float64(q.Size()+2*tagQuiet)
	const overlap = 0.02 // mm, so that rows show no seam
	var bars []area
	for y := range q.Size() {
		for x := 0; x < q.Size(); x++ {
			if !q.Module(x, y) {
				continue
			}
			from := x
			for x+1 < q.Size() && q.Module(x+1, y) {
				x++
			}
			bars = append(bars, area{a.X + float64(from+tagQuiet)*side, a.Y + float64(y+tagQuiet)*side, float64(x+1-from) * side, side + overlap})
		}
	}
	p.do(func(b brush) {
		for _, bar := range bars { // one by one: where two overlap, both are black
			b.fill([][]spot{bar.corners()}, black)
		}
	})
	return nil
}

// listPages sets lines of cells under headings over as many upright pages as they need.
type listPages struct {
	paper       Paper
	title, note string
	pages       []*page
	y           float64
}

const (
	listMargin = 16.0
	listRow    = 5.4 // mm from line to line
	listSize   = 9.5 // points
)

func (l *listPages) page() *page { return l.pages[len(l.pages)-1] }

func (l *listPages) width() float64 { return upright(l.paper).W - 2*listMargin }

// room begins a new page unless so many mm are free.
func (l *listPages) room(h float64) {
	if len(l.pages) > 0 && l.y+h <= l.page().H-listMargin-6 {
		return
	}
	p := upright(l.paper)
	p.textWithin(spot{listMargin, listMargin + 5}, l.width(), bold, 15, black, l.title)
	p.textWithin(spot{listMargin, listMargin + 11}, l.width(), regular, 9.5, grey, l.note)
	p.line(spot{listMargin, listMargin + 14}, spot{p.W - listMargin, listMargin + 14}, 0.25, pale)
	l.pages, l.y = append(l.pages, p), listMargin+21
}

func (l *listPages) heading(s string) {
	l.room(4 * listRow)
	l.y += 2
	l.page().textWithin(spot{listMargin, l.y}, l.width(), bold, 11, black, s)
	l.y += listRow + 0.6
}

// lines sets running text.
func (l *listPages) lines(st style, s string) {
	for _, line := range wrap(st, listSize, l.width(), s) {
		l.room(listRow)
		l.page().text(spot{listMargin, l.y}, st, listSize, black, line)
		l.y += listRow
	}
}

// row sets one line of a table; shares are of the width. A cell that is too long goes on below.
func (l *listPages) row(st style, shares []float64, cells ...string) {
	high := 1
	wrapped := make([][]string, len(cells))
	for i, c := range cells {
		wrapped[i] = wrap(st, listSize, shares[i]*l.width()-2, c)
		high = max(high, len(wrapped[i]))
	}
	l.room(float64(high) * listRow)
	x := listMargin
	for i := range cells {
		for k, line := range wrapped[i] {
			l.page().textWithin(spot{x, l.y + float64(k)*listRow*0.85}, shares[i]*l.width()-2, st, listSize, black, line)
		}
		x += shares[i] * l.width()
	}
	l.y += float64(high) * listRow
	if high > 1 {
		l.y -= float64(high-1) * listRow * 0.15
	}
	l.page().line(spot{listMargin, l.y - listRow + 1.7}, spot{l.page().W - listMargin, l.y - listRow + 1.7}, 0.1, pale)
}

// signatures leaves lines to sign on, side by side.
func (l *listPages) signatures(whats ...string) {
	l.room(17)
	l.y += 9
	w := l.width() / float64(len(whats))
	for i, what := range whats {
		x := listMargin + float64(i)*w
		l.page().line(spot{x, l.y}, spot{x + w - 6, l.y}, 0.25, black)
		l.page().text(spot{x, l.y + 3.8}, regular, 7.5, grey, what)
	}
	l.y += 11
}

func (l *listPages) write(w io.Writer) error {
	for i, p := range l.pages {
		p.textRight(spot{p.W - listMargin, p.H - listMargin + 2}, regular, 8, grey, fmt.Sprintf("page %d of %d", i+1, len(l.pages)))
	}
	return writePDF(w, l.pages)
}

// grams writes a mass for people.
func grams(g float64) string {
	if g == 0 {
		return "no mass"
	}
	if g == math.Trunc(g) {
		return fmt.Sprintf("%.0f g", g)
	}
	return fmt.Sprintf("%.1f g", g)
}
