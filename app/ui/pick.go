package ui

import (
	"os"
	"path/filepath"
	"sort"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"
)

// pick asks for a folder or for files: a path to write, and rows to walk through. Photographs are taken many at
// a time, in the order a person counts (2 before 10).
type pick struct {
	title    string
	folders  bool     // a folder is wanted; files are shown but cannot be taken
	endings  []string // of the files that can be taken, lower case; none: all
	anything bool     // a folder or one file
	done     func([]string)
}

type picker struct {
	pick
	w     *Window
	sheet *sheet
	path  *field
	list  *widget.List
	names []entry
	taken map[string]bool
	note  *words
	ok    *button
	all   *button
}

type entry struct {
	name string
	dir  bool
}

// photoEndings are the files offered as photographs.
var photoEndings = []string{".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif"}

func (w *Window) pick(what pick) {
	p := &picker{pick: what, w: w, taken: map[string]bool{}, note: newWords(caption, "")}
	home := w.lastDir
	if home == "" {
		home, _ = os.UserHomeDir()
	}
	p.path = w.field("pick:path", home)
	p.path.onEnter = p.typed
	p.list = widget.NewList(func() int { return len(p.names) },
		func() fyne.CanvasObject { return w.button("", "folder", "x", lined, nil) },
		func(i widget.ListItemID, o fyne.CanvasObject) { p.row(i, o.(*button)) })
	p.list.HideSeparators = true
	p.list.OnSelected = func(i widget.ListItemID) { p.list.UnselectAll(); p.take(i) }
	up := w.button("pick:up", "earlier", say("pick.up"), edged, func() { p.walk(filepath.Dir(p.path.Text)) })
	p.ok = w.button("pick:ok", "check", say("pick.ok"), primary, p.accept)
	p.all = w.button("pick:all", "", say("pick.all"), edged, p.takeAll)
	p.all.Hidden = what.folders || what.anything
	content := (&table{top: newColumn(8, newWords(title, what.title), captioned(say("pick.path"), newRow(8, 0, p.path, up)), p.note),
		middle: p.list, gap: 8}).object()
	p.sheet = w.filled(720, content, p.ok, p.all, w.button("pick:no", "", say("cancel"), edged, func() { p.sheet.close() }))
	p.walk(home)
	p.sheet.open(p.path)
}

// walk shows the contents of a folder.
func (p *picker) walk(dir string) {
	files, err := os.ReadDir(dir)
	if err != nil {
		p.note.setColored(say("pick.cannot", dir), "warning")
		p.sheet.relay()
		return
	}
	p.names = p.names[:0]
	for _, f := range files {
		if strings.HasPrefix(f.Name(), ".") {
			continue
		}
		isDir := f.IsDir()
		if f.Type()&os.ModeSymlink != 0 {
			if st, err := os.Stat(filepath.Join(dir, f.Name())); err == nil {
				isDir = st.IsDir()
			}
		}
		if isDir || p.fits(f.Name()) {
			p.names = append(p.names, entry{f.Name(), isDir})
		}
	}
	sort.SliceStable(p.names, func(i, j int) bool {
		a, b := p.names[i], p.names[j]
		if a.dir != b.dir {
			return a.dir
		}
		return naturalLess(a.name, b.name)
	})
	clear(p.taken)
	p.path.SetText(filepath.Clean(dir))
	p.count()
	p.list.UnselectAll()
	if p.sheet.shown() {
		p.list.ScrollToTop()
	}
	p.list.Refresh()
}

func (p *picker) fits(name string) bool {
	if p.folders {
		return false
	}
	if len(p.endings) == 0 {
		return true
	}
	low := strings.ToLower(name)
	for _, e := range p.endings {
		if strings.HasSuffix(low, e) {
			return true
		}
	}
	return false
}

func (p *picker) row(i int, b *button) {
	if i >= len(p.names) {
		return
	}
	e := p.names[i]
	b.id, b.icon = "pick:row:"+e.name, "photo"
	if e.dir {
		b.icon = "folder"
	} else if p.anything {
		b.icon = "scan"
	}
	full := filepath.Join(p.path.Text, e.name)
	b.tapped = func() { p.take(i) }
	b.label, b.on, b.off = shortPath(e.name, 60), p.taken[full], false
	b.Refresh()
}

// take walks into a folder, or marks a file or takes the mark away.
func (p *picker) take(i int) {
	if i >= len(p.names) {
		return
	}
	full := filepath.Join(p.path.Text, p.names[i].name)
	if p.names[i].dir {
		p.walk(full)
		return
	}
	marked := p.taken[full]
	if p.anything {
		clear(p.taken)
	}
	p.taken[full] = !marked
	p.count()
	p.list.Refresh()
}

func (p *picker) chosen() []string {
	var out []string
	for _, e := range p.names {
		if full := filepath.Join(p.path.Text, e.name); p.taken[full] {
			out = append(out, full)
		}
	}
	return out
}

func (p *picker) count() {
	n := len(p.chosen())
	switch {
	case p.folders:
		p.note.setColored(say("pick.folder"), colorMuted)
	case n == 0 && p.anything:
		p.note.setColored(say("pick.folderorfile"), colorMuted)
	case n == 0:
		p.note.setColored(say("pick.none"), colorMuted)
	default:
		p.note.setColored(say("pick.some", n), colorMuted)
	}
	label := say("pick.ok")
	if n > 1 {
		label = say("pick.these", n)
	}
	p.ok.state(label, false, n == 0 && !p.folders && !p.anything)
	p.sheet.relay()
}

// typed takes the path as written: a folder is shown, a file is taken.
func (p *picker) typed() {
	path := strings.TrimSpace(p.path.Text)
	st, err := os.Stat(path)
	switch {
	case err != nil:
		p.note.setColored(say("pick.cannot", path), "warning")
		p.sheet.relay()
	case st.IsDir() && (p.folders || p.anything) && filepath.Clean(path) == p.path.Text:
		p.walk(path)
	case st.IsDir():
		p.walk(path)
	default:
		p.finish([]string{path})
	}
}

func (p *picker) takeAll() {
	for _, e := range p.names {
		if !e.dir {
			p.taken[filepath.Join(p.path.Text, e.name)] = true
		}
	}
	p.count()
	p.list.Refresh()
}

func (p *picker) accept() {
	paths := p.chosen()
	if len(paths) == 0 {
		if !p.folders && !p.anything {
			return
		}
		paths = []string{strings.TrimSpace(p.path.Text)}
	}
	p.finish(paths)
}

func (p *picker) finish(paths []string) {
	p.w.lastDir = filepath.Dir(paths[0])
	p.sheet.close()
	p.done(paths)
}

// naturalLess orders names as people count: img_2 before img_10.
func naturalLess(a, b string) bool {
	for a != "" && b != "" {
		na, ra := leadingNumber(a)
		nb, rb := leadingNumber(b)
		if na != "" && nb != "" {
			na, nb := strings.TrimLeft(na, "0"), strings.TrimLeft(nb, "0")
			if len(na) != len(nb) {
				return len(na) < len(nb)
			}
			if na != nb {
				return na < nb
			}
			a, b = ra, rb
			continue
		}
		ca, cb := strings.ToLower(a[:1]), strings.ToLower(b[:1])
		if ca != cb {
			return ca < cb
		}
		a, b = a[1:], b[1:]
	}
	return len(a) < len(b)
}

func leadingNumber(s string) (digits, rest string) {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return s[:i], s[i:]
}
