package bench

import (
	"cmp"
	"context"
	"errors"
	"image"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// snap is one file of a batch of photographs: what its header says, before anything is decoded.
type snap struct {
	key, path string
	at        int // place in the order proposed
	info      photo.Info
	mark      mark
}

// mark is what files of equal bytes have in common and others, as good as always, do not: it costs no second reading of
// the whole file.
type mark struct {
	bytes int64
	taken time.Time // in UTC, so that equal times are equal values
	inner [512]byte // from the middle, where the picture itself is
}

// news is what became known of a shot since the last look: its header and the small picture inside it, its sharp
// preview, that it is in the lab, or why it is not.
type news struct {
	key     string
	shot    *snap       // the header was read
	small   *image.RGBA // the copy that the camera laid into the file
	preview *image.RGBA
	plate   *atlas.Plate // it was taken in
	check   *photo.Check
	known   *atlas.Plate // the same bytes are in the lab
	name    string
	err     error
}

// mailbox carries news from the work to the event loop.
type mailbox struct {
	mu   sync.Mutex
	list []news
}

func (m *mailbox) put(n news) {
	m.mu.Lock()
	m.list = append(m.list, n)
	m.mu.Unlock()
}

func (m *mailbox) take() []news {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := m.list
	m.list = nil
	return out
}

// printSide is the longer side of the previews that lie on the table, in pixels.
const printSide = 320

// manyPixels is where a photograph is decoded alone, so that two at a time never need more memory than a few of the
// usual ones.
const manyPixels = 48 << 20

// batch is the work of taking photographs in, away from the event loop.
type batch struct {
	lib   library
	on    section.Face // of a single photograph; else they go to the tray
	donor string
	paths []string
	first int // number of the first key
	box   *mailbox
	big   sync.RWMutex // held for writing while a large one is decoded
}

// take reads all headers first, so that everything lies in order before the first is decoded, and then takes the
// photographs in, in that order, some at a time; those that may be equal one after another. It returns the files it did
// not come to.
func (x *batch) take(ctx context.Context, tell func(done, total int)) (left []string) {
	shots := x.headers(ctx)
	if ctx.Err() != nil {
		return x.paths
	}
	var mu sync.Mutex
	done := len(x.paths) - len(shots)
	tell(done, len(x.paths))
	queue := make(chan []*snap, len(shots))
	for _, same := range alike(shots) {
		queue <- same
	}
	close(queue)
	var all sync.WaitGroup
	for range min(workers(), len(shots)) {
		all.Go(func() {
			for same := range queue {
				for _, s := range same {
					whole := ctx.Err() == nil && x.one(ctx, s)
					mu.Lock()
					if whole {
						done++
						tell(done, len(x.paths))
					} else {
						left = append(left, s.path)
					}
					mu.Unlock()
				}
			}
		})
	}
	all.Wait()
	return left
}

// alike puts photographs that may be equal together, in their order: of equal ones the first is kept and the others are
// told as its twins, and that must not hang on which is read sooner.
func alike(shots []*snap) (out [][]*snap) {
	at := map[mark]int{}
	for _, s := range shots {
		i, there := at[s.mark]
		if !there {
			i = len(out)
			at[s.mark], out = i, append(out, nil)
		}
		out[i] = append(out[i], s)
	}
	return out
}

// workers is how many photographs are taken in at a time: one more than there are cores, for each waits for the disk a
// while.
func workers() int { return min(runtime.GOMAXPROCS(0), 4) + 1 }

// headers reads the header of every file and the small copy inside it, and puts them in the order proposed. Files that
// cannot be opened are named and left out.
func (x *batch) headers(ctx context.Context) []*snap {
	found := make([]*snap, len(x.paths))
	var all sync.WaitGroup
	n := workers()
	for k := range n {
		all.Go(func() {
			for i := k; i < len(x.paths) && ctx.Err() == nil; i += n {
				found[i] = x.header(i)
			}
		})
	}
	all.Wait()
	shots := slices.DeleteFunc(found, func(s *snap) bool { return s == nil })
	slices.SortStableFunc(shots, snapOrder)
	for i, s := range shots {
		s.at = i
		x.box.put(news{key: s.key, shot: s})
	}
	return shots
}

// side is the longer side of the pictures shown until a photograph is in the lab: larger where it fills the bench.
func (x *batch) side() int {
	if x.on != (section.Face{}) {
		return atlas.PreviewSize
	}
	return printSide
}

// header reads what one file says of itself; nil when it cannot be taken in.
func (x *batch) header(i int) *snap {
	s := &snap{key: printKey(x.first + i), path: x.paths[i]}
	f, err := os.Open(s.path)
	if err == nil {
		defer f.Close()
		s.info, err = photo.Probe(f)
	}
	if err == nil {
		s.mark, err = markOf(f, s.info)
	}
	if err != nil {
		x.box.put(news{key: s.key, name: filepath.Base(s.path), err: err})
		return nil
	}
	if m, err := photo.Embedded(f); err == nil { // without one the sharp preview comes first
		x.box.put(news{key: s.key, small: photo.NewImage(m).Preview(x.side())})
	}
	return s
}

func markOf(f io.ReaderAt, info photo.Info) (mark, error) {
	m := mark{bytes: info.Bytes, taken: info.Taken.UTC()}
	_, err := f.ReadAt(m.inner[:], m.bytes/2)
	if errors.Is(err, io.EOF) { // a small file
		err = nil
	}
	return m, err
}

// one takes one photograph in; false when it was stopped before.
func (x *batch) one(ctx context.Context, s *snap) (whole bool) {
	if pixels := s.info.Size.X * s.info.Size.Y; pixels > manyPixels {
		x.big.Lock()
		defer x.big.Unlock()
	} else {
		x.big.RLock()
		defer x.big.RUnlock()
	}
	n := news{key: s.key, name: filepath.Base(s.path)}
	f, err := os.Open(s.path)
	if err == nil {
		defer f.Close()
		var p atlas.Plate
		p, err = x.lib.TakePhoto(ctx, x.on, x.donor, n.name, f, func(m *photo.Image) {
			n.preview = m.Preview(x.side())
			x.box.put(news{key: s.key, preview: n.preview})
			c := photo.Measure(m, borderOf(nil, m))
			n.check = &c
		})
		n.plate = &p
	}
	var known *atlas.KnownPhoto
	switch {
	case errors.As(err, &known):
		var there atlas.Plate
		there, n.err = x.lib.Plate(known.Plate)
		n.plate, n.known = nil, &there
	case err != nil && ctx.Err() != nil:
		return false
	case err != nil:
		n.plate, n.err = nil, err
	}
	x.box.put(n)
	return true
}

// snapOrder is the order proposed: by the time taken, those without one last; files of one time by their names, as
// people count.
func snapOrder(a, z *snap) int {
	if c := timeOrder(a.info.Taken, z.info.Taken); c != 0 {
		return c
	}
	return nameOrder(filepath.Base(a.path), filepath.Base(z.path))
}

// timeOrder compares times taken; an unknown one comes last.
func timeOrder(a, z time.Time) int {
	if a.IsZero() != z.IsZero() {
		if a.IsZero() {
			return 1
		}
		return -1
	}
	return a.Compare(z)
}

// nameOrder compares names so that numbers in them count as numbers: img_2 before img_10.
func nameOrder(a, z string) int {
	for a != "" && z != "" {
		da, dz := digits(a), digits(z)
		if da == 0 || dz == 0 {
			if a[0] != z[0] {
				return cmp.Compare(a[0], z[0])
			}
			a, z = a[1:], z[1:]
			continue
		}
		na, nz := strings.TrimLeft(a[:da], "0"), strings.TrimLeft(z[:dz], "0")
		if c := cmp.Or(cmp.Compare(len(na), len(nz)), cmp.Compare(na, nz)); c != 0 {
			return c
		}
		a, z = a[da:], z[dz:]
	}
	return cmp.Compare(len(a), len(z))
}

// digits is how many digits s begins with.
func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
