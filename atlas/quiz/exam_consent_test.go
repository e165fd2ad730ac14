package quiz

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/photo"
)

// Row PS2: each of the nine purposes, recorded as permitted, recorded as not, not recorded, and after the agreement's last
// day. What is not permitted is refused with the purpose named and who can change it, and every try, allowed or refused,
// is a line of the record.
func TestPS2NinePurposes(t *testing.T) {
	l := newLab(t, straight(), photo.Scaled)
	ref, tries := 0, 0
	agree := func(a atlas.Agreement) {
		t.Helper()
		ref++
		a.Reference, a.ChangedBy = "C "+string(rune('a'+ref%26))+string(rune('a'+ref/26)), "the donor office"
		if err := l.Agree("", atlas.Donor{Code: donorCode, Agreement: a}); err != nil {
			t.Fatal(err)
		}
	}
	try := func(p atlas.Purpose, k Kind, allowed bool, say string) {
		t.Helper()
		r := l.request(k)
		r.Purpose, r.Labels = p, map[string][]string{l.plate.ID: {"L10"}}
		var s Slip
		if allowed { // painting nine pages proves nothing more than that the gate is open
			j := newJob(l.Library, terms(t), r)
			if err := j.gather(context.Background()); err != nil {
				t.Errorf("%s: %v", p, err)
			}
			return
		}
		s, err := HandOut(context.Background(), l.Library, terms(t), r, filepath.Join(t.TempDir(), "out"))
		if err != nil || s.Allowed || !strings.Contains(s.Reason, say) || !strings.HasSuffix(s.Reason, "Only the donor office can change this.") {
			t.Errorf("%s: %+v, %v", p, s, err)
		}
		tries++
		lines, err := l.HandOuts()
		if err != nil || len(lines) != tries {
			t.Fatalf("%d lines on record for %d tries, %v", len(lines), tries, err)
		}
		if h := lines[tries-1]; h.Allowed || h.Purpose != p || h.Donor != donorCode || h.Reason != s.Reason {
			t.Errorf("%s: the record says %+v", p, h)
		}
	}
	for _, p := range atlas.Purposes {
		said := "'" + p.Words() + "' is not in this donor's agreement"
		agree(atlas.Agreement{Permitted: map[atlas.Purpose]bool{p: true}})
		try(p, Study, true, "")
		agree(atlas.Agreement{Permitted: map[atlas.Purpose]bool{p: false}})
		try(p, Study, false, said)
		others := map[atlas.Purpose]bool{}
		for _, q := range atlas.Purposes {
			if q != p {
				others[q] = true
			}
		}
		agree(atlas.Agreement{Permitted: others})
		try(p, Study, false, said)
		agree(atlas.Agreement{Ends: examDay.AddDate(-1, 0, 0), Permitted: map[atlas.Purpose]bool{p: true}})
		try(p, Study, false, "ended on 25 November 2025")
	}
	// An exam under the name of another purpose is still an exam.
	agree(atlas.Agreement{Permitted: map[atlas.Purpose]bool{atlas.Teaching: true}})
	try(atlas.Teaching, Exam, false, "'in-house exam' is not in this donor's agreement")
}

// Row PS4: every page of cards and key, every finished picture of a face or a scan and every item says that it is for
// teaching, not for diagnosis; the lab's own line at the foot does not take its place.
func TestPS4EveryPageSaysWhatItIsFor(t *testing.T) {
	l, _ := withScan(t, signAll(t, newLab(t, straight(), photo.Scaled)), straight())
	b := l.board(t)
	x := draftExam(t, b, Plan{Seed: 3, Items: 4, Respect: "Our own line."})
	kinds := map[PictureKind]int{}
	d := &darkroom{Board: b}
	for _, s := range x.Stations {
		view, err := d.sight(context.Background(), s.Picture)
		if err != nil {
			t.Fatal(err)
		}
		p, err := view.finished(s)
		if err != nil {
			t.Fatal(err)
		}
		found := 0
		for _, w := range p.words {
			if w == NotForDiagnosis {
				found++
			}
		}
		if kinds[s.Picture.Kind]++; found != 1 {
			t.Errorf("a finished picture of a %s holds the words %d times", s.Picture.Kind, found)
		}
	}
	if len(kinds) != 2 {
		t.Errorf("pictures: %v", kinds)
	}
	slip, dir := render(t, b, x, Release{NoFolder: true})
	if !slip.Allowed {
		t.Fatal(slip.Reason)
	}
	for name, body := range allFiles(t, dir) {
		if strings.HasSuffix(name, ".pdf") {
			pages := strings.Count(string(body), "/Type /Page\n")
			text := pdfText(t, body)
			if pages == 0 || strings.Count(text, NotForDiagnosis) != pages || strings.Count(text, "Our own line.") != pages {
				t.Errorf("%s: %d pages, %d times the words, %d times the lab's line", name, pages, strings.Count(text, NotForDiagnosis), strings.Count(text, "Our own line."))
			}
		}
	}
	for name, body := range unzip(t, filepath.Join(dir, slip.Code+"-qti.zip")) {
		if strings.HasPrefix(name, "items/") && strings.Count(string(body), NotForDiagnosis) != 1 {
			t.Errorf("%s does not say what it is for", name)
		}
	}
}
