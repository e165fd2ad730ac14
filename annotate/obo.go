package annotate

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// LoadOBO reads the structures of an ontology in OBO format 1.2 or 1.4 (https://owlcollab.github.io/oboformat): id, name,
// exact and other synonyms, Latin synonyms (type LATIN) and part_of; About holds what its head says of title, version, date, licence and
// source. Obsolete terms and those without a name are left out. OBO
// does not say what is paired, so nothing is; kind follows from the name's last word. Errors are ErrTerms with the line.
func LoadOBO(r io.Reader) (*Terms, error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 4096), 1<<20)
	o := oboReader{}
	for n := 1; lines.Scan(); n++ {
		if err := o.line(strings.TrimSpace(lines.Text())); err != nil {
			return nil, fmt.Errorf("%w: line %d: %w", ErrTerms, n, err)
		}
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrTerms, err)
	}
	if err := o.close(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrTerms, err)
	}
	if !o.any {
		return nil, fmt.Errorf("%w: it holds no [Term]", ErrTerms)
	}
	t, err := newTerms(o.list)
	if err == nil {
		t.about = o.about
	}
	return t, err
}

type oboReader struct {
	source       string
	about        About
	list         []Term
	now          Term
	inTerm, dead bool
	any          bool
}

func (o *oboReader) line(text string) error {
	if strings.HasPrefix(text, "[") {
		if err := o.close(); err != nil {
			return err
		}
		o.now, o.dead, o.inTerm = Term{}, false, text == "[Term]"
		o.any = o.any || o.inTerm
		return nil
	}
	tag, value, ok := strings.Cut(text, ":")
	if !ok {
		return nil
	}
	value = strings.TrimSpace(value)
	if !o.inTerm {
		if o.source == "" && (tag == "data-version" || tag == "ontology") {
			o.source = value
		}
		o.head(tag, value)
		return nil
	}
	switch tag {
	case "id":
		o.now.ID = TermID(oboWord(value))
	case "name":
		o.now.Name = oboPlain(value)
	case "synonym":
		o.synonym(value)
	case "relationship":
		if kind, target, ok := strings.Cut(value, " "); ok && (kind == "part_of" || kind == "BFO:0000050") && o.now.PartOf == "" {
			o.now.PartOf = TermID(oboWord(target))
		}
	case "xref":
		if id := oboWord(value); strings.HasPrefix(id, "FMA:") && o.now.FMA == "" {
			o.now.FMA = id
		}
	case "is_obsolete":
		o.dead = value == "true"
	}
	return nil
}

// head takes what the head of the file says of the list. Ontologies give title and licence as property values, by the terms of
// Dublin Core (dc:title, dcterms:license, in several spellings) or in a remark.
func (o *oboReader) head(tag, value string) {
	put := func(field *string, v string) {
		if v = strings.Trim(oboPlain(v), `" `); *field == "" && len(v) <= maxAbout {
			*field = v
		}
	}
	switch tag {
	case "data-version":
		put(&o.about.Version, value)
	case "date":
		put(&o.about.Date, value)
	case "ontology":
		put(&o.about.Source, value)
	case "remark":
		if low := strings.ToLower(value); strings.Contains(low, "licen") || strings.Contains(low, "copyright") {
			put(&o.about.Licence, value)
		}
	case "property_value":
		what, v, _ := strings.Cut(value, " ")
		what = strings.ToLower(what)
		switch {
		case strings.HasSuffix(what, "license"), strings.HasSuffix(what, "licence"), strings.HasSuffix(what, "rights"):
			put(&o.about.Licence, oboValue(v))
		case strings.HasSuffix(what, "title"):
			put(&o.about.Title, oboValue(v))
		case strings.HasSuffix(what, "versioninfo"):
			put(&o.about.Version, oboValue(v))
		}
	}
}

// maxAbout bounds, in bytes, what is taken of a head.
const maxAbout = 400

// oboValue is a property's value without its type: a quoted text, or the first word.
func oboValue(v string) string {
	if text, ok := strings.CutPrefix(strings.TrimSpace(v), `"`); ok {
		if i := strings.LastIndex(text, `"`); i >= 0 {
			return text[:i]
		}
		return text
	}
	return oboWord(strings.TrimSpace(v))
}

func (o *oboReader) synonym(value string) {
	parts := strings.SplitN(strings.TrimPrefix(value, `"`), `" `, 2)
	if len(parts) != 2 || len(o.now.Synonyms) > 200 {
		return
	}
	s := oboPlain(parts[0])
	if o.now.Latin == "" && strings.Contains(parts[1], "LATIN") {
		o.now.Latin = s
	} else if s != "" {
		o.now.Synonyms = append(o.now.Synonyms, s)
	}
}

func (o *oboReader) close() error {
	x := o.now
	if !o.inTerm || o.dead || x.Name == "" || x.check() != nil {
		return nil
	}
	if len(o.list) == maxTerms {
		return fmt.Errorf("more than %d structures", maxTerms)
	}
	x.Kind, x.Region, x.Source = kindByName(x.Name), "all", o.source
	o.list = append(o.list, x)
	return nil
}

// oboWord is the first word of a value, without its comment.
func oboWord(v string) string {
	w, _, _ := strings.Cut(v, " ")
	return w
}

// oboPlain takes out escapes and a trailing comment.
func oboPlain(v string) string {
	if i := strings.Index(v, " ! "); i >= 0 {
		v = v[:i]
	}
	return strings.TrimSpace(strings.NewReplacer(`\"`, `"`, `\,`, ",", `\:`, ":", `\n`, " ", `\t`, " ", `\W`, " ", `\\`, `\`, "\t", " ").Replace(v))
}

func kindByName(name string) Kind {
	w := words(name)
	switch w[len(w)-1] {
	case "artery", "vein", "aorta", "trunk", "sinus":
		return Vessel
	case "nerve", "ganglion", "plexus", "nucleus", "cortex", "gyrus":
		return Nerve
	case "muscle":
		return Muscle
	case "bone", "vertebra", "rib", "cartilage":
		return Bone
	case "gland", "lobe":
		return Organ
	case "cavity", "space", "canal", "fossa", "foramen", "ventricle":
		return Space
	case "joint", "suture":
		return Joint
	case "ligament", "tendon":
		return Ligament
	case "fascia", "skin", "membrane":
		return Tissue
	case "node":
		return Lymph
	}
	return Other
}
