package ui

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// Words that sound like product features or other trades, or hurt dignity (the project's vocabulary), and the
// tool names that are fixed otherwise.
var forbidden = []string{"viewer", "explorer", "workstation", "suite", "hub", "cloud", "dashboard", "gallery", "library", "atlas",
	"hanging protocol", "mpr", "3d", "crosshair", "layers", "roi", "segmentation", "smart", "auto", "ai", "magic", "wizard", "asset",
	"inventory", "stock", "inspect", "game", "level-up", "flashcard", "deck", "streak", "leaderboard", "score-board", "cadaver", "corpse",
	"subject", "specimen", "carve", "butcher", "harvest", "body #", "accuracy", "confirmed", "normal", "abnormal", "lasso", "wand", "brush",
	"live-wire", "login", "log in", "plate"}

func TestWordsOfTheTrade(t *testing.T) {
	for key, text := range screenWords() {
		low := strings.ToLower(text)
		for _, f := range forbidden {
			if f == "plate" && strings.HasPrefix(key, "scale.") {
				continue // the scale plate is the one plate on screen
			}
			if regexp.MustCompile(`\b` + regexp.QuoteMeta(f) + `s?\b`).MatchString(low) {
				t.Errorf("%s says %q: %q is not a word for the screen", key, text, f)
			}
		}
	}
}

// Every key said in the source stands in the table, and every row of the table is said somewhere.
func TestTableOfWordsIsWhole(t *testing.T) {
	table := screenWords()
	if len(table) < 200 {
		t.Fatalf("only %d rows were read", len(table))
	}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	said, prefixes := map[string]bool{}, map[string]bool{}
	whole, open := regexp.MustCompile(`say\("([a-z0-9.\-]+)"[,)]`), regexp.MustCompile(`say\("([a-z0-9.\-]+)" ?\+`)
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range whole.FindAllStringSubmatch(string(b), -1) {
			said[m[1]] = true
		}
		for _, m := range open.FindAllStringSubmatch(string(b), -1) {
			prefixes[m[1]] = true
		}
	}
	for key := range said {
		if _, ok := table[key]; !ok {
			t.Errorf("%s is said but stands in no table", key)
		}
	}
	for key := range table {
		used := said[key]
		for p := range prefixes {
			used = used || strings.HasPrefix(key, p)
		}
		if !used {
			t.Errorf("%s stands in the table and is never said", key)
		}
	}
	if strings.Contains(assets.ScreenWords, "  ") {
		t.Error("two spaces in a row in the table")
	}
}

// The keys that are put together from a value must exist for every value.
func TestEveryValueHasWords(t *testing.T) {
	var keys []string
	for _, p := range atlas.Purposes {
		keys = append(keys, "purpose."+string(p))
	}
	for f := section.Superior; f <= section.Right; f++ {
		keys = append(keys, "end."+f.String(), "up."+f.String())
	}
	for _, k := range localKinds {
		keys = append(keys, "kind."+k.String())
	}
	for s := annotate.NoSide; s <= annotate.Midline; s++ {
		keys = append(keys, "side."+s.String())
	}
	for s := annotate.Certain; s <= annotate.Discuss; s++ {
		keys = append(keys, "sure."+s.String())
	}
	for _, c := range cautionCards {
		keys = append(keys, "caution."+c, "caution."+c+".title")
	}
	for _, r := range railTools {
		keys = append(keys, "tool."+r.id, "tool."+r.id+".tip")
	}
	for _, k := range keys {
		if say(k) == k {
			t.Errorf("no words for %s", k)
		}
	}
}

func TestEveryIconIsThere(t *testing.T) {
	files, _ := filepath.Glob("*.go")
	name := regexp.MustCompile(`(?:button\("[^"]*"(?: ?\+ ?id)?|place\(bench\.[A-Za-z]+, "[a-z]+"|step\("[a-z]+"|slip\("[a-z]+"), "([a-z]+)"`)
	n := 0
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range name.FindAllStringSubmatch(string(b), -1) {
			n++
			if assets.Icon(m[1]) == nil {
				t.Errorf("%s: no icon %q", f, m[1])
			}
		}
	}
	for _, r := range railTools {
		if assets.Icon(r.icon) == nil {
			t.Errorf("no icon %q", r.icon)
		}
	}
	if n < 30 {
		t.Errorf("only %d icons were found in the source", n)
	}
}
