package ui

import (
	"strconv"
	"strings"

	"fyne.io/fyne/v2"

	"sectionary/assets"
)

// showLetters sets the size of words and the lamp.
func (w *Window) showLetters() {
	var sizes []string
	now := 0
	for i, t := range textSizes {
		sizes = append(sizes, strconv.Itoa(t)+" %")
		if t == w.settings.Text {
			now = i
		}
	}
	again := func() {
		w.settings.save()
		w.build()
		w.showLetters()
	}
	text := w.options("text", sizes, now, func(i int) { w.settings.Text = textSizes[i]; again() })
	lamp := 0
	if w.settings.Evening {
		lamp = 1
	}
	lamps := w.options("lamp", []string{say("lamp.day"), say("lamp.evening")}, lamp, func(i int) { w.settings.Evening = i == 1; again() })
	name := w.field("author", w.desk.Author())
	name.OnChanged = func(s string) { w.desk.SetAuthor(strings.TrimSpace(s)) }
	var s *sheet
	done := w.button("close", "", say("close"), edged, func() { s.close() })
	s = w.sheet(460, newColumn(16, newWords(title, say("letters.title")), captioned(say("letters.text"), text.box),
		captioned(say("letters.lamp"), lamps.box), captioned(say("letters.author"), name), newWords(caption, say("caution.computer"))), done)
	s.open(text.buttons[now])
}

// cautionCards are the cards of the trade, in the order of the work: cutting, custody, then everything else.
var cautionCards = []string{"saw", "dust", "blades", "cold", "lifting", "fixatives", "mould", "supervisor", "computer"}

// cutting cards belong with a run's cutting facts.
var cuttingCards = cautionCards[:5]

// card is one caution, with what the lab adds to its cards; every card ends with the line that puts local rules first.
func (w *Window) card(name string) *fyne.Container {
	col := newColumn(6, newWords(strong, say("caution."+name+".title")), newWords(body, say("caution."+name)))
	if own := strings.TrimSpace(w.desk.OwnCaution()); own != "" {
		col.Add(newWords(body, own))
	}
	col.Add(newWords(caption, say("caution.deferral")))
	return paper(14, 12, col)
}

// showCautions shows all cards, what the program is for, and where its words and lists come from.
func (w *Window) showCautions() {
	col := newColumn(12, newWords(heading, say("cautions.title")), newWords(body, say("cautions.words")).colored(colorMuted))
	cards := newShelf(grown(300), 12)
	for _, c := range cautionCards {
		cards.Add(w.card(c))
	}
	col.Add(cards)
	col.Add(newWords(title, say("about.title")))
	col.Add(newWords(body, say("about.words")))
	col.Add(newWords(body, say("diagnosis")))
	col.Add(newWords(body, say("finding")))
	col.Add(newWords(title, say("about.sources")))
	col.Add(newWords(caption, plain(assets.Attribution)))
	var s *sheet
	done := w.button("close", "", say("close"), edged, func() { s.close() })
	s = w.sheet(900, col, done)
	s.tall = true
	s.open(done)
}

// plain takes the marks of Markdown away: the text is read, not rendered.
func plain(md string) string {
	var out []string
	for _, line := range strings.Split(md, "\n") {
		line = strings.NewReplacer("**", "", "`", "").Replace(strings.TrimLeft(line, "# "))
		out = append(out, line)
	}
	return strings.TrimSpace(strings.Join(out, "\n"))
}

// showKeys lists every command with its key.
func (w *Window) showKeys() {
	col := newColumn(4, newWords(heading, say("keys.title")), newWords(body, say("keys.words")).colored(colorMuted))
	group := ""
	for _, c := range w.desk.Commands() {
		if c.Key == "" {
			continue
		}
		if c.Group != group {
			group = c.Group
			col.Add(newInset(0, 6, newWords(strong, say("keys.group."+group))))
		}
		col.Add(newRow(12, 1, newLineHolder(newWords(strong, c.Key), 120), newWords(body, c.Label)))
	}
	for _, k := range []string{"w", "space", "d", "b", "a", "tab", "arrows", "ctrlarrows", "pages", "f1"} {
		col.Add(newRow(12, 1, newLineHolder(newWords(strong, say("keys."+k)), 120), newWords(body, say("keys."+k+".does"))))
	}
	var s *sheet
	done := w.button("close", "", say("close"), edged, func() { s.close() })
	s = w.sheet(620, col, done)
	s.open(done)
}
