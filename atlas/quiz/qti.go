package quiz

import (
	"archive/zip"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"sectionary/annotate"
)

// The names of IMS Question and Test Interoperability 3.0 (1EdTech, final release 1 May 2022): the binding's namespaces
// and schema locations, and the resource types of its packages.
const (
	qtiSpace    = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0"
	qtiSchema   = "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_asiv3p0_v1p0.xsd"
	packSpace   = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"
	packSchema  = "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd"
	schemaSpace = "http://www.w3.org/2001/XMLSchema-instance"
	itemType    = "imsqti_item_xmlv3p0"
	testType    = "imsqti_test_xmlv3p0"
	otherType   = "webcontent"
)

// hotspot is one outline on a finished picture that can be pointed at, in its pixels.
type hotspot struct {
	label  string
	coords string // x1,y1,x2,y2,...
}

const mostSpots = 12

// hotspots are the outlines of a station to be pointed at: the one asked for, and others clear of it and of each other.
func (s *sight) hotspots(x Station) (out []hotspot) {
	asked := ""
	for _, a := range x.Asks {
		if a.pointed() {
			asked = a.Label
		}
	}
	if asked == "" || s.crosses {
		return nil
	}
	var kept []annotate.Label
	clear := func(l annotate.Label) bool {
		for _, k := range kept {
			if k.Contains(l.Inside()) || l.Contains(k.Inside()) {
				return false
			}
		}
		return true
	}
	labels := slices.Clone(s.labels)
	slices.SortStableFunc(labels, func(a, b annotate.Label) int { // the one asked for first, then small before large
		switch {
		case a.ID == asked:
			return -1
		case b.ID == asked:
			return 1
		case a.AreaPx() < b.AreaPx():
			return -1
		}
		return 1
	})
	for _, l := range labels {
		if len(kept) == mostSpots || l.Carried || len(l.Regions) == 0 || !s.face.shows(l.Inside()) || !clear(l) {
			continue
		}
		kept = append(kept, l)
		for _, r := range l.Regions {
			if c := s.coords(r); c != "" {
				out = append(out, hotspot{l.ID, c})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b hotspot) int { return strings.Compare(a.coords, b.coords) }) // the order tells nothing
	return out
}

// coords writes an outline in pixels of the finished picture, thinned to what a finger can meet.
func (s *sight) coords(p annotate.Polygon) string {
	const per = dotsPerInch / 25.4
	p = annotate.Polygon{Outer: p.Outer}.Map(func(q photoPx) photoPx {
		at := s.face.paper(q)
		return photoPx{X: at.X*per - 0.5, Y: at.Y*per - 0.5}
	}).Simplify(1)
	w, h := math.Round(pictureW*per), math.Round(pictureH*per)
	var parts []string
	last := ""
	for _, q := range p.Outer {
		at := fmt.Sprintf("%.0f,%.0f", math.Min(math.Max(q.X, 0), w), math.Min(math.Max(q.Y, 0), h))
		if at != last {
			parts = append(parts, at)
		}
		last = at
	}
	if len(parts) < 3 {
		return ""
	}
	return strings.Join(parts, ",")
}

// writeQTI writes the exam as a package: a manifest, a test, an item a station, and the pictures.
func (m *making) writeQTI(w io.Writer) error {
	z := zip.NewWriter(w)
	add := func(name string, body []byte) error {
		// Stored, so that the same exam gives the same bytes whatever packs it.
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store, Modified: Neutral})
		if err == nil {
			_, err = f.Write(body)
		}
		return err
	}
	files := []struct {
		name string
		root any
	}{{"imsmanifest.xml", m.manifest()}, {"test.xml", m.test()}}
	for i, d := range m.done {
		files = append(files, struct {
			name string
			root any
		}{"items/" + d.Code + ".xml", m.item(i, d)})
	}
	for _, f := range files {
		body, err := xml.MarshalIndent(f.root, "", " ")
		if err != nil {
			return fmt.Errorf("quiz: %s: %w", f.name, err)
		}
		if err := add(f.name, append([]byte(xml.Header), append(body, '\n')...)); err != nil {
			return fmt.Errorf("quiz: %w", err)
		}
	}
	for _, d := range m.done {
		if err := add("images/"+d.Code+".png", d.png); err != nil {
			return fmt.Errorf("quiz: %w", err)
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	return nil
}

// node is one element; the package writes no other XML.
type node struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",attr"`
	Text    string     `xml:",chardata"`
	Nodes   []node
}

// el makes an element with its attributes, name and value by turns.
func el(name string, attrs ...string) node {
	n := node{XMLName: xml.Name{Local: name}}
	for i := 0; i+1 < len(attrs); i += 2 {
		n.Attrs = append(n.Attrs, xml.Attr{Name: xml.Name{Local: attrs[i]}, Value: attrs[i+1]})
	}
	return n
}

func (n node) with(inner ...node) node { n.Nodes = append(slices.Clone(n.Nodes), inner...); return n }

func (n node) text(s string) node { n.Text = printable(s); return n }

func root(name, space, schema string, attrs ...string) node {
	return el(name, append([]string{"xmlns", space, "xmlns:xsi", schemaSpace, "xsi:schemaLocation", space + " " + schema}, attrs...)...)
}

func (m *making) title() string {
	if m.x.Title == "" {
		return "Exam"
	}
	return m.x.Title
}

func (m *making) manifest() node {
	resources := el("resources")
	test := el("resource", "identifier", "test", "type", testType, "href", "test.xml").with(el("file", "href", "test.xml"))
	for _, d := range m.done {
		test = test.with(el("dependency", "identifierref", "item-"+d.Code))
	}
	resources = resources.with(test)
	for _, d := range m.done {
		resources = resources.with(el("resource", "identifier", "item-"+d.Code, "type", itemType, "href", "items/"+d.Code+".xml").
			with(el("file", "href", "items/"+d.Code+".xml"), el("dependency", "identifierref", "image-"+d.Code)))
	}
	for _, d := range m.done {
		resources = resources.with(el("resource", "identifier", "image-"+d.Code, "type", otherType, "href", "images/"+d.Code+".png").
			with(el("file", "href", "images/"+d.Code+".png")))
	}
	return root("manifest", packSpace, packSchema, "identifier", "exam-"+m.slip.Code).with(
		el("metadata").with(el("schema").text("QTI Package"), el("schemaversion").text("3.0.0")),
		el("organizations"), resources)
}

func (m *making) test() node {
	section := el("qti-assessment-section", "identifier", "stations", "title", "Stations", "visible", "true")
	for _, d := range m.done {
		section = section.with(el("qti-assessment-item-ref", "identifier", "item-"+d.Code, "href", "items/"+d.Code+".xml").
			with(el("qti-time-limits", "max-time", strconv.Itoa(d.Seconds))))
	}
	score := el("qti-outcome-declaration", "identifier", "SCORE", "cardinality", "single", "base-type", "float", "normal-maximum", number(m.x.Marks()))
	return root("qti-assessment-test", qtiSpace, qtiSchema, "identifier", "test-"+m.slip.Code, "title", m.title(), "xml:lang", "en").with(score,
		el("qti-test-part", "identifier", "part", "navigation-mode", "linear", "submission-mode", "individual").with(section),
		el("qti-outcome-processing").with(el("qti-set-outcome-value", "identifier", "SCORE").with(
			el("qti-sum").with(el("qti-test-variables", "variable-identifier", "SCORE")))))
}

// item is one station: its picture, and an interaction for every question.
func (m *making) item(n int, d doneStation) node {
	item := root("qti-assessment-item", qtiSpace, qtiSchema, "identifier", "item-"+d.Code, "title", fmt.Sprintf("Station %d", n+1),
		"adaptive", "false", "time-dependent", "false", "xml:lang", "en")
	body := el("qti-item-body")
	picture := el("img", "src", "../images/"+d.Code+".png", "alt", "Picture "+d.Code, "width", pictureWide, "height", pictureHigh)
	pointed := slices.ContainsFunc(d.Asks, Ask.pointed)
	if !pointed {
		body = body.with(el("p").with(picture))
	}
	sum := el("qti-sum")
	k := 0
	for _, a := range d.Asks {
		for _, q := range a.Questions {
			k++
			id := "RESPONSE" + strconv.Itoa(k)
			declaration, interaction := d.interaction(id, a, q, picture)
			item, body = item.with(declaration), body.with(interaction)
			sum = sum.with(el("qti-map-response", "identifier", id))
		}
	}
	body = body.with(el("p").with(el("em").text(NotForDiagnosis)))
	score := el("qti-outcome-declaration", "identifier", "SCORE", "cardinality", "single", "base-type", "float", "normal-maximum", number(d.Marks())).
		with(el("qti-default-value").with(el("qti-value").text("0")))
	return item.with(score, body, el("qti-response-processing").with(el("qti-set-outcome-value", "identifier", "SCORE").with(sum)))
}

// interaction is a question with how its answer is declared and marked.
func (d doneStation) interaction(id string, a Ask, q Question, picture node) (declaration, interaction node) {
	kind := "identifier"
	if q.Form == Typed {
		kind = "string"
	}
	right, keys := "", el("qti-mapping", "default-value", "0")
	key := func(k string, marks float64, more ...string) {
		keys = keys.with(el("qti-map-entry", append([]string{"map-key", k, "mapped-value", number(marks)}, more...)...))
	}
	switch q.Form {
	case Choice:
		interaction = el("qti-choice-interaction", "response-identifier", id, "shuffle", "false", "max-choices", "1").with(el("qti-prompt").text(q.Text))
		for i, o := range q.Options {
			c := "C" + strconv.Itoa(i+1)
			interaction = interaction.with(el("qti-simple-choice", "identifier", c).text(o))
			if o == q.Answer {
				right = c
				key(c, q.Marks)
			}
		}
	case Pointed:
		interaction = el("qti-hotspot-interaction", "response-identifier", id, "max-choices", "1").with(el("qti-prompt").text(q.Text), picture)
		for i, s := range d.spots {
			c := "H" + strconv.Itoa(i+1)
			interaction = interaction.with(el("qti-hotspot-choice", "identifier", c, "shape", "poly", "coords", s.coords))
			if s.label == a.Label {
				if right == "" {
					right = c
				}
				key(c, q.Marks)
			}
		}
	default:
		right = q.Answer
		seen := map[string]bool{}
		for _, n := range append([]string{q.Answer}, q.Accept...) {
			if k := strings.ToLower(n); !seen[k] {
				seen[k] = true
				key(n, q.Marks, "case-sensitive", "false")
			}
		}
		for _, n := range q.Half {
			if k := strings.ToLower(n); !seen[k] {
				seen[k] = true
				key(n, q.Marks/2, "case-sensitive", "false")
			}
		}
		interaction = el("div").with(el("p").text(q.Text),
			el("p").with(el("qti-text-entry-interaction", "response-identifier", id, "expected-length", "40")))
	}
	declaration = el("qti-response-declaration", "identifier", id, "cardinality", "single", "base-type", kind).with(
		el("qti-correct-response").with(el("qti-value").text(right)), keys)
	return declaration, interaction
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

var (
	pictureWide = strconv.Itoa(int(math.Round(pictureW * dotsPerInch / 25.4)))
	pictureHigh = strconv.Itoa(int(math.Round(pictureH * dotsPerInch / 25.4)))
)
