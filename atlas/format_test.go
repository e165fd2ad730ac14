package atlas

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/atlas/store"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

var writeFormat = flag.Bool("write-format", false, "write the golden library of the present format; done once for each format, before it ships")

const formats = "../testdata/atlas"

// dump is everything a library says.
type dump struct {
	Donors   []Donor
	Entries  []Entry
	Plates   []Plate
	Series   []scan.Series
	Ties     LevelTies
	HandOuts []HandOut
	Ledger   []LedgerEntry
	Exams    []ExamDoc
	Shown    []Shown
}

func dumpOf(t *testing.T, l *Library) (d dump) {
	t.Helper()
	var err error
	must := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	d.Donors, err = l.Donors()
	must(err)
	for e, err := range l.Find(Query{Retired: true}) {
		must(err)
		p, err := l.Plate(e.Plate)
		must(err)
		_, err = l.Photo(context.Background(), e.Plate)
		must(err)
		d.Entries, d.Plates = append(d.Entries, e), append(d.Plates, p)
	}
	d.Series, err = l.SeriesList("")
	must(err)
	_, err = l.Volume(context.Background(), d.Series[0].UID)
	must(err)
	d.Ties, err = l.LevelTies(d.Donors[0].Runs[0].ID, d.Series[0].UID)
	must(err)
	d.HandOuts, err = l.HandOuts()
	must(err)
	c, err := l.Custody(context.Background())
	must(err)
	d.Ledger = c.Entries()
	exams, err := l.Exams()
	must(err)
	shown, err := l.Shown()
	must(err)
	d.Exams, d.Shown = append(d.Exams, exams...), append(d.Shown, shown...) // nil when there are none
	return d
}

// Libraries of every past format open as they were, and lose nothing on the way to the present one.
func TestLibrariesOfEveryFormatOpen(t *testing.T) {
	all, err := filepath.Glob(filepath.Join(formats, "format-*.json"))
	if err != nil || len(all) != store.Format {
		t.Fatalf("%d golden libraries for %d formats, %v", len(all), store.Format, err)
	}
	for _, file := range all {
		golden := strings.TrimSuffix(file, ".json")
		dir := filepath.Join(t.TempDir(), "Lab")
		if err := os.CopyFS(dir, os.DirFS(golden)); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var want dump
		if err := json.Unmarshal(text, &want); err != nil {
			t.Fatal(err)
		}
		for _, m := range []Mode{ReadWrite, ReadOnly} {
			l, err := Open(dir, m)
			if err != nil {
				t.Fatalf("%s: %v", golden, err)
			}
			if got := dumpOf(t, l); asJSON(t, got) != asJSON(t, want) {
				t.Errorf("%s, mode %d:\n%s\nwant\n%s", golden, m, asJSON(t, got), asJSON(t, want))
			}
			if err := l.Verify(context.Background(), func(err error) { t.Errorf("%s: %v", golden, err) }); err != nil {
				t.Error(err)
			}
			l.Close()
		}
	}
}

// TestWriteFormat makes the golden library of the present format. It never replaces one.
func TestWriteFormat(t *testing.T) {
	golden := filepath.Join(formats, fmt.Sprintf("format-%d", store.Format))
	if !*writeFormat {
		t.Skip("run with -write-format to make " + golden)
	}
	l, r, _ := tied(t)
	p := orient(t, l, add(t, l, upper(r, 1), 1))
	p = withLabel(t, p, outline("a", 3, 4))
	p.Border, p.Mask = outline("", 0, 0).Regions, outline("", 20, 20).Regions
	p, err := l.Save(p)
	if err != nil {
		t.Fatal(err)
	}
	old := add(t, l, upper(r, 2), 2)
	if _, err := l.Retire(old.ID); err != nil {
		t.Fatal(err)
	}
	s, err := p.Succeed(add(t, l, section.Face{}, 4), pairs(seen, corners...), again)
	if err == nil {
		_, err = l.Keep(s)
	}
	if err != nil {
		t.Fatal(err)
	}
	add(t, l, section.Face{}, 3)
	if err := l.Record(HandOut{ID: "7K2MQ4XA", When: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), Purpose: PublicWeb, Donor: code, Reason: "not in the agreement"}); err != nil {
		t.Fatal(err)
	}
	enter(t, l, LedgerEntry{Deed: Move, Piece: receive(t, l, "slab 1", 1600), To: "box 3"})
	if _, err := l.SaveExam(ExamDoc{ID: "E7K2M", Title: "Trunk", Doc: []byte(`{"stations":[]}`)}); err != nil {
		t.Fatal(err)
	}
	if err := l.AddShown(Shown{Out: "7K2MQ4XA", Exam: "E7K2M", At: now(), Kind: "face", Plate: p.ID, Label: "a", Term: "T:1", Side: 1, Doc: []byte(`{}`)}); err != nil {
		t.Fatal(err)
	}
	slabs := []section.Slab{{Number: 1, Thickness: [3]float64{20}, Kerf: 1.2}, {Number: 2, Thickness: [3]float64{20}, Kerf: 1.2, Planned: true}}
	for _, x := range []section.Run{
		{ID: "thigh", Donor: r.Donor, Part: "thigh", Limb: section.RightLower, Plane: section.Transverse, First: section.Superior, Slabs: slabs},
		{ID: "head", Donor: r.Donor, Part: "head", Half: section.Left, Plane: section.Sagittal, First: section.Right, Slabs: slabs},
	} {
		if _, err := l.SaveRun(x); err != nil {
			t.Fatal(err)
		}
	}
	d := dumpOf(t, l)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	for _, f := range []string{cacheName, backupsName} {
		os.RemoveAll(filepath.Join(l.Dir(), f))
	}
	if err := os.CopyFS(golden, os.DirFS(l.Dir())); err != nil { // fails where a file is there already
		t.Fatal(err)
	}
	text, err := json.MarshalIndent(d, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(golden+".json", append(text, '\n'), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The agreements of a library of format 2 are the first line of their record, and their references count as used.
func TestAgreementsOfOldLibrariesAreOnRecord(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "Lab")
	if err := os.CopyFS(dir, os.DirFS(filepath.Join(formats, "format-2"))); err != nil {
		t.Fatal(err)
	}
	l, err := Open(dir, ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	donors, err := l.Donors()
	if err != nil || len(donors) == 0 {
		t.Fatal(donors, err)
	}
	d := donors[0]
	all, err := l.AgreementChanges(d.Code)
	if err != nil || len(all) != 1 || asJSON(t, all[0].Agreement) != asJSON(t, d.Agreement) || all[0].At.IsZero() {
		t.Fatalf("%+v, %v, want %+v", all, err, d.Agreement)
	}
	d.Agreement.Ends = d.Agreement.Ends.AddDate(1, 0, 0)
	wantErr(t, l.SaveDonor(d), ErrSameAgreement)
	// Lines of format 2 have neither day nor place left; they are read as they are, and new ones follow.
	c := custody(t, l)
	for _, p := range c.Pieces(d.Code) {
		if h := c.History(p.Code); len(h) < 2 || h[1].From != "rack 1" || p.Came.IsZero() {
			t.Errorf("%+v", h)
		}
		enter(t, l, LedgerEntry{Deed: Trim, Piece: p.Code, Lost: 1, Made: []Made{{Kind: Trimmings, Name: "pot", Mass: 10}}})
	}
}
