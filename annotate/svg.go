package annotate

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"sectionary/slices/geom"
)

// ErrSVG says that a drawing cannot be read back; the message says where.
var ErrSVG = errors.New("annotate: the drawing cannot be read")

// maxSVG bounds what ReadSVG takes in.
const maxSVG = 64 << 20

// WriteSVG writes the labels as an SVG 1.1 drawing of width by height pixels, one path a label with even-odd holes. The
// coordinates are those of the upright original, whose first pixel's centre is (0, 0). Structure, side and the rest stand in
// data attributes, so ReadSVG gives the same labels back, and in a title for people. names gives a structure's name and may be nil.
func (l Labels) WriteSVG(w io.Writer, width, height int, names *Terms) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<?xml version="1.0" encoding="UTF-8"?>`+"\n"+`<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%d" height="%d" viewBox="-0.5 -0.5 %d %d">`+"\n", width, height, width, height)
	for x := range l.All() {
		path, err := svgPath(x.Regions)
		if err != nil {
			return fmt.Errorf("annotate: label %s: %w", x.ID, err)
		}
		if err := writeSVGLabel(&b, x, path, names); err != nil {
			return err
		}
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

func writeSVGLabel(b *bytes.Buffer, x Label, path string, names *Terms) error {
	parts := make([]int, len(x.Regions)) // rings of each part, for one path cannot tell a hole from a part
	for i, p := range x.Regions {
		parts[i] = p.Rings()
	}
	changed, err := x.Changed.MarshalText()
	if err != nil {
		return fmt.Errorf("annotate: label %s: %w", x.ID, err)
	}
	attrs := [][2]string{{"data-id", x.ID}, {"data-term", string(x.Term)}, {"data-side", x.Side.String()}, {"data-sure", x.Sure.String()}, {"data-author", x.Author}, {"data-changed", string(changed)},
		{"data-note", x.Note}, {"data-from", x.From}, {"data-parts", strings.Trim(fmt.Sprint(parts), "[]")}}
	if x.Carried {
		attrs = append(attrs, [2]string{"data-carried", "yes"}, [2]string{"stroke-dasharray", "6 4"})
	}
	if x.Signed != nil {
		signed, err := json.Marshal(x.Signed)
		if err != nil {
			return fmt.Errorf("annotate: label %s: %w", x.ID, err)
		}
		attrs = append(attrs, [2]string{"data-signed", string(signed)})
	}
	b.WriteString(`<path fill="none" stroke="black" fill-rule="evenodd"`)
	for _, a := range attrs {
		b.WriteString(" " + a[0] + `="`)
		if err := xml.EscapeText(b, []byte(a[1])); err != nil {
			return err
		}
		b.WriteString(`"`)
	}
	fmt.Fprintf(b, ` d="%s"><title>`, path)
	if err := xml.EscapeText(b, []byte(labelTitle(x, names))); err != nil {
		return err
	}
	b.WriteString("</title></path>\n")
	return nil
}

func labelTitle(x Label, names *Terms) string {
	name := names.NameOf(x.Term)
	if x.Side == Left || x.Side == Right {
		return x.Side.String() + " " + name
	}
	return name
}

func svgPath(regions []Polygon) (string, error) {
	var b strings.Builder
	for _, p := range regions {
		for n := range p.Rings() {
			for i, q := range p.Ring(n) {
				if q.X-q.X != 0 || q.Y-q.Y != 0 {
					return "", fmt.Errorf("a point is no number")
				}
				b.WriteByte("ML"[min(i, 1)])
				b.WriteString(strconv.FormatFloat(q.X, 'g', -1, 64) + "," + strconv.FormatFloat(q.Y, 'g', -1, 64))
			}
			b.WriteByte('Z')
		}
	}
	return b.String(), nil
}

// ReadSVG reads a drawing that WriteSVG wrote; other programs may have moved points of its paths, as long as those stay
// absolute M, L and Z. Paths without a data-id are passed over. Errors are ErrSVG, or those of Labels.Add.
func ReadSVG(r io.Reader) (Labels, error) {
	d := xml.NewDecoder(io.LimitReader(r, maxSVG))
	d.Strict = true
	var list []Label
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return Labels{}.AddAll(list)
		}
		if err != nil {
			return Labels{}, fmt.Errorf("%w: %w", ErrSVG, err)
		}
		start, ok := tok.(xml.StartElement)
		if !ok || start.Name.Local != "path" {
			continue
		}
		attrs := map[string]string{}
		for _, a := range start.Attr {
			attrs[a.Name.Local] = a.Value
		}
		if attrs["data-id"] == "" {
			continue
		}
		x, err := readSVGLabel(attrs)
		if err != nil {
			return Labels{}, fmt.Errorf("%w: label %s: %w", ErrSVG, attrs["data-id"], err)
		}
		list = append(list, x)
	}
}

func readSVGLabel(a map[string]string) (x Label, err error) {
	x = Label{ID: a["data-id"], Term: TermID(a["data-term"]), Author: a["data-author"], Note: a["data-note"], From: a["data-from"], Carried: a["data-carried"] == "yes"}
	if x.Side, err = ParseSide(a["data-side"]); err != nil {
		return x, err
	}
	if x.Sure, err = ParseSureness(a["data-sure"]); err != nil {
		return x, err
	}
	if err = x.Changed.UnmarshalText([]byte(a["data-changed"])); err != nil {
		return x, err
	}
	if a["data-signed"] != "" {
		if err = json.Unmarshal([]byte(a["data-signed"]), &x.Signed); err != nil {
			return x, err
		}
	}
	rings, err := parsePath(a["d"])
	if err != nil {
		return x, err
	}
	x.Regions, err = partRings(rings, strings.Fields(a["data-parts"]))
	return x, err
}

// partRings deals the rings out to the parts.
func partRings(rings [][]geom.Px, counts []string) ([]Polygon, error) {
	var out []Polygon
	for _, c := range counts {
		n, err := strconv.Atoi(c)
		if err != nil || n < 1 || n > len(rings) {
			return nil, fmt.Errorf("data-parts %v does not fit %d rings", counts, len(rings))
		}
		p := Polygon{Outer: rings[0]}
		if n > 1 {
			p.Holes = rings[1:n]
		}
		out, rings = append(out, p), rings[n:]
	}
	if len(rings) > 0 {
		return nil, fmt.Errorf("data-parts %v leaves %d rings over", counts, len(rings))
	}
	return out, nil
}

// parsePath reads rings from absolute M, L and Z.
func parsePath(d string) ([][]geom.Px, error) {
	var rings [][]geom.Px
	open := false
	for d = strings.TrimSpace(d); d != ""; d = strings.TrimSpace(d) {
		switch d[0] {
		case 'Z', 'z':
			if !open {
				return nil, fmt.Errorf("the path closes a ring twice")
			}
			open, d = false, d[1:]
		case 'M', 'L':
			if (d[0] == 'M') == open {
				return nil, fmt.Errorf("the path starts a ring before closing the last")
			}
			if d[0] == 'M' {
				rings, open = append(rings, nil), true
			}
			var q geom.Px
			var err error
			if q.X, d, err = pathNumber(d[1:]); err != nil {
				return nil, err
			}
			if q.Y, d, err = pathNumber(d); err != nil {
				return nil, err
			}
			last := &rings[len(rings)-1]
			*last = append(*last, q)
		default:
			return nil, fmt.Errorf("the path uses %q; only absolute M, L and Z can be read back", d[0])
		}
	}
	if open {
		return nil, fmt.Errorf("the path leaves a ring open")
	}
	return rings, nil
}

func pathNumber(d string) (v float64, rest string, err error) {
	d = strings.TrimLeft(d, " ,\t\r\n")
	end := 0
	for end < len(d) && strings.IndexByte("+-.0123456789eE", d[end]) >= 0 {
		end++
	}
	v, err = strconv.ParseFloat(d[:end], 64)
	return v, d[end:], err
}
