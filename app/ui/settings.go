package ui

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
)

// settings are what the window remembers for itself. They stand in a small file of ours, written whole and then
// renamed, because a document must never depend on them.
type settings struct {
	Text    int     `json:"text"`    // per cent
	Evening bool    `json:"evening"` // the dark design
	Width   float32 `json:"width"`
	Height  float32 `json:"height"`
	path    string
}

// textSizes are the text sizes offered, in per cent.
var textSizes = []int{100, 125, 150, 200}

// loadSettings reads the file in dir; SECTIONARY_TEXT and SECTIONARY_LAMP (day, evening) go before it.
func loadSettings(dir string) settings {
	s := settings{Text: 100, Width: 1280, Height: 800}
	if dir != "" {
		s.path = filepath.Join(dir, "window.json")
		if b, err := os.ReadFile(s.path); err == nil {
			keep := s
			if json.Unmarshal(b, &s) != nil {
				s = keep
			}
		}
	}
	if n, err := strconv.Atoi(os.Getenv("SECTIONARY_TEXT")); err == nil {
		s.Text = n
	}
	switch os.Getenv("SECTIONARY_LAMP") {
	case "day":
		s.Evening = false
	case "evening":
		s.Evening = true
	}
	s.Text = nearest(s.Text)
	if !(s.Width >= 400 && s.Width <= 16000) || !(s.Height >= 300 && s.Height <= 16000) {
		s.Width, s.Height = 1280, 800
	}
	return s
}

func nearest(percent int) int {
	best := textSizes[0]
	for _, t := range textSizes {
		if abs(t-percent) < abs(best-percent) {
			best = t
		}
	}
	return best
}

func abs(n int) int { return max(n, -n) }

// save writes the file; that it cannot be written is no reason to stop anyone.
func (s settings) save() {
	if s.path == "" {
		return
	}
	b, err := json.Marshal(s)
	if err != nil || os.MkdirAll(filepath.Dir(s.path), 0o755) != nil {
		return
	}
	tmp := s.path + ".new"
	if os.WriteFile(tmp, b, 0o600) == nil {
		_ = os.Rename(tmp, s.path)
	}
}
