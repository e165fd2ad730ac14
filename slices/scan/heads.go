package scan

import (
	"fmt"
	"math"
	"strings"

	"sectionary/slices/geom"
)

const (
	tagImageType     tag = 0x00080008
	tagPosition      tag = 0x00200032
	tagOrientation   tag = 0x00200037
	tagSpacing       tag = 0x00280030
	tagThickness     tag = 0x00180050
	tagSlope         tag = 0x00281053
	tagIntercept     tag = 0x00281052
	tagCentre        tag = 0x00281050
	tagWidth         tag = 0x00281051
	tagTemporalIndex tag = 0x00209128
	tagShared        tag = 0x52009229
	tagPerFrame      tag = 0x52009230
)

// head is what the survey keeps of one DICOM file.
type head struct {
	path                                      string
	series, modality, description, frame, sop string
	imageType                                 []string
	layout                                    layout
	instance, acquisition                     int
	localizer, mosaic, burned, face, inverse  bool
	padding                                   *[2]int
	windows                                   []Window
	table                                     *lookup // modality LUT
}

// shot is one frame of a file: a slice that may become part of a stack.
type shot struct {
	*head
	number           int      // frame in the file, from 0
	placed, turned   bool     // position and orientation are told
	sized            bool     // pixel spacing is told
	row, col         geom.Vec // unit vectors along a row, down a column
	origin           geom.LPS
	spacing          [2]float64 // mm between columns, between rows
	thickness        float64    // 0 when not told
	echo, time, b    float64    // what tells volumes of a series apart
	component        string     // magnitude, phase and the like
	slope, intercept float64
	position         float64 // along the normal, set when grouped
}

// shotsOf turns a parsed header into the frames it describes.
func shotsOf(path string, f *file) ([]shot, error) {
	modality := f.text(0x00080060)
	class := f.text(0x00080016)
	if class == "" {
		class = f.class
	}
	if err := kindOf(class, modality); err != nil {
		return nil, err
	}
	l, err := layoutOf(f)
	if err != nil {
		return nil, err
	}
	if modality == "US" || modality == "IVUS" {
		return nil, kindOf("1.2.840.10008.5.1.4.1.1.6.1", modality)
	}
	frames := f.find(tagPerFrame).items()
	if l.frames > max(len(frames), maxPlainFrames) {
		return nil, fmt.Errorf("%w: %d pictures in one file", ErrTooLarge, l.frames)
	}
	all := shot{head: headOf(path, f, l), slope: 1, spacing: [2]float64{1, 1}}
	all.read(f.dataset)
	all.group(f.item(tagShared))
	if l.frames > 1 && len(frames) == 0 {
		all.placed = false // frames of one header share its one position: no stack can be told
	}
	list := make([]shot, 0, min(l.frames, 1<<10))
	for n := range l.frames {
		s := all
		if s.number = n; n < len(frames) {
			s.group(frames[n])
		}
		list = append(list, s)
	}
	return list, nil
}

// maxPlainFrames bounds the frames taken from a file that says nothing of each: a claim costs no bytes there.
const maxPlainFrames = 1 << 14

func headOf(path string, f *file, l layout) *head {
	h := &head{
		path: path, layout: l,
		series: f.text(0x0020000E), modality: f.text(0x00080060), description: f.readable(0x0008103E),
		frame: f.text(0x00200052), sop: f.text(0x00080018), imageType: f.texts(tagImageType),
		burned:  f.text(0x00280301) == "YES",
		inverse: l.photometric == "MONOCHROME1",
		windows: windowsOf(f.dataset), table: modalityTable(f.dataset, l),
	}
	h.instance, _ = f.whole(0x00200013)
	h.acquisition, _ = f.whole(0x00200012)
	for _, t := range h.imageType {
		h.localizer = h.localizer || t == "LOCALIZER"
		h.mosaic = h.mosaic || t == "MOSAIC"
	}
	h.face = showsFace(f)
	if e := f.find(0x00280120); e != nil && len(e.value) >= 2 {
		low := storedNumber(f.enc, e.value, l)
		high := low
		if e := f.find(0x00280121); e != nil && len(e.value) >= 2 {
			high = storedNumber(f.enc, e.value, l)
		}
		h.padding = &[2]int{min(low, high), max(low, high)}
	}
	return h
}

// storedNumber reads a value written like a pixel.
func storedNumber(enc encoding, b []byte, l layout) int {
	if l.signed {
		return int(int16(enc.u16(b)))
	}
	return int(enc.u16(b))
}

// showsFace reports whether the header speaks of a head, where skin rendered from a stack may be recognised.
func showsFace(f *file) bool {
	words := strings.ToUpper(f.text(0x00180015) + " " + f.text(0x00081030) + " " + f.text(0x0008103E) + " " + f.text(0x00181030))
	for _, w := range []string{"HEAD", "BRAIN", "FACE", "SKULL", "CRANI", "NEURO", "SINUS", "ORBIT"} {
		if strings.Contains(words, w) {
			return true
		}
	}
	return false
}

// read takes the geometry and rescale of one data set's own attributes.
func (s *shot) read(d dataset) {
	if v := d.vector(tagOrientation, 6); v != nil {
		s.orient(v)
	}
	if v := d.vector(tagPosition, 3); v != nil {
		s.origin, s.placed = geom.LPS{X: v[0], Y: v[1], Z: v[2]}, true
	}
	for _, t := range []tag{tagSpacing, 0x00181164, 0x00182010} { // stored as between rows, between columns
		if v := d.vector(t, 2); v != nil && v[0] > 0 && v[1] > 0 {
			s.spacing, s.sized = [2]float64{v[1], v[0]}, true
			break
		}
	}
	s.thickness, _ = d.number(tagThickness)
	s.rescale(d)
	s.echo, _ = d.number(0x00180081)
	s.time, _ = d.number(0x00200100)
	if s.time == 0 {
		s.time, _ = d.number(0x00181060)
	}
	s.b, _ = d.double(0x00189087)
	s.component = d.text(0x00089208)
	if s.component == "" && len(s.imageType) > 2 {
		s.component = strings.Join(s.imageType[2:], " ")
	}
}

// orient takes the six cosines when they are two unit vectors at right angles, within what rounding explains.
func (s *shot) orient(v []float64) {
	row, col := geom.Vec{X: v[0], Y: v[1], Z: v[2]}, geom.Vec{X: v[3], Y: v[4], Z: v[5]}
	const slack = 0.02
	s.turned = math.Abs(row.Len()-1) < slack && math.Abs(col.Len()-1) < slack && math.Abs(row.Dot(col)) < slack
	s.row, s.col = row.Unit(), col.Unit()
}

func (s *shot) rescale(d dataset) {
	if x, ok := d.number(tagSlope); ok && x != 0 {
		s.slope = x
		s.intercept, _ = d.number(tagIntercept)
	} else if x, ok := d.number(tagIntercept); ok {
		s.intercept = x
	}
}

// group takes what an item of a functional group sequence says of the frame (PS3.3 C.7.6.16).
func (s *shot) group(d dataset) {
	if len(d.elements) == 0 {
		return
	}
	place, turn := d.item(0x00209113).vector(tagPosition, 3), d.item(0x00209116).vector(tagOrientation, 6)
	if turn != nil {
		s.orient(turn)
	}
	if place != nil {
		s.origin, s.placed = geom.LPS{X: place[0], Y: place[1], Z: place[2]}, true
	}
	if m := d.item(0x00289110); len(m.elements) > 0 {
		if v := m.vector(tagSpacing, 2); v != nil && v[0] > 0 && v[1] > 0 {
			s.spacing, s.sized = [2]float64{v[1], v[0]}, true
		}
		if x, ok := m.number(tagThickness); ok {
			s.thickness = x
		}
	}
	if m := d.item(0x00289145); len(m.elements) > 0 {
		s.rescale(m)
	}
	if x, ok := d.item(0x00189114).double(0x00189082); ok {
		s.echo = x
	}
	if x, ok := d.item(0x00189117).double(0x00189087); ok {
		s.b = x
	}
	if n, ok := d.item(0x00209111).integer(tagTemporalIndex); ok {
		s.time = float64(n)
	}
	if c := d.item(0x00189226).text(0x00089208); c != "" {
		s.component = c
	}
	if w := windowsOf(d.item(0x00289132)); len(w) > 0 && len(s.windows) == 0 {
		s.windows = w
		for i := range s.windows {
			s.windows[i].Inverse = s.inverse
		}
	}
}

// oriented reports whether the frame's place in the patient is known.
func (s *shot) oriented() bool { return s.placed && s.turned }
