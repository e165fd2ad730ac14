package bench

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// parse reads every Go file of a folder that is not a test.
func parse(t *testing.T, dir string) []*ast.File {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []*ast.File
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".go") && !strings.HasSuffix(e.Name(), "_test.go") {
			f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(dir, e.Name()), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, f)
		}
	}
	return out
}

// Every exported error of the core packages has a row of its own: found in the source, not listed by hand. The codecs'
// errors are wrapped by scan and never reach a person bare.
func TestEveryErrorIsExplained(t *testing.T) {
	explainedNames := map[string]bool{}
	for _, f := range parse(t, ".") {
		ast.Inspect(f, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok || len(v.Names) != 1 || v.Names[0].Name != "explained" {
				return true
			}
			ast.Inspect(v, func(n ast.Node) bool {
				if s, ok := n.(*ast.SelectorExpr); ok {
					explainedNames[s.X.(*ast.Ident).Name+"."+s.Sel.Name] = true
				}
				if i, ok := n.(*ast.Ident); ok {
					explainedNames["bench."+i.Name] = true
				}
				return true
			})
			return false
		})
	}
	n := 0
	for dir, pkg := range map[string]string{"../../slices/geom": "geom", "../../slices/section": "section", "../../slices/photo": "photo",
		"../../slices/scan": "scan", "../../slices/register": "register", "../../annotate": "annotate", "../../atlas": "atlas", "../../atlas/quiz": "quiz", "../../atlas/drill": "drill", "../../atlas/exchange": "exchange", ".": "bench"} {
		for _, f := range parse(t, dir) {
			for _, d := range f.Decls {
				g, ok := d.(*ast.GenDecl)
				if !ok || g.Tok != token.VAR {
					continue
				}
				for _, s := range g.Specs {
					for _, name := range s.(*ast.ValueSpec).Names {
						if !strings.HasPrefix(name.Name, "Err") {
							continue
						}
						if n++; !explainedNames[pkg+"."+name.Name] {
							t.Errorf("%s.%s has no row in explained", pkg, name.Name)
						}
					}
				}
			}
		}
	}
	if n < 40 {
		t.Errorf("only %d errors were found; the search is broken", n)
	}
	other := Explain(errors.New("x")).Title
	for _, row := range explained {
		m := Explain(row.err)
		if m.Title == other || m.Title == "" || strings.HasPrefix(m.Title, "[") || strings.Contains(m.Hint, "[err") {
			t.Errorf("%v: %q, %q", row.err, m.Title, m.Hint)
		}
	}
}

// Every key that the code asks for is in the table, with as many gaps as it is given.
func TestEveryWordIsThere(t *testing.T) {
	verb := regexp.MustCompile(`%[-+ 0-9.\[\]]*[a-zA-Z]`)
	used := map[string]bool{}
	for _, f := range parse(t, ".") {
		ast.Inspect(f, func(n ast.Node) bool {
			c, ok := n.(*ast.CallExpr)
			if !ok || len(c.Args) == 0 {
				return true
			}
			name, ok := c.Fun.(*ast.Ident)
			if !ok || (name.Name != "Word" && name.Name != "count") {
				return true
			}
			lit, ok := c.Args[0].(*ast.BasicLit)
			if !ok {
				return true
			}
			key, _ := strconv.Unquote(lit.Value)
			used[key] = true
			text, ok := words[key]
			if !ok {
				t.Errorf("%q is not in the table", key)
				return true
			}
			if got, want := len(verb.FindAllString(strings.ReplaceAll(text, "%%", ""), -1)), len(c.Args)-1; got != want {
				t.Errorf("%q has %d gaps and is given %d", key, got, want)
			}
			return true
		})
	}
	if len(used) < 100 {
		t.Errorf("only %d keys were found; the search is broken", len(used))
	}
	for _, c := range commandTable {
		if _, ok := words["cmd."+c.id]; !ok {
			t.Errorf("command %s has no words", c.id)
		}
	}
	for f := section.Superior; f <= section.Right; f++ {
		if strings.HasPrefix(Word("end."+f.String()), "[") || (usualUp(f) == f && strings.HasPrefix(Word("ring.ask."+f.String()), "[")) {
			t.Errorf("no words for %v", f)
		}
	}
	for p := section.UnknownPlane; p <= section.Sagittal; p++ {
		if strings.HasPrefix(Word("plane."+p.String()), "[") {
			t.Errorf("no words for %v", p)
		}
	}
}

// The words to avoid are those of the vocabulary.
func TestWordsToAvoid(t *testing.T) {
	avoid := regexp.MustCompile(`(?i)\b(viewer|explorer|workstation|suite|hub|cloud|dashboard|gallery|library|atlas|hanging|mpr|3d|crosshair|layers|roi|segmentation|smart|auto|ai|magic|wizard|asset|inventory|stock|inspect|game|flashcard|deck|streak|leaderboard|cadaver|corpse|subject|specimen|carve|butcher|harvest|accuracy|confirmed|normal|abnormal|lasso|wand|brush|plate)\b`)
	for key, text := range words {
		for _, w := range avoid.FindAllString(text, -1) {
			if strings.EqualFold(w, "plate") && (strings.HasPrefix(key, "scale.") || strings.HasPrefix(key, "err.")) {
				continue // the scale plate
			}
			t.Errorf("%s: %q holds %q", key, text, w)
		}
	}
}

func TestCommandTable(t *testing.T) {
	b, _, _ := sample(t)
	seen := map[string]map[Screen]string{}
	for _, c := range commandTable {
		on := c.on
		if on == nil {
			on = []Screen{StartScreen, RunScreen, FaceScreen, PairingScreen, HandOutScreen, StationsScreen, FreshScreen, RoomScreen, PackScreen, StudyScreen, DrillScreen}
		}
		for _, s := range on {
			if c.key == "" {
				continue
			}
			if seen[c.key] == nil {
				seen[c.key] = map[Screen]string{}
			}
			if other := seen[c.key][s]; other != "" {
				t.Errorf("key %s on screen %d does %s and %s", c.key, s, other, c.id)
			}
			seen[c.key][s] = c.id
		}
	}
	// A command that is not enabled does nothing, whatever key or menu calls it.
	for _, c := range b.Commands() {
		if c.Enabled != (c.Why == "") {
			t.Errorf("%s: enabled %v, why %q", c.ID, c.Enabled, c.Why)
		}
		if !c.Enabled {
			before := b.Screen()
			c.Run()
			if b.Screen() != before || b.Tool() != ToolPan {
				t.Errorf("%s ran although it may not", c.ID)
			}
		}
	}
}

func TestExplainKeepsTheDetail(t *testing.T) {
	err := errors.Join(&fs.PathError{Op: "open", Path: "x.jpg", Err: fs.ErrNotExist})
	if m := Explain(err); !strings.Contains(m.Hint, "x.jpg") || m.Title != Word("err.notexist") {
		t.Errorf("%+v", m)
	}
	if m := Explain(&annotate.CrossingError{}); m.Title != Word("err.crossing") {
		t.Errorf("%+v", m)
	}
	_ = atlas.ErrLocked
}

// A key that stands twice would silently take the later words, also where the earlier ones were meant.
func TestNoKeyTwice(t *testing.T) {
	seen := map[string]bool{}
	for line := range strings.Lines(wordTable) {
		key, _, ok := strings.Cut(line, "\t")
		if ok && seen[key] {
			t.Errorf("%s stands twice", key)
		}
		seen[key] = true
	}
}
