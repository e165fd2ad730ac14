package quiz

import (
	"fmt"
	"image"
	"math"
	"strconv"
	"strings"
)

const (
	cardColumn = 78.0 // mm of paper for the questions, at the right
	cardGap    = 6.0
	askSize    = 11.0 // points
)

// desk is what all pages of an exam share.
func (m *making) desk(title string) desk {
	if m.x.Title != "" {
		title = m.x.Title + ": " + title
	}
	return newDesk(Request{Kind: Exam, Title: title, Paper: m.x.Paper, Respect: m.x.Respect}, m.slip.Code)
}

// card lays out the card of a station: the picture, flattened, and the questions with room for answers beside it.
func (m *making) card(n int, s doneStation) *page {
	d := m.desk(fmt.Sprintf("station %d", n+1))
	if m.x.Title == "" {
		d.r.Title = fmt.Sprintf("Station %d", n+1)
	}
	p := d.newPage(fmt.Sprintf("Station %d of %d  ·  %d seconds  ·  picture %s", n+1, len(m.x.Stations), s.Seconds, s.Code), s.view.synthetic())
	body := d.body()
	room := area{body.X, body.Y, body.W - cardColumn - cardGap, body.H - 7}
	var ratio float64
	trial := &page{W: p.W, H: p.H}
	ratio, _ = s.view.put(trial, s.Station, room)
	p.flatNow(room, trial, n)
	if !s.Picture.NoBar {
		sheet{face: s.view.face, run: s.view.run}.scaleBar(p, ratio, spot{room.X, body.bottom() - 1})
	}
	s.questions(p, area{body.right() - cardColumn, body.Y, cardColumn, body.H})
	return p
}

// flatNow is flat with the pixels painted at once, as dense as a PDF holds them, so that no photograph is held until the
// page is written. The nth is n pixels wider, since a PDF wants no two pictures of one width (see inkPDF.picture).
func (p *page) flatNow(a area, inner *page, n int) {
	const per = pictureDots / 25.4
	w := math.Round(a.W*per) + float64(n)
	x := newPixels(int(w), int(math.Round(w*a.H/a.W)), a)
	for _, d := range inner.draw {
		d(x)
	}
	p.do(func(b brush) { b.picture(a, func(int, int) *image.RGBA { return x.m }) })
}

// questions sets the questions of a station into a column.
func (s doneStation) questions(p *page, a area) {
	row := askSize * mmPerPoint * lineHeight
	y := a.Y + row
	for _, ask := range s.Asks {
		for _, q := range ask.Questions {
			indent := 9.0
			if q.Form != Pointed {
				p.numbered(spot{a.X + 3.3, y - 1.4}, headRadius*0.9, ask.Letter)
			}
			for _, line := range wrap(regular, askSize, a.W-indent, q.Text) {
				p.text(spot{a.X + indent, y}, regular, askSize, black, line)
				y += row
			}
			p.text(spot{a.X + indent, y}, italic, 8, grey, marksWords(q.Marks))
			y += row
			switch q.Form {
			case Choice:
				for _, o := range q.Options {
					box := area{a.X + indent, y - 3.1, 3.4, 3.4}
					p.do(func(b brush) { b.line(box.corners(), true, 0.3, black) })
					for _, line := range wrap(regular, askSize-1, a.W-indent-6, o) {
						p.text(spot{a.X + indent + 6, y}, regular, askSize-1, black, line)
						y += row
					}
					y += 0.8
				}
			case Pointed:
				p.text(spot{a.X + indent, y}, italic, 8, grey, "Put a cross on the picture.")
				y += row
			default:
				for range 2 {
					y += 3.5
					p.line(spot{a.X + indent, y}, spot{a.right(), y}, 0.25, grey)
					y += row
				}
			}
			y += 3
		}
	}
}

func marksWords(n float64) string {
	words := strconv.FormatFloat(n, 'f', -1, 64) + " marks"
	if n == 1 {
		words = "1 mark"
	}
	return words
}

var examKeyColumns = []column{{"No.", 9}, {"Marker", 11}, {"Question", 62}, {"Answer", 48}, {"Also accepted", 62}, {"Picture", 50}, {"Marks", 11}}

// keyPages lays out the answer key.
func (m *making) keyPages() []*page {
	d := m.desk("answer key")
	if m.x.Title == "" {
		d.r.Title = "Answer key"
	}
	var rows [][]string
	synthetic := false
	for i, s := range m.done {
		synthetic = synthetic || s.view.synthetic()
		for _, a := range s.Asks {
			for _, q := range a.Questions {
				also := q.Accept
				if len(q.Half) > 0 {
					also = append([]string{}, q.Half...)
					for k := range also {
						also[k] += " (half)"
					}
				}
				answer := q.Answer
				if q.Form == Pointed {
					answer = "its outline, " + s.shows()
				}
				rows = append(rows, []string{strconv.Itoa(i + 1), a.Letter, q.Text, answer, strings.Join(without(also, q.Answer), "; "), s.shows() + ", " + s.Code,
					strconv.FormatFloat(q.Marks, 'f', -1, 64)})
			}
		}
	}
	about := fmt.Sprintf("%d stations  ·  %s  ·  Keep apart from the pictures.", len(m.done), marksWords(m.x.Marks()))
	return d.tablePages("Answers", "", about, synthetic, examKeyColumns, rows)
}

func without(list []string, x string) (out []string) {
	for _, s := range list {
		if s != x {
			out = append(out, s)
		}
	}
	return out
}
