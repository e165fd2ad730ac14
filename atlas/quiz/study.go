package quiz

import (
	"math"
	"strconv"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// studyPages lays out one face with its names set clear of it, and the table of its structures.
func (d desk) studyPages(s sheet, synthetic bool) []*page {
	p := d.newPage(s.about(Study, d.r.View), synthetic)
	body := d.body()
	room := body
	room.H -= 9 // the scale bar
	n := s.setNames(room, d.r.languages()[0])
	partLeaders(n.placed)
	without := s.number(n.placed, 1, false)
	for i := range without {
		without[i].n = len(s.marks) + 1 + i
	}
	s.face.put(p)
	s.face.outlines(p, append(s.marks, without...))
	for _, x := range n.placed {
		leader(p, x.Leader)
	}
	for _, x := range n.placed {
		n.write(p, x, s.find(x.ID).n)
	}
	for _, m := range without { // no room beside the face: a number on it, and the name in the table
		p.numbered(s.face.paper(m.deep), 2.2, strconv.Itoa(m.n))
	}
	s.edgeLetters(p, d.r.View, n.placed)
	s.scaleBar(p, n.ratio, spot{body.X, body.bottom() - 1})
	s.marks = append(s.marks, without...)
	return append([]*page{p}, d.tablePages("Structures", "", s.about(Study, d.r.View), synthetic, studyColumns(d.r.languages()), s.studyRows(d.r.languages()))...)
}

// names are the names of a face as they were set.
type names struct {
	lines  map[string][]string
	placed []annotate.Placed
	ratio  float64 // of the face
}

const (
	nameRow   = nameSize * mmPerPoint * lineHeight
	numberGap = 5.0 // mm from a name's number to the name
)

// setNames tries names on one line and broken into several, and keeps what shows most names on the largest face.
func (s sheet) setNames(room area, l Language) (best names) {
	size := 0.0
	for _, most := range []float64{62, 34} {
		n, wide, high := names{lines: map[string][]string{}}, 0.0, 0.0
		boxes := make([]annotate.NameBox, len(s.marks))
		for i, m := range s.marks {
			lines := wrap(regular, nameSize, most, m.fullName(l))
			w := 0.0
			for _, line := range lines {
				w = math.Max(w, width(regular, nameSize, line))
			}
			n.lines[m.label.ID] = lines
			boxes[i] = annotate.NameBox{ID: m.label.ID, W: w + numberGap + 1, H: float64(len(lines))*nameRow + 1.2}
			wide, high = math.Max(wide, boxes[i].W), math.Max(high, boxes[i].H)
		}
		n.ratio = s.face.fit(inner(room, wide, high))
		for i, m := range s.marks {
			boxes[i].At = geom.Px(s.face.paper(m.deep))
		}
		n.placed, _ = annotate.Place(boxes, s.outline(), box(room))
		if best.lines == nil || len(n.placed) > len(best.placed) || (len(n.placed) == len(best.placed) && s.face.per > size) {
			best, size = n, s.face.per
		}
	}
	s.face.fitTo(size, room)
	return best
}

// inner is what the columns of boxes so wide and high leave of a room for a face with its edge letters. Between
// column and face annotate.Place keeps about two box heights free for the bends of leaders.
func inner(room area, wide, high float64) area {
	side := letterRoom + wide + 2.1*high
	return area{room.X + side, room.Y + letterRoom, room.W - 2*side, room.H - 2*letterRoom}
}

// write puts a name and its number into its place.
func (n names) write(p *page, x annotate.Placed, number int) {
	y := x.Box.Min.Y + 0.6 + nameSize*mmPerPoint*0.92
	p.text(spot{x.Box.Min.X + 0.5, y}, bold, nameSize-1.5, grey, strconv.Itoa(number))
	for i, line := range n.lines[x.ID] {
		p.text(spot{x.Box.Min.X + numberGap, y + float64(i)*nameRow}, regular, nameSize, black, line)
	}
}

// leader draws a line to a place, with a light rim and a dot at its end.
func leader(p *page, pts []geom.Px) {
	if len(pts) < 2 {
		return
	}
	line := make([]spot, len(pts))
	for i, q := range pts {
		line[i] = spot(q)
	}
	tip := line[len(line)-1]
	p.do(func(b brush) {
		b.line(line, false, leaderLine+0.45, paperWhite)
		b.line(line, false, leaderLine, black)
		b.disc(tip, 0.75, paperWhite)
		b.disc(tip, 0.5, black)
	})
}

// outline is what names must stand clear of: the picture and its edge letters, on paper.
func (s sheet) outline() []annotate.Polygon {
	var ring []geom.Px
	for _, c := range s.face.at.inset(-letterRoom).corners() {
		ring = append(ring, geom.Px(c))
	}
	return []annotate.Polygon{{Outer: ring}}
}

func box(a area) annotate.Box {
	return annotate.Box{Min: geom.Px{X: a.X, Y: a.Y}, Max: geom.Px{X: a.right(), Y: a.bottom()}}
}

func studyColumns(ls []Language) []column {
	cols := []column{{"No.", 12}}
	for _, l := range ls {
		cols = append(cols, column{languageName(l), 85})
	}
	return append(cols, column{"Kind", 24}, column{"Sureness", 30})
}

func languageName(l Language) string {
	if l == Latin {
		return "Latin"
	}
	return "English"
}

func (s sheet) studyRows(ls []Language) (rows [][]string) {
	for _, m := range s.marks {
		row := []string{strconv.Itoa(m.n)}
		for _, l := range ls {
			row = append(row, m.name(l))
		}
		sure := m.label.Sure.String()
		if m.label.Signed != nil {
			sure += ", signed"
		}
		rows = append(rows, append(row, m.term.Kind.String(), sure))
	}
	return rows
}

// column is one column of a table: its heading and its share of the width.
type column struct {
	head  string
	share float64
}

// tablePages sets a table over as many pages as it needs.
func (d desk) tablePages(title, note, about string, synthetic bool, cols []column, rows [][]string) (pages []*page) {
	const size, row = 9.0, 5.6
	body := d.body()
	total := 0.0
	for _, c := range cols {
		total += c.share
	}
	per := int((body.H - 10) / row)
	for from := 0; from == 0 || from < len(rows); {
		p := d.newPage(about, synthetic)
		y := body.Y + 4
		p.text(spot{body.X, y}, bold, 11, black, title)
		p.text(spot{body.X + width(bold, 11, title) + 5, y}, regular, size, grey, note)
		y += 7
		x := body.X
		for _, c := range cols {
			p.text(spot{x, y}, bold, size-1, grey, c.head)
			x += c.share / total * body.W
		}
		used := 2.0
		for ; from < len(rows); from++ {
			high := 1
			cells := make([][]string, len(cols))
			for i, c := range cols {
				cells[i] = wrap(regular, size, c.share/total*body.W-3, rows[from][i])
				high = max(high, len(cells[i]))
			}
			if used+float64(high) > float64(per) && used > 2 {
				break
			}
			top := y + (used-2)*row
			p.line(spot{body.X, top + 1.7}, spot{body.right(), top + 1.7}, 0.12, pale)
			x := body.X
			for i, c := range cols {
				for k, line := range cells[i] {
					p.text(spot{x, top + row + float64(k)*row*0.85}, regular, size, black, line)
				}
				x += c.share / total * body.W
			}
			used += float64(high)
		}
		pages = append(pages, p)
		if len(rows) == 0 {
			break
		}
	}
	return pages
}
