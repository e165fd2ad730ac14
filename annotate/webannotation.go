package annotate

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// ErrAnnotations says that a list of annotations cannot be read; the message says why.
var ErrAnnotations = errors.New("annotate: the annotations cannot be read")

const annotationContext = "http://www.w3.org/ns/anno.jsonld"

type webPage struct {
	Context string          `json:"@context"`
	Type    string          `json:"type"`
	Total   int             `json:"total"`
	Items   []webAnnotation `json:"items"`
}

type webAnnotation struct {
	ID       string     `json:"id"`
	Type     string     `json:"type"`
	Motive   string     `json:"motivation"`
	Creator  webName    `json:"creator"`
	Modified string     `json:"modified"`
	Body     []webBody  `json:"body"`
	Target   webTarget  `json:"target"`
	State    webOwnPart `json:"sectionary"`
}

type webName struct {
	Type string `json:"type"`
	Name string `json:"name"`
}

type webBody struct {
	Type    string `json:"type"`
	Purpose string `json:"purpose"`
	Source  string `json:"source,omitempty"`
	Value   string `json:"value,omitempty"`
}

type webTarget struct {
	Source   string      `json:"source"`
	Selector webSelector `json:"selector"`
}

type webSelector struct {
	Type  string `json:"type"`
	Value string `json:"value"`
}

// webOwnPart holds what the vocabulary has no word for, so that a round trip loses nothing.
type webOwnPart struct {
	Side    Side       `json:"side"`
	Sure    Sureness   `json:"sure"`
	Parts   []int      `json:"parts"`
	Carried bool       `json:"carried,omitempty"`
	From    string     `json:"from,omitempty"`
	Signed  *Signature `json:"signed,omitempty"`
}

// WriteAnnotations writes the labels as a page of W3C Web Annotations in JSON-LD (recommendation of 23 February 2017): the
// structure as an identifying body, the outline as an SvgSelector in pixels of the upright original, which is called
// source. What the vocabulary has no word for stands under "sectionary". names may be nil.
func (l Labels) WriteAnnotations(w io.Writer, source string, names *Terms) error {
	page := webPage{Context: annotationContext, Type: "AnnotationPage", Total: l.Len(), Items: []webAnnotation{}}
	for x := range l.All() {
		path, err := svgPath(x.Regions)
		if err != nil {
			return fmt.Errorf("annotate: label %s: %w", x.ID, err)
		}
		parts := make([]int, len(x.Regions))
		for i, p := range x.Regions {
			parts[i] = p.Rings()
		}
		body := []webBody{}
		if x.Term != "" {
			body = append(body, webBody{Type: "SpecificResource", Purpose: "identifying", Source: string(x.Term)}, webBody{Type: "TextualBody", Purpose: "tagging", Value: labelTitle(x, names)})
		}
		if x.Note != "" {
			body = append(body, webBody{Type: "TextualBody", Purpose: "commenting", Value: x.Note})
		}
		page.Items = append(page.Items, webAnnotation{ID: "urn:sectionary:label:" + x.ID, Type: "Annotation", Motive: "identifying", Creator: webName{"Person", x.Author},
			Modified: x.Changed.Format(time.RFC3339Nano), Body: body,
			Target: webTarget{source, webSelector{"SvgSelector", `<svg xmlns="http://www.w3.org/2000/svg"><path fill-rule="evenodd" d="` + path + `"/></svg>`}},
			State:  webOwnPart{x.Side, x.Sure, parts, x.Carried, x.From, x.Signed}})
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(page)
}

// ReadAnnotations reads a page that WriteAnnotations wrote and returns the labels and the name of the picture they
// belong to. Errors are ErrAnnotations, or those of Labels.Add.
func ReadAnnotations(r io.Reader) (Labels, string, error) {
	var page webPage
	if err := json.NewDecoder(io.LimitReader(r, maxSVG)).Decode(&page); err != nil {
		return Labels{}, "", fmt.Errorf("%w: %w", ErrAnnotations, err)
	}
	if page.Context != annotationContext {
		return Labels{}, "", fmt.Errorf("%w: the context is %q, not %s", ErrAnnotations, page.Context, annotationContext)
	}
	var list []Label
	source := ""
	for i, a := range page.Items {
		x, err := a.label()
		if err != nil {
			return Labels{}, "", fmt.Errorf("%w: annotation %d: %w", ErrAnnotations, i+1, err)
		}
		source = a.Target.Source
		list = append(list, x)
	}
	l, err := Labels{}.AddAll(list)
	return l, source, err
}

func (a webAnnotation) label() (Label, error) {
	x := Label{ID: strings.TrimPrefix(a.ID, "urn:sectionary:label:"), Author: a.Creator.Name, Side: a.State.Side, Sure: a.State.Sure, Carried: a.State.Carried, From: a.State.From, Signed: a.State.Signed}
	for _, b := range a.Body {
		switch b.Purpose {
		case "identifying":
			x.Term = TermID(b.Source)
		case "commenting":
			x.Note = b.Value
		}
	}
	var err error
	if x.Changed, err = time.Parse(time.RFC3339Nano, a.Modified); err != nil {
		return x, err
	}
	_, d, _ := strings.Cut(a.Target.Selector.Value, ` d="`)
	d, _, _ = strings.Cut(d, `"`)
	rings, err := parsePath(d)
	if err != nil {
		return x, err
	}
	counts := make([]string, len(a.State.Parts))
	for i, n := range a.State.Parts {
		counts[i] = fmt.Sprint(n)
	}
	x.Regions, err = partRings(rings, counts)
	return x, err
}
