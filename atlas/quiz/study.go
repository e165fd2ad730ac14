package quiz

import (
	"sort"
	"strconv"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

func sortBy(marks []mark, key func(mark) float64) {
	sort.SliceStable(marks, func(i, j int) bool {
		a, b := key(marks[i]), key(marks[j])
		if a != b {
			return a < b
		}
		return marks[i].label.ID < marks[j].label.ID
	})
}

// studyPages lays out one face with its names set clear of it, and the table of its structures.
func (d desk) studyPages(s sheet, synthetic bool) []*page {
	p := d.newPage(s.about(Study, d.r.View), synthetic)
	body := d.body()
	room := body
	room.H -= 9 // the scale bar
	side := nameWidth + 8
	ratio := s.face.fit(area{room.X + side, room.Y + letterRoom, room.W - 2*side, room.H - 2*letterRoom})
	s.clockwise(0)
	for i := range s.marks {
		s.marks[i].n = i + 1
	}
	s.face.put(p)
	s.face.outlines(p, s.marks)
	s.names(p, room, d.r.languages()[0])
	s.edgeLetters(p, d.r.View)
	s.scaleBar(p, ratio, spot{body.X, body.bottom() - 1})
	return append([]*page{p}, d.tablePages("Structures", s.about(Study, d.r.View), synthetic, studyColumns(d.r.languages()), s.studyRows(d.r.languages()))...)
}

// names sets the names round the face with leaders. A name without room becomes a number on the face.
func (s sheet) names(p *page, room area, l Language) {
	type block struct {
		lines []string
		m     mark
	}
	blocks := map[string]block{}
	var boxes []annotate.NameBox
	row := nameSize * mmPerPoint * lineHeight
	for _, m := range s.marks {
		b := block{lines: wrap(regular, nameSize, nameWidth-5, m.fullName(l)), m: m}
		w := 0.0
		for _, line := range b.lines {
			w = max(w, width(regular, nameSize, line))
		}
		blocks[m.label.ID] = b
		at := s.face.paper(m.deep)
		boxes = append(boxes, annotate.NameBox{ID: m.label.ID, W: w + 6, H: float64(len(b.lines))*row + 1.2, At: geom.Px(at)})
	}
	placed, left := annotate.Place(boxes, s.outline(), box(room))
	for _, x := range placed {
		leader(p, x.Leader)
	}
	for _, x := range placed {
		b := blocks[x.ID]
		y := x.Box.Min.Y + 0.6 + nameSize*mmPerPoint*0.92
		p.text(spot{x.Box.Min.X + 0.5, y}, bold, nameSize-1.5, grey, strconv.Itoa(b.m.n))
		for i, line := range b.lines {
			p.text(spot{x.Box.Min.X + 5, y + float64(i)*row}, regular, nameSize, black, line)
		}
	}
	for _, id := range left {
		m := blocks[id].m
		p.numbered(s.face.paper(m.deep), 2.2, strconv.Itoa(m.n))
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
func (d desk) tablePages(title, about string, synthetic bool, cols []column, rows [][]string) (pages []*page) {
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
