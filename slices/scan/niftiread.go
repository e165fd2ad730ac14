package scan

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"strings"

	"sectionary/slices/geom"
)

// ReadNIfTI reads a NIfTI-1 or NIfTI-2 image (.nii, plain or gzip). Of a time series it returns the first volume and
// says so in Warnings. Neither qform nor sform: Unoriented is set and the axes are taken as stored.
func ReadNIfTI(r io.Reader) (*Volume, error) {
	v, err := readNIfTI(context.Background(), r, nil, 0, nil)
	if err != nil {
		return nil, fmt.Errorf("scan: %w", err)
	}
	return v, nil
}

// readNIfTI reads volume number n. img holds the voxels of a pair; nil: they follow the header.
func readNIfTI(ctx context.Context, r, img io.Reader, n int, done func(read, total int)) (*Volume, error) {
	plain, size, err := unpacked(r)
	if err != nil {
		return nil, err
	}
	data := make([]byte, nifti2Length)
	got, err := io.ReadFull(plain, data)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	h, err := parseNIfTI(data[:got])
	if err != nil {
		return nil, err
	}
	body, skip := io.MultiReader(bytes.NewReader(data[:got]), plain), h.offset
	if h.pair {
		if img == nil {
			return nil, fmt.Errorf("%w: the header of a pair (.hdr) without its voxels (.img)", ErrUnsupported)
		}
		if body, size, err = unpacked(img); err != nil {
			return nil, err
		}
	}
	v := h.volume()
	count := h.size[0] * h.size[1] * h.size[2]
	t, ok := niftiTypes[h.kind]
	if !ok {
		return nil, fmt.Errorf("%w: NIfTI data type %d", ErrUnsupported, h.kind)
	}
	bytesEach := int64(count) * int64(t.size)
	skip += int64(n) * bytesEach
	if n >= h.volumes || size >= 0 && size < skip+bytesEach {
		return nil, fmt.Errorf("%w: cut short, %d bytes where %d are promised", ErrDamaged, size, skip+bytesEach)
	}
	if _, err := io.CopyN(io.Discard, body, skip); err != nil {
		return nil, fmt.Errorf("%w: the file ends before its voxels", ErrDamaged)
	}
	return v, t.read(ctx, v, h, bufio.NewReaderSize(body, 1<<16), count, size >= 0, done)
}

// unpacked looks through gzip. size is that of the plain file, or -1 when it cannot be known.
func unpacked(r io.Reader) (plain io.Reader, size int64, err error) {
	size = -1
	if s, ok := r.(interface{ Stat() (fs.FileInfo, error) }); ok {
		if info, err := s.Stat(); err == nil && info.Mode().IsRegular() {
			size = info.Size()
		}
	}
	b := bufio.NewReaderSize(r, 1<<16)
	if head, _ := b.Peek(2); len(head) == 2 && head[0] == 0x1f && head[1] == 0x8b {
		z, err := gzip.NewReader(b)
		if err != nil {
			return nil, 0, fmt.Errorf("%w: %w", ErrDamaged, err)
		}
		return z, -1, nil
	}
	return b, size, nil
}

// volume returns an empty volume with the header's geometry.
func (h *niftiHead) volume() *Volume {
	v := &Volume{Size: h.size, ToLPS: h.toLPS, Unoriented: !h.oriented, Slope: h.slope, Intercept: h.intercept}
	v.straighten()
	if h.high > h.low && isFinite(h.high) && isFinite(h.low) {
		v.Windows = []Window{{Centre: (h.low + h.high) / 2, Width: h.high - h.low, Function: LinearExact}}
	}
	v.Warnings = h.warnings()
	return v
}

func (h *niftiHead) warnings() (list []string) {
	if !h.oriented {
		list = append(list, "The file does not say how the body lies in the picture: sides are unknown and edge letters read ?.")
	}
	if h.volumes > 1 {
		list = append(list, fmt.Sprintf("This file holds %d volumes over the same place; each is kept apart.", h.volumes))
	}
	if h.kind == 128 || h.kind == 2304 {
		list = append(list, "Colour pictures are shown as grey.")
	}
	if t := (Series{ToLPS: h.toLPS}).Tilt(); h.oriented && t > tiltTold && h.size[2] > 1 {
		list = append(list, fmt.Sprintf("The slices are stacked at a slant of %.1f degrees (tilted gantry); cuts allow for it.", t*180/math.Pi))
	}
	return list
}

// niftiType says how the values of one data type are held.
type niftiType struct {
	size   int                                  // bytes of a stored value
	short  func(b []byte) int16                 // for those held as int16
	offset int                                  // of those
	value  func(h *niftiHead, b []byte) float64 // for those held as float32
	raw    bool                                 // float32 already: slope and intercept stay apart
}

var niftiTypes = map[int]niftiType{
	2:    {size: 1, short: func(b []byte) int16 { return int16(b[0]) }},
	256:  {size: 1, short: func(b []byte) int16 { return int16(int8(b[0])) }},
	4:    {size: 2},
	512:  {size: 2, offset: 1 << 15},
	8:    {size: 4, value: func(h *niftiHead, b []byte) float64 { return float64(int32(h.order.Uint32(b))) }},
	768:  {size: 4, value: func(h *niftiHead, b []byte) float64 { return float64(h.order.Uint32(b)) }},
	16:   {size: 4, raw: true, value: func(h *niftiHead, b []byte) float64 { return h.float32(b) }},
	64:   {size: 8, value: func(h *niftiHead, b []byte) float64 { return h.float64(b) }},
	1024: {size: 8, value: func(h *niftiHead, b []byte) float64 { return float64(int64(h.order.Uint64(b))) }},
	1280: {size: 8, value: func(h *niftiHead, b []byte) float64 { return float64(h.order.Uint64(b)) }},
	32:   {size: 8, value: func(h *niftiHead, b []byte) float64 { return math.Hypot(h.float32(b), h.float32(b[4:])) }},
	1792: {size: 16, value: func(h *niftiHead, b []byte) float64 { return math.Hypot(h.float64(b), h.float64(b[8:])) }},
	128:  {size: 3, short: func(b []byte) int16 { return int16(luma(int32(b[0]), int32(b[1]), int32(b[2]))) }},
	2304: {size: 4, short: func(b []byte) int16 { return int16(luma(int32(b[0]), int32(b[1]), int32(b[2]))) }},
}

func (h *niftiHead) float32(b []byte) float64 {
	return float64(math.Float32frombits(h.order.Uint32(b)))
}
func (h *niftiHead) float64(b []byte) float64 { return math.Float64frombits(h.order.Uint64(b)) }

const niftiChunk = 1 << 18 // voxels read at a time

// read fills v with count values. Memory grows as values come, unless sure says that they are there.
func (t niftiType) read(ctx context.Context, v *Volume, h *niftiHead, r io.Reader, count int, sure bool, done func(read, total int)) error {
	first := min(count, 1<<22)
	if sure {
		first = count
	}
	if t.value == nil {
		v.ints, v.offset = make([]int16, 0, first), t.offset
	} else {
		v.floats = make([]float32, 0, first)
	}
	if h.kind == 128 || h.kind == 2304 {
		v.Slope, v.Intercept = 1, 0
	}
	buffer := make([]byte, min(count, niftiChunk)*t.size)
	for at := 0; at < count; at += niftiChunk {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		b := buffer[:min(count-at, niftiChunk)*t.size]
		if _, err := io.ReadFull(r, b); err != nil {
			return fmt.Errorf("%w: cut short, the voxels end after %d of %d", ErrDamaged, at, count)
		}
		t.take(v, h, b)
		if done != nil {
			done(min(count, at+niftiChunk)*h.size[2]/count, h.size[2])
		}
	}
	if t.value != nil && !t.raw {
		v.Slope, v.Intercept = 1, 0
	}
	return nil
}

// take appends the values in b.
func (t niftiType) take(v *Volume, h *niftiHead, b []byte) {
	switch {
	case t.value != nil && t.raw:
		for ; len(b) > 0; b = b[t.size:] {
			v.floats = append(v.floats, float32(t.value(h, b)))
		}
	case t.value != nil:
		for ; len(b) > 0; b = b[t.size:] {
			v.floats = append(v.floats, float32(h.slope*t.value(h, b)+h.intercept))
		}
	case t.short != nil:
		for ; len(b) > 0; b = b[t.size:] {
			v.ints = append(v.ints, t.short(b))
		}
	default:
		enc, less := encoding{big: h.order.Uint16([]byte{0, 1}) == 1}, uint16(t.offset)
		for i := 0; i+1 < len(b); i += 2 {
			v.ints = append(v.ints, int16(enc.u16(b[i:])-less))
		}
	}
}

// otherKind looks for formats besides DICOM in the first bytes of a file. It returns nil when DICOM is to be tried, a
// reader of the header's bytes for NIfTI, or a reason.
type niftiLook struct {
	head   []byte
	packed bool
	err    error
}

func otherKind(data []byte) *niftiLook {
	if _, _, ok := niftiMagic(data); ok {
		return &niftiLook{head: data}
	}
	switch {
	case len(data) > 2 && data[0] == 0x1f && data[1] == 0x8b:
		z, err := gzip.NewReader(bytes.NewReader(data))
		if err != nil {
			return &niftiLook{err: fmt.Errorf("%w: %w", ErrDamaged, err)}
		}
		head := make([]byte, nifti2Length)
		n, _ := io.ReadFull(z, head)
		if _, _, ok := niftiMagic(head[:n]); ok {
			return &niftiLook{head: head[:n], packed: true}
		}
		if n >= 132 && string(head[128:132]) == "DICM" {
			return &niftiLook{err: fmt.Errorf("%w: DICOM packed with gzip; unpack it first", ErrUnsupported)}
		}
		return &niftiLook{err: fmt.Errorf("%w: packed with gzip, and no NIfTI inside", ErrNotScan)}
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return &niftiLook{err: fmt.Errorf("%w: a zip archive inside; open it by itself", ErrUnsupported)}
	case len(data) >= nifti1Length && (bytes.HasPrefix(data, []byte{0x5c, 1, 0, 0}) || bytes.HasPrefix(data, []byte{0, 0, 1, 0x5c})):
		return &niftiLook{err: fmt.Errorf("%w: an Analyze 7.5 header, which does not tell left from right", ErrUnsupported)}
	}
	return nil
}

// lookNIfTI makes the series of one NIfTI file: one for each volume of a time series, up to maxVolumes.
// size is the file's.
func lookNIfTI(files fs.FS, path string, size int64, kind *niftiLook) look {
	if kind.err != nil {
		return look{err: kind.err}
	}
	h, err := parseNIfTI(kind.head)
	if err != nil {
		return look{err: err}
	}
	t, ok := niftiTypes[h.kind]
	if !ok {
		return look{err: fmt.Errorf("%w: NIfTI data type %d", ErrUnsupported, h.kind)}
	}
	names := []string{path}
	if h.pair {
		img, at, ok := imageOf(files, path)
		if !ok {
			return look{err: fmt.Errorf("%w: the header of a pair (.hdr) without its voxels (.img)", ErrUnsupported)}
		}
		names, size = append(names, img), at
		kind.packed = strings.HasSuffix(img, ".gz")
	}
	want := h.offset + int64(h.size[0]*h.size[1]*h.size[2])*int64(h.volumes)*int64(t.size)
	if !kind.packed && size < want {
		return look{err: fmt.Errorf("%w: cut short, %d of %d bytes are there", ErrDamaged, size, want)}
	}
	var list []Series
	for n := range min(h.volumes, maxVolumes) {
		list = append(list, h.series(names, n))
	}
	return look{series: list}
}

// maxVolumes bounds the volumes listed of one time series.
const maxVolumes = 64

// series is volume n of the file.
func (h *niftiHead) series(names []string, n int) Series {
	v := h.volume()
	s := v.Series()
	s.UID = madeUID(fmt.Sprintf("nifti %s %d", names[0], n))
	s.Frame = madeUID("nifti frame " + names[0])
	s.Files, s.Volume, s.kind = names, n, fromNIfTI
	if h.volumes > maxVolumes {
		s.Warnings = append(s.Warnings, fmt.Sprintf("Only the first %d of %d volumes are listed.", maxVolumes, h.volumes))
	}
	for k := range h.size[2] {
		s.Slices = append(s.Slices, SliceRef{Frame: k})
	}
	return s
}

// imageOf finds the voxel file of a header and its size.
func imageOf(files fs.FS, path string) (name string, size int64, ok bool) {
	base := strings.TrimSuffix(path, ".gz")
	if len(base) < 4 {
		return "", 0, false
	}
	base = base[:len(base)-4]
	for _, end := range []string{".img", ".img.gz", ".IMG", ".Img"} {
		if info, err := fs.Stat(files, base+end); err == nil && info.Mode().IsRegular() {
			return base + end, info.Size(), true
		}
	}
	return "", 0, false
}

// loadNIfTI reads one volume of a surveyed NIfTI file.
func loadNIfTI(ctx context.Context, files fs.FS, s Series, done func(read, total int)) (*Volume, error) {
	open := make([]io.Reader, 2)
	for i, name := range s.Files {
		f, err := files.Open(name)
		if err != nil {
			return nil, fmt.Errorf("scan: %w", err)
		}
		defer f.Close()
		open[i] = f
	}
	v, err := readNIfTI(ctx, open[0], open[1], s.Volume, done)
	if err != nil {
		return nil, fmt.Errorf("scan: %s: %w", s.Files[0], err)
	}
	if v.Size != s.Size {
		return nil, fmt.Errorf("scan: %s: %w: it changed since it was surveyed", s.Files[0], ErrDamaged)
	}
	v.UID, v.Modality, v.Description, v.Frame = s.UID, s.Modality, s.Description, s.Frame
	v.Warnings = append([]string(nil), s.Warnings...)
	return v, nil
}

// rasOf turns an LPS affine into the RAS of NIfTI. The flip back stands in niftiHead.place.
func rasOf(a geom.Affine) geom.Affine {
	for n := range 8 {
		a[n] = -a[n] + 0
	}
	return a
}
