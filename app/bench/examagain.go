package bench

import (
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

// earlierPicture is what stations made from an earlier photograph of a face still need to be named by.
type earlierPicture struct {
	face   section.Face
	labels annotate.Labels
}

// earlierPictures reads the earlier photographs that stations of an exam were made from.
func earlierPictures(lib *atlas.Library, x quiz.Spotter) map[string]earlierPicture {
	out := map[string]earlierPicture{}
	for _, s := range x.Stations {
		if _, known := out[s.Picture.Plate]; known {
			continue
		}
		if p, err := lib.Plate(s.Picture.Plate); err == nil && p.Retired {
			out[p.ID] = earlierPicture{p.Face, p.Labels}
		}
	}
	return out
}

// nameEarlier names a marked place of an earlier picture.
func (b *Bench) nameEarlier(a quiz.Ask) (name string, ok bool) {
	e, ok := b.exam.earlier[a.Plate]
	if !ok {
		return "", false
	}
	if _, there := e.labels.Find(a.Label); !there {
		return "", false
	}
	return b.labelName(e.labels, a.Label), true
}

// askName is the structure of a marked place, with its side.
func (b *Bench) askName(a quiz.Ask) string {
	if name, ok := b.nameEarlier(a); ok {
		return name
	}
	_, name := b.exam.termOf(a)
	return name
}

// OldPictures counts the stations of the exam that show an earlier photograph of their face.
func (b *Bench) OldPictures() (n int) {
	for _, s := range b.exam.x.Stations {
		if _, old := b.exam.earlier[s.Picture.Plate]; old {
			n++
		}
	}
	return n
}

// FollowPictures moves every station that shows an earlier photograph to the current one of its face. What cannot follow is named.
func (b *Bench) FollowPictures() error {
	board, ok := b.board()
	if !ok || b.OldPictures() == 0 {
		return nil
	}
	if err := b.writable(); err != nil {
		return err
	}
	next, done, err := board.FollowPictures(b.exam.x)
	if err != nil {
		return err
	}
	b.changeExam(func(x *quiz.Spotter) { x.Stations = next.Stations })
	b.readPool()
	m := Message{Title: count("exam.followed", len(done.Moved)), Hint: Word("exam.followed.hint")}
	if len(done.Left) > 0 {
		m.Hint = strings.Join(append([]string{m.Hint}, done.Left...), "\n")
	}
	b.say(m)
	return nil
}
