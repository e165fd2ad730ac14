package quiz

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"image"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/drill"
	"sectionary/slices/photo"
)

func makePack(t *testing.T, l lab, r PackRequest) (Slip, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "out")
	s, err := MakePack(context.Background(), l.Library, terms(t), r, dir, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !s.Allowed {
		return s, ""
	}
	released(t, Slip{Files: s.Files, Code: "study-" + s.Code}, dir)
	return s, filepath.Join(dir, s.Files[0].Name)
}

// packLab is a lab of three faces, every label signed but the first of each face, that ends on a day.
func packLab(t *testing.T, ends time.Time) lab {
	t.Helper()
	l := newLab(t, tilted(), photo.Rectified)
	for _, slab := range []int{6, 7} {
		addFace(t, l.Library, l.run, slab, straight(), photo.Scaled)
	}
	for _, id := range l.plates(t) {
		p, err := l.Plate(id)
		if err != nil {
			t.Fatal(err)
		}
		first := true
		for x := range p.Labels.All() {
			if first {
				first = false
				continue
			}
			if p.Labels, err = p.Labels.Sign(x.ID, annotate.Stamp{Author: "second reader", At: time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)}); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := l.Save(p); err != nil {
			t.Fatal(err)
		}
	}
	d, err := l.Donor(donorCode)
	if err != nil {
		t.Fatal(err)
	}
	d.Agreement.Ends = ends
	if err := l.SaveDonor(d); err != nil {
		t.Fatal(err)
	}
	return l
}

func (l lab) plates(t *testing.T) (ids []string) {
	t.Helper()
	for e, err := range l.Find(atlas.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, e.Plate)
	}
	return ids
}

// XP1, PS1, PS4: a pack holds the faces and their signed labels, no donor fact, neutral names and times; the pixels lie under the
// outlines; the lab has noted it; it opens until its last day and not after, whatever the clock says.
func TestXP1StudyPack(t *testing.T) {
	now := time.Now()
	ends := now.AddDate(0, 0, 40)
	l := packLab(t, ends)
	ids := l.plates(t)
	s, path := makePack(t, l, PackRequest{Plates: ids, Title: "Week 3"})
	if !s.Allowed || !s.LeakScan.Clean() {
		t.Fatalf("%+v", s)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	all := &bytes.Buffer{}
	for _, f := range z.File {
		if !f.Modified.UTC().Equal(Neutral) || !regexp.MustCompile(`^(README\.txt|manifest\.json|faces/[A-Z0-9]{10}\.jpg)$`).MatchString(f.Name) {
			t.Errorf("member %s of %v", f.Name, f.Modified)
		}
		r, _ := f.Open()
		all.ReadFrom(r)
		if strings.HasPrefix(f.Name, "faces/") && bytes.Contains(all.Bytes(), []byte("Exif")) {
			t.Error("EXIF in a picture")
		}
	}
	p, err := l.Plate(ids[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, word := range append(ids, donorCode, "SH31M", "A 7", "the donor office", "agreement", "second reader", l.run.ID, p.Photo.SHA256.String()) {
		if bytes.Contains(all.Bytes(), []byte(word)) {
			t.Errorf("the pack holds %q", word)
		}
	}
	if !bytes.Contains(all.Bytes(), []byte(NotForDiagnosis)) {
		t.Error("the pack does not say what it is not for")
	}

	pack, err := drill.Open(path, now, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	defer pack.Close()
	if pack.Expires != ends.Format(drill.Day) || pack.ClockBack || len(pack.Faces) != 3 {
		t.Fatalf("%+v", pack.Manifest)
	}
	named := 0
	for _, o := range body {
		if o.term != "" {
			named++
		}
	}
	for _, f := range pack.Faces {
		if len(f.Structures) != named-1 {
			t.Errorf("%s: %d structures, %d signed", pack.NameOf(f), len(f.Structures), named-1)
		}
		m, err := pack.Picture(f.Picture)
		if err != nil || m.Bounds().Size() != image.Pt(f.Width, f.Height) {
			t.Fatal(err)
		}
		for _, x := range f.Structures { // the colour at the tip is that of the organ painted there
			want := organOf(x.Term, x.Side).c
			r, g, b, _ := m.At(int(x.Tip.X+0.5), int(x.Tip.Y+0.5)).RGBA()
			if diff(r, want.R)+diff(g, want.G)+diff(b, want.B) > 60 {
				t.Errorf("%s, %s: %d %d %d at its tip, painted %v", pack.NameOf(f), pack.Words(x), r>>8, g>>8, b>>8, want)
			}
			if len(x.Rings) == 0 || x.Rings[0][0][0] != x.Regions[0].Outer[0].X*f.PerPixel {
				t.Errorf("%s: mm are not px times mm per px", pack.Words(x))
			}
		}
		if want := float64(f.Slab-1) * 21.2; f.Depth < want-1e-9 || f.Depth > want+1e-9 { // 20 mm and a kerf of 1.2 each
			t.Errorf("%s lies at %v mm, not %v", pack.NameOf(f), f.Depth, want)
		}
	}
	for _, x := range []struct {
		now, latest time.Time
		err         error
		back        bool
	}{
		{ends, time.Time{}, nil, false},
		{ends.AddDate(0, 0, 1), time.Time{}, drill.ErrExpired, false},
		{now.AddDate(-1, 0, 0), time.Time{}, nil, true},                         // before the pack was made
		{now, ends.AddDate(0, 0, 1), drill.ErrExpired, false},                   // the drill ran after the end already
		{now.AddDate(0, 0, -1), ends.AddDate(0, 0, 2), drill.ErrExpired, false}, // and the clock was set back
	} {
		q, err := drill.Open(path, x.now, x.latest)
		if !errors.Is(err, x.err) || (err == nil && q.ClockBack != x.back) {
			t.Errorf("at %v: %v", x.now, err)
		}
		if q != nil {
			q.Close()
		}
	}

	outs, err := l.HandOuts()
	if err != nil || len(outs) != 1 || !outs[0].Allowed || outs[0].Purpose != atlas.Teaching || len(outs[0].Files) != 1 {
		t.Errorf("%+v %v", outs, err)
	}
	shown, err := l.Shown()
	if err != nil || len(shown) != 3*(named-1) {
		t.Errorf("%d shown, %v", len(shown), err)
	}
	again, path2 := makePack(t, l, PackRequest{Plates: ids[:2], Unsigned: true})
	update, err := drill.Open(path2, now, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	defer update.Close()
	if again.Code == s.Code || update.Faces[0].Code != pack.Faces[0].Code || len(update.Faces[0].Structures) != named {
		t.Error("a new pack has another code, the same faces theirs, and unsigned labels when the lab says so")
	}
}

func diff(a uint32, b uint8) int { return max(int(a>>8)-int(b), int(b)-int(a>>8)) }

func organOf(id annotate.TermID, side annotate.Side) organ {
	for _, o := range body {
		if o.term == string(id) && o.side == side {
			return o
		}
	}
	return organ{}
}

// XP1, PS2: without the purpose, after the end, or with a word of the donor in the title nothing leaves, and that is noted.
func TestXP1Refused(t *testing.T) {
	l := packLab(t, time.Now().AddDate(0, 0, 40))
	ids := l.plates(t)
	for _, x := range []struct {
		r    PackRequest
		want string
	}{
		{PackRequest{Plates: ids, Purpose: atlas.PublicWeb}, "public web"},
		{PackRequest{Plates: ids, Title: "Donor SH31M"}, "Found in the finished files"},
		{PackRequest{Plates: ids, Title: "The liver"}, "gives an answer away"},
		{PackRequest{}, "No face"},
	} {
		s, _ := makePack(t, l, x.r)
		if s.Allowed || !strings.Contains(s.Reason, x.want) {
			t.Errorf("%+v: %+v", x.r, s)
		}
	}
	outs, err := l.HandOuts()
	if err != nil || len(outs) != 4 {
		t.Errorf("%d lines, %v", len(outs), err)
	}
	for _, h := range outs {
		if h.Allowed {
			t.Error("noted as allowed")
		}
	}
	l = packLab(t, time.Now().AddDate(0, 0, -1))
	if s, _ := makePack(t, l, PackRequest{Plates: l.plates(t)}); s.Allowed || !strings.Contains(s.Reason, "ended") {
		t.Errorf("%+v", s)
	}
}
