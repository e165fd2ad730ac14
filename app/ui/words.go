package ui

import (
	"sort"
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
	text    string
	rank    rank
	color   fyne.ThemeColorName
	align   fyne.TextAlign
	whole   bool                 // one line, never wrapped
	wrapped map[float32][]string // lines by width
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
	w.text, w.wrapped = text, nil
	w.Refresh()
}

// setColored changes text and colour together.
func (w *words) setColored(text string, c fyne.ThemeColorName) {
	if w.color != c {
		w.color = c
		w.text, w.wrapped = text, nil
		w.Refresh()
		return
	}
	w.set(text)
}

// ruler remembers how wide words of each size are: a layout asks for the same ones again and again.
var ruler = map[measured]fyne.Size{}

type measured struct {
	text string
	size float32
	bold bool
}

func measureWord(s string, r rank) fyne.Size {
	key := measured{s, r.size(), r.style().Bold}
	if size, ok := ruler[key]; ok {
		return size
	}
	if len(ruler) > 20000 {
		clear(ruler)
	}
	size := fyne.MeasureText(s, key.size, r.style())
	ruler[key] = size
	return size
}

func (w *words) lineHeight() float32 { return measureWord("Ag", w.rank).Height }

// wrap breaks the text at spaces so that no line is wider than width, and long words at the last letter that
// still fits. The last few widths are remembered.
func (w *words) wrap(width float32) []string {
	if w.whole {
		return []string{w.text}
	}
	if lines, ok := w.wrapped[width]; ok {
		return lines
	}
	space := measureWord("a a", w.rank).Width - 2*measureWord("a", w.rank).Width
	var lines []string
	for _, para := range strings.Split(w.text, "\n") {
		line, used := "", float32(0)
		for _, word := range strings.Fields(para) {
			wide := measureWord(word, w.rank).Width
			if line != "" && used+space+wide <= width {
				line, used = line+" "+word, used+space+wide
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for wide > width && len([]rune(word)) > 1 {
				head, tail := w.broken(word, width)
				lines = append(lines, head)
				word, wide = tail, measureWord(tail, w.rank).Width
			}
			line, used = word, wide
		}
		lines = append(lines, line)
	}
	if w.wrapped == nil || len(w.wrapped) > 4 {
		w.wrapped = map[float32][]string{}
	}
	w.wrapped[width] = lines
	return lines
}

// broken cuts a word after the last letter that still fits; at least one letter goes.
func (w *words) broken(word string, width float32) (head, tail string) {
	r := []rune(word)
	n := sort.Search(len(r)-1, func(i int) bool {
		return fyne.MeasureText(string(r[:i+1]), w.rank.size(), w.rank.style()).Width > width
	})
	n = max(1, n)
	return string(r[:n]), string(r[n:])
}

func (w *words) heightFor(width float32) float32 {
	if w.text == "" {
		return 0
	}
	return float32(len(w.wrap(width))) * w.lineHeight()
}

// MinSize is one line for whole words, else the widest word and the height at the present width.
func (w *words) MinSize() fyne.Size {
	if w.text == "" {
		return fyne.Size{}
	}
	if w.whole {
		return measureWord(w.text, w.rank)
	}
	var widestWord float32
	for _, f := range strings.Fields(w.text) {
		widestWord = max(widestWord, measureWord(f, w.rank).Width)
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
	h := w.lineHeight()
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
