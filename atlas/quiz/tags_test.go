package quiz

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// keeping is a lab with a donor of two slabs, a container and a shelf; names are hostile.
func keeping(t *testing.T) (*atlas.Library, section.Run, map[string]string) {
	t.Helper()
	l, err := atlas.Create(filepath.Join(t.TempDir(), "Lab"))
	must(t, err)
	t.Cleanup(func() { l.Close() })
	must(t, l.AddDonor(atlas.Donor{Code: "SECRET-7", Agreement: atlas.Agreement{Permitted: map[atlas.Purpose]bool{}}}))
	r, err := l.SaveRun(section.Run{Donor: "SECRET-7", Part: "trunk", Plane: section.Transverse, First: section.Superior,
		Slabs: []section.Slab{{Number: 1, Thickness: [3]float64{20}}, {Number: 2, Thickness: [3]float64{20}}}})
	must(t, err)
	codes := map[string]string{}
	for _, e := range []atlas.LedgerEntry{
		{Deed: atlas.Provide, To: "cold room", Made: []atlas.Made{{Kind: atlas.ShelfKind, Name: "shelf A"}}},
		{Deed: atlas.Provide, To: "shelf A", Donor: "SECRET-7", Made: []atlas.Made{{Kind: atlas.BoxKind, Name: "box 3"}}},
		{Deed: atlas.Receive, Donor: "SECRET-7", To: "box 3", Made: []atlas.Made{{Kind: atlas.SlabPiece, Name: "Mr Smith upper", Mass: 1600, Run: r.ID, Slab: 1}}},
		{Deed: atlas.Receive, Donor: "SECRET-7", To: "box 3", Made: []atlas.Made{{Kind: atlas.SlabPiece, Name: "slab 2", Mass: 1500, Run: r.ID, Slab: 2}}},
	} {
		e.Who = "AB"
		got, err := l.Enter(context.Background(), e)
		must(t, err)
		codes[got.Made[0].Name] = got.Made[0].Code
	}
	cut, err := l.Enter(context.Background(), atlas.LedgerEntry{Who: "AB", Deed: atlas.Trim, Piece: codes["slab 2"], Lost: 3, Why: "ran off",
		Made: []atlas.Made{{Kind: atlas.Trimmings, Name: "trimmings pot", Mass: 40}}})
	must(t, err)
	codes["trimmings pot"] = cut.Made[0].Code
	return l, r, codes
}

// paperText is what pdftotext of poppler reads from a PDF.
func paperText(t *testing.T, pdf []byte) string {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed")
	}
	c := exec.Command("pdftotext", "-raw", "-", "-")
	c.Stdin = bytes.NewReader(pdf)
	out, err := c.Output()
	must(t, err)
	return string(out)
}

// Row CU5: the tag says item code, face arrow and plane, no name, and its QR code is read by zbarimg.
func TestCU5Tags(t *testing.T) {
	l, r, codes := keeping(t)
	c, err := l.Custody(context.Background())
	must(t, err)
	all := []string{codes["Mr Smith upper"], codes["slab 2"], codes["trimmings pot"], codes["box 3"], codes["shelf A"]}
	for i := range 27 { // onto a second sheet
		all = append(all, all[i%3])
	}
	tags, err := MakeTags(c, []section.Run{r}, all)
	must(t, err)
	if tags[0].Toward != section.Superior || tags[2].Toward != section.UnknownFacing || tags[2].Words != "trimmings of trunk, slab 2" {
		t.Errorf("%+v", tags[:3])
	}
	if _, err := MakeTags(c, nil, []string{"ZZZZZZ"}); err == nil {
		t.Error("a code that nothing has got a tag")
	}
	if err := WriteTags(&bytes.Buffer{}, nil, A4); err == nil {
		t.Error("a sheet without tags")
	}
	for _, paper := range []Paper{A4, Letter} {
		var pdf bytes.Buffer
		must(t, WriteTags(&pdf, tags, paper))
		text := paperText(t, pdf.Bytes())
		if strings.Count(text, "\f") != 2 {
			t.Errorf("%d pages", strings.Count(text, "\f"))
		}
		for _, want := range []string{all[0], "trunk, slab 1", "transverse plane", "superior face", "trimmings of trunk, slab 2", "box 3", "shelf A"} {
			if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
				t.Errorf("%s: %q is not on the sheet:\n%s", paper, want, text)
			}
		}
		for _, name := range []string{"SECRET-7", "Smith"} {
			if strings.Contains(text, name) || bytes.Contains(pdf.Bytes(), []byte(name)) {
				t.Errorf("%s: the sheet names %s", paper, name)
			}
		}
		if got := scanned(t, pdf.Bytes()); !slices.Equal(got, sorted(all)) {
			t.Errorf("%s: zbarimg read %v, want %v", paper, got, sorted(all))
		}
	}
}

func sorted(s []string) []string { return slices.Sorted(slices.Values(s)) }

// scanned is what zbarimg reads from the pages of a PDF, painted by pdftoppm.
func scanned(t *testing.T, pdf []byte) []string {
	t.Helper()
	for _, tool := range []string{"zbarimg", "pdftoppm"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed (zbar-tools, poppler-utils)")
		}
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "tags.pdf")
	must(t, os.WriteFile(file, pdf, 0o600))
	must(t, exec.Command("pdftoppm", "-r", "150", "-png", file, filepath.Join(dir, "page")).Run())
	pages, err := filepath.Glob(filepath.Join(dir, "page*.png"))
	must(t, err)
	args := []string{"-q", "--raw"}
	for _, p := range pages { // cut along the lines, as people do
		b, err := os.ReadFile(p)
		must(t, err)
		sheet, err := png.Decode(bytes.NewReader(b))
		must(t, err)
		edge := tagMargin / 25.4 * 150
		w, h := (float64(sheet.Bounds().Dx())-2*edge)/tagColumns, (float64(sheet.Bounds().Dy())-2*edge)/tagRows
		for on := range tagColumns * tagRows {
			x, y := edge+float64(on%tagColumns)*w, edge+float64(on/tagColumns)*h
			tag := image.NewRGBA(image.Rect(0, 0, int(w), int(h)))
			draw.Draw(tag, tag.Rect, sheet, image.Pt(int(x), int(y)), draw.Src)
			var out bytes.Buffer
			must(t, png.Encode(&out, tag))
			name := fmt.Sprintf("%s-%d.png", p, on)
			must(t, os.WriteFile(name, out.Bytes(), 0o600))
			args = append(args, name)
		}
	}
	out, _ := exec.Command("zbarimg", args...).Output() // status 4 tells that some pictures, the empty places, hold none
	return sorted(strings.Fields(string(out)))
}

// Row CU4: the return list goes by container, with empty signature lines and mass in against mass out.
func TestCU4ReturnList(t *testing.T) {
	l, r, codes := keeping(t)
	c, err := l.Custody(context.Background())
	must(t, err)
	today := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	list := func(c atlas.Custody) string {
		var pdf bytes.Buffer
		must(t, WriteReturnList(&pdf, c.Reconcile("SECRET-7", []section.Run{r}), today, A4))
		return strings.Join(strings.Fields(paperText(t, pdf.Bytes())), " ")
	}
	text := list(c)
	for _, want := range []string{"Return list, donor SECRET-7", "Box 3 on shelf A", codes["trimmings pot"] + " trimmings trimmings pot 40 g", "3 pieces, 3097 g together.",
		"packed by, date checked by, date", "handed over by, date received by, date", "Came in 3100 g", "line 5: ran off 3 g", "Unaccounted for 0.0 g"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the list:\n%s", want, text)
		}
	}
	if strings.Contains(text, "Not ready") {
		t.Error("a list that is ready says it is not")
	}
	_, err = l.Enter(context.Background(), atlas.LedgerEntry{Who: "AB", Deed: atlas.Lend, Piece: codes["slab 2"], To: "Room 2", Due: time.Now().AddDate(0, 0, 1), Why: "class"})
	must(t, err)
	c, err = l.Custody(context.Background())
	must(t, err)
	if text := list(c); !strings.Contains(text, "Not ready to return - slab 2 is on loan to Room 2") {
		t.Errorf("the list does not say what blocks:\n%s", text)
	}
	var pdf bytes.Buffer
	must(t, WriteHistory(&pdf, c, codes["slab 2"], today, A4))
	text = strings.Join(strings.Fields(paperText(t, pdf.Bytes())), " ")
	for _, want := range []string{"slab 2, slab of donor SECRET-7", "3 lines", "came in", "3 g lost", "lent until", "box 3 on shelf A to Room 2", "class"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in the history:\n%s", want, text)
		}
	}
	if err := WriteHistory(&pdf, c, "ZZZZZZ", today, A4); err == nil {
		t.Error("nothing has a history")
	}
}

// Row CU4: once the donor went back, pictures follow the agreement: withdrawn from hand-outs, or kept for what it permits.
func TestCU4PicturesAfterTheReturn(t *testing.T) {
	l := newLab(t, straight(), photo.Scaled)
	ctx := context.Background()
	enter := func(e atlas.LedgerEntry) {
		t.Helper()
		e.Who = "AB"
		_, err := l.Enter(ctx, e)
		must(t, err)
	}
	for _, s := range l.run.Slabs {
		enter(atlas.LedgerEntry{Deed: atlas.Receive, Donor: donorCode, To: "box", Made: []atlas.Made{{Kind: atlas.SlabPiece, Name: fmt.Sprint("slab ", s.Number), Mass: 900, Run: l.run.ID, Slab: s.Number}}})
	}
	if s, _ := handOut(t, l, l.request(Study)); !s.Allowed {
		t.Fatalf("while the donor is here: %s", s.Reason)
	}
	enter(atlas.LedgerEntry{Deed: atlas.Ready, Donor: donorCode})
	enter(atlas.LedgerEntry{Deed: atlas.Return, Donor: donorCode})
	for _, c := range []struct {
		after   atlas.AfterReturn
		allowed bool
		reason  string
	}{{atlas.NotRecorded, false, "the agreement does not say that pictures may be kept in use"}, {atlas.KeepPictures, true, ""}, {atlas.WithdrawPictures, false, "the agreement withdraws the pictures then"}} {
		d, err := l.Donor(donorCode)
		must(t, err)
		d.Agreement.AfterReturn = c.after
		must(t, l.SaveDonor(d))
		for _, k := range []Kind{Study, Exam} {
			if s, _ := handOut(t, l, l.request(k)); s.Allowed != c.allowed || !strings.Contains(s.Reason, c.reason) {
				t.Errorf("%q, %s: allowed %v, %q", c.after, k, s.Allowed, s.Reason)
			}
		}
	}
}
