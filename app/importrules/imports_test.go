package importrules

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "sectionary"

// mayImport tells for every package of ours which others of ours it may import. Arrows point from app toward geom and
// never back; assets imports nothing. A new package fails until it has a line here.
var mayImport = map[string][]string{
	"slices":                               {},
	"slices/geom":                          {},
	"slices/section":                       {"slices/geom"},
	"slices/photo":                         {"slices/geom"},
	"slices/photo/phototest":               {},
	"slices/ink":                           {"slices/geom"},
	"slices/scan":                          append([]string{"slices/geom"}, codecs...),
	"slices/scan/codec":                    {},
	"slices/scan/codec/internal/t81":       {"slices/scan/codec"},
	"slices/scan/codec/internal/frametest": {"slices/scan/codec"},
	"slices/scan/codec/jpeg12":             {"slices/scan/codec", "slices/scan/codec/internal/t81"},
	"slices/scan/codec/jpeg2k":             {"slices/scan/codec"},
	"slices/scan/codec/jpegll":             {"slices/scan/codec", "slices/scan/codec/internal/t81"},
	"slices/scan/codec/jpegls":             {"slices/scan/codec"},
	"slices/scan/codec/rle":                {"slices/scan/codec"},
	"slices/register":                      {"slices/geom", "slices/section", "slices/scan"},
	"annotate":                             {"slices/geom", "slices/photo"},
	"assets":                               {},
	"atlas":                                append([]string{"annotate", "atlas/store"}, core...),
	"atlas/store":                          {},
	"atlas/exchange":                       append([]string{"atlas", "atlas/quiz", "annotate", "slices/ink"}, core...),
	"atlas/drill":                          {"annotate", "slices/geom", "slices/section"},
	"atlas/quiz":                           append([]string{"atlas", "atlas/drill", "annotate", "slices/ink"}, core...),
	"atlas/practice":                       append([]string{"atlas", "annotate", "assets", "slices/ink"}, core...),
	"app/bench":                            append([]string{"atlas", "atlas/drill", "atlas/exchange", "atlas/quiz", "atlas/practice", "annotate", "assets", "slices/ink"}, core...),
	"app/cli":                              append([]string{"atlas", "atlas/drill", "atlas/exchange", "atlas/quiz", "atlas/practice", "annotate", "assets", "slices/ink"}, core...),
	"app/ui":                               {"app/bench", "atlas", "annotate", "slices/geom", "slices/section", "assets"},
	"app/windowtest":                       {},
	"app/importrules":                      {},
	"app":                                  {"app/ui"},
}

var (
	core   = []string{"slices/geom", "slices/section", "slices/photo", "slices/scan", "slices/register"}
	codecs = []string{"slices/scan/codec", "slices/scan/codec/jpeg12", "slices/scan/codec/jpeg2k", "slices/scan/codec/jpegll", "slices/scan/codec/jpegls", "slices/scan/codec/rle"}
)

// testsMayImport adds what the tests of a package may import of ours besides.
var testsMayImport = map[string][]string{
	"app/bench":                {"slices/photo/phototest"},
	"app/cli":                  {"slices/photo/phototest"},
	"app/ui":                   {"slices/photo"},
	"atlas":                    {"slices/photo/phototest"},
	"atlas/exchange":           {"assets", "atlas/practice"},
	"slices/photo":             {"slices/photo/phototest"},
	"slices/scan/codec/jpeg12": {"slices/scan/codec/internal/frametest"},
	"slices/scan/codec/jpeg2k": {"slices/scan/codec/internal/frametest"},
	"slices/scan/codec/jpegll": {"slices/scan/codec/internal/frametest"},
	"slices/scan/codec/jpegls": {"slices/scan/codec/internal/frametest"},
	"slices/scan/codec/rle":    {"slices/scan/codec/internal/frametest"},
}

// owners tells which packages may import an outside module or a part of one: one owner, two at most, so that replacing
// it touches one or two folders. The longest entry that fits an import decides.
var owners = map[string][]string{
	"codeberg.org/go-pdf/fpdf":                  {"atlas/quiz"},
	"fyne.io/fyne/v2":                           {"app/ui"},
	"fyne.io/fyne/v2/app":                       {"app"}, // the window driver; app/ui is tested without it
	"github.com/disintegration/imaging":         {"slices/photo"},
	"github.com/gen2brain/heic":                 {"slices/photo"},
	"github.com/paulmach/orb":                   {"annotate"},
	"github.com/peterstace/simplefeatures/geom": {"annotate"},
	"github.com/piglig/go-qr":                   {"atlas/quiz"},
	"github.com/schollz/progressbar/v3":         {"app/cli"},
	"github.com/spf13/cobra":                    {"app/cli"},
	"github.com/suyashkumar/dicom":              {"slices/scan"},
	"github.com/tidwall/rtree":                  {"annotate"},
	"golang.org/x/image":                        {"slices/photo", "slices/photo/phototest"},
	"golang.org/x/image/font":                   {"slices/ink", "atlas/quiz"},
	"golang.org/x/image/math/fixed":             {"slices/ink"},
	"golang.org/x/text":                         {"annotate"},
	"gonum.org/v1/gonum":                        {"slices/geom", "slices/register", "slices/photo"},
	"modernc.org/sqlite":                        {"atlas/store"},
}

// threeOwners are the exceptions from two owners at most.
var threeOwners = map[string]string{
	"gonum.org/v1/gonum": "small linear algebra; colour and the spread of a calibration are fitted where photographs are",
}

// inTests are modules that any test may import.
var inTests = []string{"pgregory.net/rapid", "github.com/google/go-cmp/cmp", "github.com/rogpeppe/go-internal/testscript"}

func TestImports(t *testing.T) {
	root := moduleRoot(t)
	seen := map[string]bool{}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() && file != root && (strings.HasPrefix(name, ".") || strings.HasPrefix(name, "_") || name == "testdata" || name == "bin" || name == "out") {
			return filepath.SkipDir
		}
		rel, err := filepath.Rel(root, file)
		rel = filepath.ToSlash(rel)
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") {
			return err
		}
		pkg := path.Dir(rel)
		if _, known := mayImport[pkg]; !known {
			if !seen[pkg] {
				t.Errorf("package %s has no line in mayImport: say what it may import", pkg)
			}
			seen[pkg] = true
			return nil
		}
		seen[pkg] = true
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range parsed.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if why := forbidden(pkg, imported, strings.HasSuffix(name, "_test.go")); why != "" {
				t.Errorf("%s imports %s: %s", rel, imported, why)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for pkg := range mayImport {
		if _, err := os.Stat(filepath.Join(root, filepath.FromSlash(pkg))); err != nil {
			t.Errorf("mayImport has a line for %s, which is not there", pkg)
		}
	}
}

// forbidden tells why a file of pkg may not import a package, "" when it may.
func forbidden(pkg, imported string, test bool) string {
	if imported == "C" {
		if pkg != "slices/scan/codec/jpeg2k" {
			return "only the JPEG 2000 decoder may use cgo"
		}
		return ""
	}
	if ours, ok := strings.CutPrefix(imported, module+"/"); ok {
		switch {
		case slices.Contains(mayImport[pkg], ours):
		case test && (ours == pkg || slices.Contains(testsMayImport[pkg], ours)):
		case test && ours == "assets": // the shipped lists are what much is tried on
		default:
			return "mayImport does not allow it"
		}
		return ""
	}
	if !strings.Contains(strings.Split(imported, "/")[0], ".") {
		return "" // the standard library
	}
	if test && slices.Contains(inTests, imported) {
		return ""
	}
	owner := ""
	for m := range owners {
		if (imported == m || strings.HasPrefix(imported, m+"/")) && len(m) > len(owner) {
			owner = m
		}
	}
	if owner == "" {
		return "no package owns that module; owners has no line for it"
	}
	if !slices.Contains(owners[owner], pkg) {
		return "its owner is " + strings.Join(owners[owner], " and ")
	}
	return ""
}

func TestOwnersAreFew(t *testing.T) {
	for m, who := range owners {
		if len(who) > 2 && threeOwners[m] == "" {
			t.Errorf("%s has %d owners; two are the most", m, len(who))
		}
		for _, pkg := range who {
			if _, known := mayImport[pkg]; !known {
				t.Errorf("%s is owned by %s, which is not there", m, pkg)
			}
		}
	}
}

// Arrows never run in a circle, and nothing below points up to the window or the prompt.
func TestArrowsPointDown(t *testing.T) {
	var visit func(pkg string, way []string)
	visit = func(pkg string, way []string) {
		if slices.Contains(way, pkg) {
			t.Fatalf("a circle: %s", strings.Join(append(way, pkg), " -> "))
		}
		for _, next := range mayImport[pkg] {
			if strings.HasPrefix(next, "app") && !strings.HasPrefix(pkg, "app") {
				t.Errorf("%s points up to %s", pkg, next)
			}
			visit(next, append(slices.Clone(way), pkg))
		}
	}
	for pkg := range mayImport {
		visit(pkg, nil)
	}
}

// The rules do refuse: a few imports that must never pass.
func TestForbidden(t *testing.T) {
	for _, c := range []struct {
		pkg, imported string
		test, refused bool
	}{
		{"slices/geom", "sectionary/slices/section", false, true},
		{"slices/section", "sectionary/slices/geom", false, false},
		{"app/cli", "sectionary/app/bench", false, true},
		{"app/bench", "fyne.io/fyne/v2", false, true},
		{"app/ui", "fyne.io/fyne/v2/widget", false, false},
		{"app/ui", "fyne.io/fyne/v2/app", false, true},
		{"app/ui", "fyne.io/fyne/v2/app", true, true},
		{"assets", "sectionary/annotate", false, true},
		{"atlas", "modernc.org/sqlite", false, true},
		{"atlas", "pgregory.net/rapid", false, true},
		{"atlas", "pgregory.net/rapid", true, false},
		{"atlas", "example.org/new", true, true},
		{"annotate", "C", false, true},
		{"annotate", "encoding/json", false, false},
	} {
		if why := forbidden(c.pkg, c.imported, c.test); (why != "") != c.refused {
			t.Errorf("%s importing %s (test %v): %q", c.pkg, c.imported, c.test, why)
		}
	}
}

func moduleRoot(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if filepath.Dir(dir) == dir {
			t.Fatal("no go.mod above the test")
		}
		dir = filepath.Dir(dir)
	}
}
