package quiz

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
)

// Release says what of an exam is made, and how strictly.
type Release struct {
	NeedLooks bool // refuse stations that nobody let pass by the fresh-eyes step
	NoCards   bool // leave out the station cards
	NoKey     bool // leave out the answer key, as pages and as a table
	NoFolder  bool // leave out the folder of pictures
	NoQTI     bool // leave out the package for learning platforms
}

// Render makes the files of an exam in outDir: station cards and key as PDF, the pictures as a folder of PNG, the key as
// CSV, and an IMS QTI 3.0 package. The same exam gives the same bytes. A refusal is no error: the slip says why. What left
// and what was refused stand in the lab's record afterwards, and so does every picture and marker that left. Files appear
// only after every one of them was searched and found clean. Errors are failures to read, write or record, and
// atlas.ErrReadOnly.
func (b Board) Render(ctx context.Context, x Spotter, r Release, outDir string) (Slip, error) {
	if b.Lib.Mode() == atlas.ReadOnly {
		return Slip{}, atlas.ErrReadOnly
	}
	m := newMaking(b, x, r)
	err := m.make(ctx, outDir)
	if reason := reasonOf(err, m.slip.LeakScan); reason != "" {
		m.slip.Reason, m.slip.Files = reason, []File{}
		return m.slip, m.record(false)
	}
	return m.slip, err
}

// code is always the same for the same exam.
func (x Spotter) code() string {
	x.Rev = 0
	x.Stations = slices.Clone(x.Stations)
	for i := range x.Stations {
		x.Stations[i].Look = nil
	}
	doc, err := json.Marshal(x)
	if err != nil {
		return atlas.RandomCode(codeLength)
	}
	sum := sha256.Sum256(append([]byte("exam "), doc...))
	return atlas.CodeOf(sum[:], codeLength)
}

// making is one exam being made.
type making struct {
	Board
	x      Spotter
	r      Release
	slip   Slip
	donors map[string]atlas.Donor
	labels map[LabelRef]annotate.Label // of the asks, in pixels of the upright photograph
	done   []doneStation
}

// doneStation is one station ready to be written.
type doneStation struct {
	Station
	view  *sight
	proof Proof
	png   []byte
	spots []hotspot
	card  *page
}

func newMaking(b Board, x Spotter, r Release) *making {
	return &making{Board: b, x: x, r: r, donors: map[string]atlas.Donor{}, labels: map[LabelRef]annotate.Label{},
		slip: Slip{Code: x.code(), Files: []File{}, LeftOut: []LeftOut{}, Notes: []string{}, LeakScan: Scan{Leaks: []Leak{}}}}
}

// ready refuses what may not leave, paints nothing yet, and notes what a person should look at.
func (m *making) ready(ctx context.Context) error {
	if len(m.x.Stations) == 0 {
		return refusal("The exam has no stations.")
	}
	if err := m.gather(); err != nil {
		return err
	}
	report, err := m.Check(ctx, m.x)
	if err != nil {
		return err
	}
	if stops := report.Stops(); len(stops) > 0 {
		f := stops[0]
		words := fmt.Sprintf("Station %d%s: %s", f.Station, f.Letter, f.Words)
		if n := len(stops) - 1; n > 0 {
			words += fmt.Sprintf(" And %d more to put right.", n)
		}
		return refusal(words)
	}
	for i, s := range m.x.Stations {
		if m.r.NeedLooks && s.Look == nil {
			return refusal(fmt.Sprintf("Station %d: nobody looked at the finished picture yet. Look at it full screen, and let it pass or change it.", i+1))
		}
	}
	m.notes(report)
	return nil
}

func (m *making) make(ctx context.Context, outDir string) error {
	if err := m.ready(ctx); err != nil {
		return err
	}
	if err := m.develop(ctx); err != nil {
		return err
	}
	drafts, err := m.drafts()
	if err != nil {
		return err
	}
	words := append(slices.Sorted(maps.Keys(m.donors)), m.x.Words...)
	p := publication{dir: outDir, today: m.now(), drafts: drafts, words: words, search: m.noAnswers, record: func(files []File) error {
		m.slip.Files = files
		return m.record(true)
	}}
	m.slip.LeakScan, err = p.publish(ctx)
	m.slip.Allowed = err == nil
	return err
}

// gather reads the donors and labels concerned, so that a refusal is recorded for each donor.
func (m *making) gather() error {
	for i, s := range m.x.Stations {
		view, err := m.plan(s.Picture, m.x.NoTags)
		if err != nil {
			if reason := Sentence(err); reason != "" {
				return refusal(fmt.Sprintf("Station %d: %s", i+1, reason))
			}
			return err
		}
		m.donors[view.plate.Donor] = view.donor
		for _, a := range s.Asks {
			if x, ok := view.plate.Labels.Find(a.Label); ok {
				m.labels[LabelRef{a.Plate, a.Label}] = x
			}
		}
	}
	for _, code := range slices.Sorted(maps.Keys(m.donors)) {
		if err := m.donors[code].Agreement.Permits(atlas.Exam, m.now()); err != nil {
			return err
		}
	}
	return nil
}

// develop paints every station.
func (m *making) develop(ctx context.Context) error {
	room := &darkroom{Board: m.Board, noTags: m.x.NoTags}
	unlooked := 0
	for i, s := range m.x.Stations {
		if err := ctx.Err(); err != nil {
			return err
		}
		view, err := room.sight(ctx, s.Picture)
		if err != nil {
			return err
		}
		d := doneStation{Station: s, view: view}
		if d.proof, err = view.proof(s); err != nil {
			return err
		}
		if !s.Looked(d.proof) {
			unlooked++
			if m.r.NeedLooks {
				return refusal(fmt.Sprintf("Station %d: nobody looked at the finished picture as it is now. Look at it full screen, and let it pass or change it.", i+1))
			}
		}
		if d.png, err = d.proof.png(); err != nil {
			return err
		}
		d.spots = view.hotspots(s)
		d.card = m.card(i, d)
		view.face.picture, d.proof.Picture = nil, nil // the pixels are in the file and on the card
		m.done = append(m.done, d)
	}
	if unlooked > 0 {
		m.slip.Notes = append(m.slip.Notes, fmt.Sprintf("%d of %d finished pictures were not looked at by fresh eyes before release.", unlooked, len(m.x.Stations)))
	}
	return nil
}

func (m *making) notes(r Report) {
	for _, f := range r.Findings {
		if f.Fault != NotLooked {
			m.slip.Notes = append(m.slip.Notes, fmt.Sprintf("Station %d%s: %s", f.Station, f.Letter, f.Words))
		}
	}
	m.slip.Notes = append(append(m.slip.Notes, r.Gaps...), r.Warnings...)
}

// record writes one line for each donor concerned, and what was shown when it was allowed.
func (m *making) record(allowed bool) error {
	codes := slices.Sorted(maps.Keys(m.donors))
	if len(codes) == 0 {
		codes = []string{""}
	}
	var plates []string
	for _, s := range m.x.Stations {
		if !slices.Contains(plates, s.Picture.Plate) {
			plates = append(plates, s.Picture.Plate)
		}
	}
	var lines []atlas.HandOut
	for _, c := range codes {
		h := atlas.HandOut{ID: m.slip.Code, When: m.now(), Purpose: atlas.Exam, Donor: c, Plates: plates, Allowed: allowed, Reason: m.slip.Reason}
		for _, f := range m.slip.Files {
			h.Files = append(h.Files, f.Name+" "+f.SHA256)
		}
		lines = append(lines, h)
	}
	if !allowed {
		return m.Lib.Record(lines...)
	}
	shown, err := shownLines(m.x, m.slip.Code, func(a Ask) (annotate.Label, bool) {
		x, ok := m.labels[LabelRef{a.Plate, a.Label}]
		return x, ok
	})
	if err != nil {
		return err
	}
	for i := range shown {
		shown[i].At = m.now()
	}
	if err := m.Lib.AddShown(shown...); err != nil {
		return err
	}
	return m.Lib.Record(lines...)
}

// drafts are the files to be made.
func (m *making) drafts() ([]draft, error) {
	code := m.slip.Code
	var out []draft
	if !m.r.NoCards {
		cards := make([]*page, len(m.done))
		for i, d := range m.done {
			cards[i] = d.card
		}
		numberPages(cards)
		out = append(out, draft{code + "-cards.pdf", "station cards", func(w io.Writer) error { return writePDF(w, cards) }})
	}
	if !m.r.NoKey {
		key := m.keyPages()
		numberPages(key)
		out = append(out, draft{code + "-key.pdf", "answer key", func(w io.Writer) error { return writePDF(w, key) }},
			draft{code + "-key.csv", "answer key", m.writeKey})
	}
	if !m.r.NoFolder {
		for _, d := range m.done {
			out = append(out, draft{code + "-pictures/" + d.Code + ".png", "picture", bytesOf(d.png)})
		}
	}
	if !m.r.NoQTI {
		var b bytes.Buffer
		if err := m.writeQTI(&b); err != nil {
			return nil, err
		}
		out = append(out, draft{code + "-qti.zip", "QTI package", bytesOf(b.Bytes())})
	}
	return out, nil
}

func bytesOf(b []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(b); return err }
}

// noAnswers searches the finished pictures for the names of the answers.
func (m *making) noAnswers(paths []string) error {
	var words []string
	for _, x := range m.labels {
		t, _ := m.Terms.ByID(x.Term)
		for _, n := range append([]string{t.Name, t.Latin}, t.Synonyms...) {
			if len(bare(n)) >= shortest && !slices.Contains(words, n) {
				words = append(words, n)
			}
		}
	}
	pictures := slices.DeleteFunc(slices.Clone(paths), func(p string) bool { return !strings.HasSuffix(p, ".png") })
	found, err := ScanFiles(pictures, words)
	if err != nil {
		return err
	}
	if !found.Clean() {
		return refusal("A finished picture holds the name of an answer. Nothing was released.")
	}
	return nil
}

// writeKey writes the key as a table (RFC 4180): one line for each question.
func (m *making) writeKey(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	c.Write([]string{"station", "picture", "marker", "order", "about", "form", "question", "answer", "also accepted", "half the marks", "choices", "marks", "shows", "seconds"})
	for i, d := range m.done {
		for _, a := range d.Asks {
			for _, q := range a.Questions {
				c.Write([]string{strconv.Itoa(i + 1), d.Code, a.Letter, strconv.Itoa(q.Order), q.About, string(q.Form), plainCell(q.Text), plainCell(q.Answer),
					plainCell(strings.Join(q.Accept, "|")), plainCell(strings.Join(q.Half, "|")), plainCell(strings.Join(q.Options, "|")),
					strconv.FormatFloat(q.Marks, 'f', -1, 64), d.shows(), strconv.Itoa(d.Seconds)})
			}
		}
	}
	c.Flush()
	return c.Error()
}

// plainCell keeps a cell from being taken for a formula by a spreadsheet.
func plainCell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// shows says in words what a station's picture shows, for those who hold the key.
func (d doneStation) shows() string {
	words := d.view.run.Name(d.view.plate.Face)
	if d.view.run.Part != "" {
		words = d.view.run.PartWords() + ", " + words
	}
	if d.Picture.Kind == ScanPicture {
		if d.Picture.Pose != nil {
			return "scan, " + d.Picture.Facing.Plane().String() + " cut through " + words
		}
		return "scan at " + words
	}
	return words
}
