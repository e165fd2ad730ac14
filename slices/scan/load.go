package scan

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"slices"
	"sync"

	"sectionary/slices/geom"
)

// maxVoxels bounds a volume: 1 GB of 16-bit values.
const maxVoxels = 1 << 29

// plan is how Load holds the voxels of a stack.
type plan struct {
	floats           bool // float32, already rescaled; else int16 with one slope and intercept
	offset           int  // stored value = int16 + offset
	slope, intercept float64
	each             [][2]float64 // slope and intercept of every slice, where they differ
	table            bool         // values go through the modality LUT of their file
	padding          *[2]int
	inverse          bool
}

// planOf decides from the headers: int16 where every stored value fits and one rescale serves all.
func planOf(shots []shot) *plan {
	first := shots[0]
	p := &plan{slope: first.slope, intercept: first.intercept, padding: first.padding, inverse: first.inverse}
	low, high := 0, 0
	for _, s := range shots {
		a, b := s.span()
		low, high = min(low, a), max(high, b)
		p.floats = p.floats || s.layout.float != 0
		p.table = p.table || s.table != nil
		if s.slope != p.slope || s.intercept != p.intercept {
			p.floats = true
		}
	}
	if p.table {
		p.slope, p.intercept, p.padding = 1, 0, nil
	}
	switch {
	case low >= -1<<15 && high < 1<<15:
	case low >= 0 && high < 1<<16:
		p.offset = 1 << 15
	default:
		p.floats = true
	}
	if p.floats {
		for _, s := range shots {
			p.each = append(p.each, [2]float64{s.slope, s.intercept})
		}
		p.slope, p.intercept, p.offset, p.padding = 1, 0, 0, nil
	}
	return p
}

// span returns the least and greatest value a frame's layout can hold.
func (s *shot) span() (low, high int) {
	switch {
	case s.table != nil:
		return 0, 1<<s.table.bits - 1
	case s.layout.samples == 3 || s.layout.photometric == "PALETTE COLOR":
		return 0, 1<<min(16, s.layout.stored) - 1
	case s.layout.signed:
		return -1 << (s.layout.stored - 1), 1<<(s.layout.stored-1) - 1
	}
	return 0, 1<<s.layout.stored - 1
}

// Load reads one series of a survey of the same files. done (which may be nil) hears how many slices were read; it is
// never called from two goroutines at once. Slices that cannot be read are left out, with a gap and a warning, and stand in
// Left; when half of them or more cannot, Load fails. Errors name the file and wrap ErrUnsupported, ErrDamaged or
// ErrTooLarge.
func Load(ctx context.Context, files fs.FS, s Series, done func(read, total int)) (*Volume, error) {
	if s.kind == fromNIfTI {
		return loadNIfTI(ctx, files, s, done)
	}
	if s.plan == nil || len(s.Slices) == 0 {
		return nil, fmt.Errorf("scan: series %s did not come from a survey: survey the folder again", s.UID)
	}
	s = s.thin(maxVoxels)
	v := s.volume()
	v.Slope, v.Intercept, v.offset, v.Padding, v.Inverse = s.plan.slope, s.plan.intercept, s.plan.offset, s.plan.padding, s.plan.inverse
	r := &reader{files: files, s: s, v: v, done: done}
	if err := r.all(ctx); err != nil {
		return nil, err
	}
	if err := r.leaveOut(); err != nil {
		return nil, err
	}
	return v, nil
}

// thin returns s with every 2nd, 3rd ... slice left out so that it fits into most voxels, and a warning that says so.
func (s Series) thin(most int) Series {
	layer := s.Size[0] * s.Size[1]
	every := (s.Size[2]*layer + most - 1) / most
	if every <= 1 {
		return s
	}
	t := s
	t.Slices, t.Origins, t.Positions, t.Gaps = nil, nil, nil, nil
	plan := *s.plan
	plan.each = nil
	for k := 0; k < s.Size[2]; k += every {
		t.Slices, t.Origins, t.Positions = append(t.Slices, s.Slices[k]), append(t.Origins, s.Origins[k]), append(t.Positions, s.Positions[k])
		if s.plan.each != nil {
			plan.each = append(plan.each, s.plan.each[k])
		}
		if k > 0 {
			t.Gaps = append(t.Gaps, slices.Contains(s.Gaps[k-every:k], true))
		}
	}
	t.plan, t.Size[2] = &plan, len(t.Slices)
	step := s.ToLPS.Column(2).Mul(float64(every))
	t.ToLPS = geom.NewAffine(s.ToLPS.Column(0), s.ToLPS.Column(1), step, s.Origin())
	t.Warnings = append(slices.Clone(s.Warnings), fmt.Sprintf("The series is too large to hold: one slice in %d is used.", every))
	return t
}

// volume returns an empty volume with the geometry of s.
func (s Series) volume() *Volume {
	return &Volume{
		UID: s.UID, Modality: s.Modality, Description: s.Description, Frame: s.Frame,
		Size: s.Size, ToLPS: s.ToLPS, Origins: append([]geom.LPS(nil), s.Origins...), Gaps: append([]bool(nil), s.Gaps...),
		Unoriented: s.Unoriented, Windows: append([]Window(nil), s.Windows...),
		Warnings: append([]string(nil), s.Warnings...), Slope: 1,
	}
}

// reader fills a volume from the files of a series.
type reader struct {
	files fs.FS
	s     Series
	v     *Volume
	done  func(read, total int)
	mu    sync.Mutex
	read  int
	lost  map[int]error // slices that could not be read
	once  sync.Once
}

// all reads every file: several at once, or the frames of a single one at once.
func (r *reader) all(ctx context.Context) error {
	byFile := make([][]int, len(r.s.Files))
	for k, ref := range r.s.Slices {
		byFile[ref.File] = append(byFile[ref.File], k)
	}
	if len(r.s.Files) == 1 {
		var scratch []byte
		p, colours, err := r.open(0, byFile[0], &scratch)
		if err != nil || p == nil {
			return r.name(0, err)
		}
		return each(ctx, len(r.s.Slices), func(_ *[]byte, k int) error {
			r.lose(k, r.name(0, r.slice(p, colours, k)))
			return nil
		})
	}
	return each(ctx, len(r.s.Files), func(scratch *[]byte, i int) error {
		if len(byFile[i]) == 0 { // a thinned series
			return nil
		}
		p, colours, err := r.open(i, byFile[i], scratch)
		for _, k := range byFile[i] {
			switch {
			case ctx.Err() != nil:
				return ctx.Err()
			case err != nil:
				r.lose(k, r.name(i, err))
			case p != nil:
				r.lose(k, r.name(i, r.slice(p, colours, k)))
			}
		}
		return nil
	})
}

// lose notes that slice k could not be read.
func (r *reader) lose(k int, err error) {
	if err == nil {
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.lost == nil {
		r.lost = map[int]error{}
	}
	r.lost[k] = err
}

// leaveOut closes the volume over the slices that could not be read, and marks gaps where they were.
func (r *reader) leaveOut() error {
	lost := slices.Sorted(maps.Keys(r.lost))
	if len(lost) == 0 {
		return nil
	}
	if 2*len(lost) >= len(r.s.Slices) {
		return r.lost[lost[0]]
	}
	v, n := r.v, r.s.Size[0]*r.s.Size[1]
	v.Origins, v.Gaps = nil, nil
	last := -1
	for k := range r.s.Slices {
		if r.lost[k] != nil {
			continue
		}
		at := len(v.Origins)
		if v.ints != nil {
			copy(v.ints[at*n:(at+1)*n], v.ints[k*n:])
		} else {
			copy(v.floats[at*n:(at+1)*n], v.floats[k*n:])
		}
		if last >= 0 {
			v.Gaps = append(v.Gaps, k-last > 1 || r.s.Gaps[last])
		}
		v.Origins, last = append(v.Origins, r.s.Origins[k]), k
	}
	v.Size[2] = len(v.Origins)
	v.ints, v.floats = v.ints[:min(len(v.ints), v.Size[2]*n)], v.floats[:min(len(v.floats), v.Size[2]*n)]
	v.ToLPS = geom.NewAffine(v.ToLPS.Column(0), v.ToLPS.Column(1), v.ToLPS.Column(2), v.Origins[0])
	for i, k := range lost {
		v.Left = append(v.Left, r.lost[k])
		if i < maxTold {
			v.Warnings = append(v.Warnings, fmt.Sprintf("Slice %d of %d cannot be read; its place stays empty.", k+1, len(r.s.Slices)))
		}
	}
	if len(lost) > maxTold {
		v.Warnings = append(v.Warnings, fmt.Sprintf("In all %d slices cannot be read.", len(lost)))
	}
	return nil
}

func (r *reader) name(file int, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("scan: %s: %w", r.s.Files[file], err)
}

// maxFile bounds the bytes read of one DICOM file.
const maxFile = 2 << 30

// open reads file i, which holds the given slices. A single slice of plain words goes straight into the volume, and no
// pixels are returned; any other file is read whole into scratch.
func (r *reader) open(i int, held []int, scratch *[]byte) (*pixels, *colours, error) {
	f, err := r.files.Open(r.s.Files[i])
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	data, err := readTo(f, (*scratch)[:0], firstLook)
	*scratch = data
	if err == nil && len(held) == 1 {
		if done, err := r.direct(f, data, held[0]); done || err != nil {
			return nil, nil, err
		}
	}
	size := int64(firstLook)
	if info, err := f.Stat(); err == nil {
		size = info.Size()
	}
	for want := int(min(size+1, 4<<20)); err == nil; want *= 2 { // the size is a claim: grow as bytes come
		if len(data) > maxFile || size > maxFile {
			return nil, nil, fmt.Errorf("%w: a file of over %d MB", ErrTooLarge, maxFile>>20)
		}
		data, err = readTo(f, data, want)
	}
	*scratch = data
	if err != io.EOF {
		return nil, nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	parsed, err := parseFile(data, true)
	if err != nil {
		return nil, nil, err
	}
	p, err := pixelsOf(parsed)
	if err != nil {
		return nil, nil, err
	}
	if p.columns != r.s.Size[0] || p.rows != r.s.Size[1] {
		return nil, nil, fmt.Errorf("%w: it changed since it was surveyed", ErrDamaged)
	}
	c, err := coloursOf(parsed.dataset, p.layout)
	return p, c, err
}

// direct reads the pixels behind a header that ends in data straight into slice k, where they are 16-bit little endian
// words and the volume holds such. Most CT and MR files go this way.
func (r *reader) direct(f io.Reader, data []byte, k int) (done bool, err error) {
	parsed, err := parseFile(data, false)
	if err != nil || parsed.pixels == nil || parsed.syntax == syntaxDeflated || r.s.plan.floats || !littleHost {
		return false, nil // the long way round says what is wrong
	}
	p := pixels{enc: parsed.enc}
	if p.layout, err = layoutOf(parsed); err != nil || p.frames != 1 || p.enc.big || !p.plain16() ||
		p.photometric == "PALETTE COLOR" || modalityTable(parsed.dataset, p.layout) != nil {
		return false, nil
	}
	n := r.s.Size[0] * r.s.Size[1]
	if p.count() != n || p.columns != r.s.Size[0] {
		return false, fmt.Errorf("%w: it changed since it was surveyed", ErrDamaged)
	}
	r.reserve()
	dst := r.v.ints[k*n : (k+1)*n]
	words := bytesOf(dst)
	got := copy(words, data[parsed.pixels.at:])
	if _, err := io.ReadFull(f, words[got:]); err != nil {
		return false, fmt.Errorf("%w: cut short, the file ends inside its picture", ErrDamaged)
	}
	p.settleWords(dst, r.v.offset)
	r.tell()
	return true, nil
}

// slice decodes slice k of the series into the volume.
func (r *reader) slice(p *pixels, c *colours, k int) error {
	n := r.s.Size[0] * r.s.Size[1]
	frame := r.s.Slices[k].Frame
	if frame >= p.frames {
		return fmt.Errorf("%w: it changed since it was surveyed", ErrDamaged)
	}
	if err := r.store(p, c, frame, k, n); err != nil {
		return err
	}
	r.tell()
	return nil
}

// tell counts a slice.
func (r *reader) tell() {
	if r.done != nil {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.read++
		r.done(r.read, len(r.s.Slices))
	}
}

// store decodes one frame and puts it where slice k belongs.
func (r *reader) store(p *pixels, c *colours, frame, k, n int) error {
	if p.float != 0 {
		values := make([]float64, n)
		p.floats(frame, values)
		r.reserve()
		s := r.s.plan.each[k]
		for i, x := range values {
			r.v.floats[k*n+i] = float32(s[0]*x + s[1])
		}
		return nil
	}
	if !r.s.plan.floats && c == nil && p.plain16() {
		r.reserve()
		dst := r.v.ints[k*n : (k+1)*n]
		p.words16(frame, dst)
		p.settleWords(dst, r.v.offset)
		return nil
	}
	values := make([]int32, p.count())
	space, err := p.integers(frame, values)
	if err != nil {
		return err
	}
	r.reserve()
	wide := !p.signed && p.stored == 32
	slope, intercept := 1.0, 0.0
	if r.s.plan.each != nil && (c == nil || c.table == nil) {
		slope, intercept = r.s.plan.each[k][0], r.s.plan.each[k][1]
	}
	grey := c.grey(space, values, p.samples)
	for i := range n {
		x := grey(i)
		switch {
		case !r.s.plan.floats:
			r.v.ints[k*n+i] = int16(int(x) - r.v.offset)
		case wide:
			r.v.floats[k*n+i] = float32(slope*float64(uint32(x)) + intercept)
		default:
			r.v.floats[k*n+i] = float32(slope*float64(x) + intercept)
		}
	}
	return nil
}

// reserve takes memory for the voxels, once a first slice has proved sound.
func (r *reader) reserve() {
	r.once.Do(func() {
		n := r.s.Size[0] * r.s.Size[1] * r.s.Size[2]
		if r.s.plan.floats {
			r.v.floats = make([]float32, n)
		} else {
			r.v.ints = make([]int16, n)
		}
	})
}
