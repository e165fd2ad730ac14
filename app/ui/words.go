package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"
)

// rank is a step of the type scale: 20, 16, 14 and 12 at 100 % text.
type rank uint8

const (
	heading rank = iota // 20
	title               // 16 bold
	body                // 14
	strong              // 14 bold
	caption             // 12, muted
)

func (r rank) size() float32 {
	switch r {
	case heading:
		return theme.Size(theme.SizeNameHeadingText)
	case title:
		return theme.Size(theme.SizeNameSubHeadingText)
	case caption:
		return theme.Size(theme.SizeNameCaptionText)
	}
	return theme.Size(theme.SizeNameText)
}

func (r rank) style() fyne.TextStyle {
	return fyne.TextStyle{Bold: r == title || r == strong || r == heading}
}

func (r rank) color() fyne.ThemeColorName {
	if r == caption {
		return colorMuted
	}
	return theme.ColorNameForeground
}

// words is text that wraps at the width it is given. Its height for a width is known before it is laid out.
type words struct {
	widget.BaseWidget
	text  string
	rank  rank
	color fyne.ThemeColorName
	align fyne.TextAlign
	whole bool // one line, never wrapped
	width float32
	lines []string
}

func newWords(r rank, text string) *words {
	w := &words{text: text, rank: r, color: r.color()}
	w.ExtendBaseWidget(w)
	return w
}

// newLine is words that stay on one line.
func newLine(r rank, text string) *words {
	w := newWords(r, text)
	w.whole = true
	return w
}

func (w *words) colored(c fyne.ThemeColorName) *words { w.color = c; return w }

func (w *words) centred() *words { w.align = fyne.TextAlignCenter; return w }

// set changes the text; the holder lays itself out again if it must.
func (w *words) set(text string) {
	if w.text == text {
		return
	}
	w.text, w.lines = text, nil
	w.Refresh()
}

// setColored changes text and colour together.
func (w *words) setColored(text string, c fyne.ThemeColorName) {
	if w.color != c {
		w.color = c
		w.text, w.lines = text, nil
		w.Refresh()
		return
	}
	w.set(text)
}

func (w *words) measure(s string) fyne.Size {
	return fyne.MeasureText(s, w.rank.size(), w.rank.style())
}

// wrap breaks the text at spaces so that no line is wider than width, and long words at the last letter that
// still fits.
func (w *words) wrap(width float32) []string {
	if w.whole {
		return []string{w.text}
	}
	if w.lines != nil && w.width == width {
		return w.lines
	}
	var lines []string
	for _, para := range strings.Split(w.text, "\n") {
		line := ""
		for _, word := range strings.Fields(para) {
			joined := strings.TrimPrefix(line+" "+word, " ")
			if w.measure(joined).Width <= width {
				line = joined
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			line = word
			for w.measure(line).Width > width && len([]rune(line)) > 1 {
				n := w.fit(line, width)
				lines = append(lines, string([]rune(line)[:n]))
				line = string([]rune(line)[n:])
			}
		}
		lines = append(lines, line)
	}
	w.width, w.lines = width, lines
	return lines
}

func (w *words) fit(s string, width float32) int {
	r := []rune(s)
	n := len(r) - 1
	for n > 1 && w.measure(string(r[:n])).Width > width {
		n--
	}
	return n
}

func (w *words) heightFor(width float32) float32 {
	if w.text == "" {
		return 0
	}
	return float32(len(w.wrap(width))) * w.measure("Ag").Height
}

// MinSize is one line for whole words, else the widest word and the height at the present width.
func (w *words) MinSize() fyne.Size {
	if w.text == "" {
		return fyne.Size{}
	}
	if w.whole {
		return w.measure(w.text)
	}
	var widestWord float32
	for _, f := range strings.Fields(w.text) {
		widestWord = max(widestWord, w.measure(f).Width)
	}
	widestWord = min(widestWord, grown(180))
	width := w.Size().Width
	if width <= 0 {
		width = widestWord
	}
	return fyne.NewSize(widestWord, w.heightFor(width))
}

func (w *words) CreateRenderer() fyne.WidgetRenderer {
	return &wordsRenderer{w: w}
}

type wordsRenderer struct {
	w     *words
	texts []*canvas.Text
}

func (r *wordsRenderer) Layout(size fyne.Size) {
	w := r.w
	lines := w.wrap(size.Width)
	if w.text == "" {
		lines = nil
	}
	for len(r.texts) < len(lines) {
		r.texts = append(r.texts, canvas.NewText("", nil))
	}
	h := w.measure("Ag").Height
	y := float32(0)
	if w.whole {
		y = max(0, (size.Height-h)/2)
	}
	for i, t := range r.texts {
		if i >= len(lines) {
			t.Hide()
			continue
		}
		t.Text, t.TextSize, t.TextStyle, t.Color, t.Alignment = lines[i], w.rank.size(), w.rank.style(), ink(w.color), w.align
		t.Show()
		t.Move(fyne.NewPos(0, y+float32(i)*h))
		t.Resize(fyne.NewSize(size.Width, h))
	}
}

func (r *wordsRenderer) MinSize() fyne.Size { return r.w.MinSize() }

func (r *wordsRenderer) Refresh() {
	r.w.lines = nil
	r.Layout(r.w.Size())
	for _, t := range r.texts {
		t.Refresh()
	}
}

func (r *wordsRenderer) Objects() []fyne.CanvasObject {
	out := make([]fyne.CanvasObject, len(r.texts))
	for i, t := range r.texts {
		out[i] = t
	}
	return out
}

func (r *wordsRenderer) Destroy() {}
