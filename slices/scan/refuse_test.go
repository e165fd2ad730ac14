package scan

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"sectionary/slices/scan/codec/jpeg2k"
)

// TestRefusedByName: what this program does not open says what it is. The kinds are told from the table of
// testdata/scan/pixels.json (SOP class and syntax as pydicom reads them).
func TestRefusedByName(t *testing.T) {
	var tables map[string]map[string]pixelTruth
	readJSON(t, root(t)+"/testdata/scan/pixels.json", &tables)
	base := os.DirFS(shared(t, "dicom-syntaxes"))
	told := map[string]int{}
	for path, want := range tables["syntaxes"] {
		data, err := fs.ReadFile(base, path)
		if err != nil {
			t.Fatal(err)
		}
		list, skipped := survey(t, fstest.MapFS{"f": {Data: data}})
		word := ""
		switch {
		case strings.HasSuffix(want.Syntax, ".201") || strings.HasSuffix(want.Syntax, ".203"):
			word = "High-Throughput JPEG 2000"
		case want.Modality == "US":
			word = "ultrasound"
		case want.Modality == "SM":
			word = "whole-slide"
		case want.Modality == "SEG":
			word = "segmentation"
		case want.Modality == "SR":
			word = "report"
		case want.SHA256 == "":
			continue
		}
		if word == "" && (strings.HasSuffix(want.Syntax, ".90") || strings.HasSuffix(want.Syntax, ".91")) && !jpeg2k.Built {
			word = "JPEG 2000 pixel data cannot be opened in this build"
		}
		if word == "" {
			if len(list) != 1 {
				t.Errorf("%s: %d series, %v", path, len(list), skipped["f"])
			}
			continue
		}
		told[word]++
		if len(list) != 0 || skipped["f"] == nil || !strings.Contains(skipped["f"].Error(), word) {
			t.Errorf("%s: %d series, reason %v; want %q", path, len(list), skipped["f"], word)
		}
	}
	if delete(told, "JPEG 2000 pixel data cannot be opened in this build"); len(told) != 5 {
		t.Errorf("only these kinds were met: %v", told)
	}
}

// TestSyntaxNames: every transfer syntax of PS3.6 Annex A that is not opened is named in words.
func TestSyntaxNames(t *testing.T) {
	for syntax, word := range map[string]string{
		"1.2.840.10008.1.2.4.100": "video", "1.2.840.10008.1.2.4.102.1": "video", "1.2.840.10008.1.2.4.107": "video",
		"1.2.840.10008.1.2.4.110": "JPEG XL", "1.2.840.10008.1.2.4.202": "High-Throughput", "1.2.840.10008.1.2.4.94": "server",
		"1.2.840.10008.1.2.4.55": "withdrawn", "1.2.840.10008.1.2.4.92": "multi-component", "1.2.3.4": "1.2.3.4",
	} {
		f := slice{}.file()
		f.Data = bytes.Replace(f.Data, append([]byte("UI\x14\x00"), syntaxExplicit+"\x00"...), uidElement(syntax), 1)
		_, skipped := survey(t, fstest.MapFS{"f": f})
		if err := skipped["f"]; !errors.Is(err, ErrUnsupported) || !strings.Contains(err.Error(), word) {
			t.Errorf("%s: %v, want %q", syntax, err, word)
		}
	}
}

func uidElement(uid string) []byte {
	if len(uid)%2 == 1 {
		uid += "\x00"
	}
	return append([]byte{'U', 'I', byte(len(uid)), 0}, uid...)
}

// TestReadingTricks: headers that lie or leave out, as PS3.5 and common practice have them.
func TestReadingTricks(t *testing.T) {
	plain := slice{fill: 7}.file().Data
	body := plain[bytes.Index(plain, []byte{8, 0, 8, 0, 'C', 'S'}):]
	implicit := slice{fill: 7}.implicit()
	with := func(syntax string, body []byte) []byte {
		var meta dicomBuffer
		meta.Write(make([]byte, 128))
		meta.WriteString("DICM")
		if syntax != "" {
			meta.text(0x00020010, "UI", syntax)
		}
		return append(meta.Bytes(), body...)
	}
	for name, data := range map[string][]byte{
		"explicit":                    plain,
		"no preamble, no meta":        body,
		"no preamble, with meta":      plain[132:],
		"only the four letters":       plain[128:],
		"no syntax stated":            with("", body),
		"implicit said, explicit is":  with(syntaxImplicit, body),
		"explicit said, implicit is":  with(syntaxExplicit, implicit),
		"implicit":                    with(syntaxImplicit, implicit),
		"implicit without meta":       implicit,
		"big endian said, little is":  with(syntaxBigEndian, body),
		"deflated said, plain is":     with(syntaxDeflated, body),
		"compressed said, plain is":   with(syntaxRLE, body),
		"padding behind":              append(bytes.Clone(plain), make([]byte, 300)...),
		"private syntax, little, old": with("1.2.840.113619.5.2", implicit),
	} {
		s, v := only(t, fstest.MapFS{"f": {Data: data}})
		if v.Value(4, 3, 0) != 26 || s.Size != [3]int{5, 4, 1} {
			t.Errorf("%s: value %g size %v", name, v.Value(4, 3, 0), s.Size)
		}
	}
}

// implicit returns the data set of a slice written implicitly, without preamble.
func (s slice) implicit() []byte {
	b := &build{enc: encoding{implicit: true}}
	f, err := parseFile(s.file().Data, true)
	if err != nil {
		panic(err)
	}
	for _, e := range append(f.elements, *f.pixels) {
		b.element(e.tag, e.vr, e.value)
	}
	return b.body
}

// TestUnknownSequences: a sequence of unknown representation and length is read as implicit (CP-246), and elements with
// the representations OV, SV, UV and UC (PS3.5 7.1.2) do not derail what follows.
func TestUnknownSequences(t *testing.T) {
	f := slice{fill: 3, more: func(b *build) {
		b.body = append(b.body, 0x09, 0x00, 0x10, 0x10, 'U', 'N', 0, 0, 0xff, 0xff, 0xff, 0xff) // undefined length
		b.body = append(b.body, 0xfe, 0xff, 0x00, 0xe0, 0xff, 0xff, 0xff, 0xff)
		b.body = append(b.body, 0x10, 0x00, 0x20, 0x00, 4, 0, 0, 0, 'S', 'Q', ' ', ' ') // implicit inside
		b.body = append(b.body, 0xfe, 0xff, 0x0d, 0xe0, 0, 0, 0, 0)
		b.body = append(b.body, 0xfe, 0xff, 0xdd, 0xe0, 0, 0, 0, 0)
		for _, vr := range []string{"OV", "SV", "UV", "UC", "OL", "OD", "UR"} {
			b.element(0x00091020, vr, make([]byte, 16))
		}
	}}.file()
	_, v := only(t, fstest.MapFS{"f": f})
	if v.Value(0, 0, 0) != 3 {
		t.Errorf("first value %g", v.Value(0, 0, 0))
	}
}

// TestClaimsCostNothing: lengths, counts and sizes that a file only claims are refused with a reason.
func TestClaimsCostNothing(t *testing.T) {
	change := func(from, to string) []byte {
		d := slice{more: func(b *build) { b.text(tagFrames, "IS", "1     ") }}.file().Data
		if !bytes.Contains(d, []byte(from)) {
			t.Fatalf("%q is not there", from)
		}
		return bytes.Replace(d, []byte(from), []byte(to), 1)
	}
	cut := func(d []byte) []byte { return d[:len(d)-2] }
	for name, data := range map[string][]byte{
		"rows":           change("\x10\x00US\x02\x00\x04\x00", "\x10\x00US\x02\x00\xff\xff"),
		"no rows":        change("\x10\x00US\x02\x00\x04\x00", "\x10\x00US\x00\x00\x04\x00"),
		"frames":         change("1     ", "999999"),
		"words":          change("1     ", "1A    "),
		"pixel length":   cut(change("OW\x00\x00\x28\x00\x00\x00", "OW\x00\x00\xf0\xff\xff\xff")),
		"element length": change("CS\x16\x00ORIG", "UT\x00\x00\xf0\xff"),
		"bits":           change("\x00\x01US\x02\x00\x10\x00", "\x00\x01US\x02\x00\x40\x00"),
	} {
		list, skipped := survey(t, fstest.MapFS{"f": {Data: data}})
		if len(list) != 0 || skipped["f"] == nil {
			t.Errorf("%s: opened as %v", name, list)
		}
	}
}
