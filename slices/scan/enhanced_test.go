package scan

import (
	"context"
	"encoding/binary"
	"fmt"
	"slices"
	"testing"
	"testing/fstest"
	"time"
)

// item wraps elements as an item of a sequence of stated or unstated length.
func sequence(t tag, open bool, items ...*build) func(*build) {
	return func(b *build) {
		little := binary.LittleEndian
		var body []byte
		for _, it := range items {
			body = append(body, 0xfe, 0xff, 0x00, 0xe0)
			if open {
				body = append(append(body, 0xff, 0xff, 0xff, 0xff), it.body...)
				body = append(body, 0xfe, 0xff, 0x0d, 0xe0, 0, 0, 0, 0)
			} else {
				body = append(little.AppendUint32(body, uint32(len(it.body))), it.body...)
			}
		}
		if !open {
			b.element(t, "SQ", body)
			return
		}
		b.body = little.AppendUint16(little.AppendUint16(b.body, uint16(t>>16)), uint16(t))
		b.body = append(append(b.body, 'S', 'Q', 0, 0, 0xff, 0xff, 0xff, 0xff), body...)
		b.body = append(b.body, 0xfe, 0xff, 0xdd, 0xe0, 0, 0, 0, 0)
	}
}

func with(parts ...func(*build)) *build {
	b := &build{}
	for _, p := range parts {
		p(b)
	}
	return b
}

// enhanced makes a multi-frame file: frame n holds pixels n*10..., lies at positions[n] and has its own slope.
func enhanced(open bool, positions []float64, times []int) *fstest.MapFile {
	b := &build{}
	b.text(0x00080016, "UI", "1.2.840.10008.5.1.4.1.1.4.1").text(0x00080060, "CS", "MR").text(0x0020000E, "UI", "1.2.7")
	b.short(tagSamples, 1).text(tagPhotometric, "CS", "MONOCHROME2").text(tagFrames, "IS", fmt.Sprint(len(positions)))
	b.short(tagRows, 2).short(tagColumns, 3).short(tagAllocated, 16).short(tagStored, 12).short(tagHighBit, 11).short(tagSigned, 0)
	sequence(tagShared, open, with(
		sequence(0x00209116, open, with(func(b *build) { b.numbers(tagOrientation, 0, 1, 0, 0, 0, -1) })),
		sequence(0x00289110, open, with(func(b *build) { b.numbers(tagSpacing, 0.8, 0.5).numbers(tagThickness, 2) })),
	))(b)
	var frames []*build
	var pixels []byte
	for n, x := range positions {
		frames = append(frames, with(
			sequence(0x00209111, open, with(func(b *build) {
				b.element(tagTemporalIndex, "UL", binary.LittleEndian.AppendUint32(nil, uint32(times[n])))
			})),
			sequence(0x00209113, open, with(func(b *build) { b.numbers(tagPosition, x, -20, 30) })),
			sequence(0x00289145, open, with(func(b *build) { b.numbers(tagIntercept, -5).numbers(tagSlope, float64(n+1)) })),
		))
		for i := range 6 {
			pixels = binary.LittleEndian.AppendUint16(pixels, uint16(10*n+i))
		}
	}
	sequence(tagPerFrame, open, frames...)(b)
	return b.element(tagPixels, "OW", pixels).file(syntaxExplicit)
}

// TestFunctionalGroups: frames out of order, with a rescale each, go where their groups say (PS3.3 C.7.6.16), written
// with stated and unstated lengths.
func TestFunctionalGroups(t *testing.T) {
	for _, open := range []bool{false, true} {
		s, v := only(t, fstest.MapFS{"f": enhanced(open, []float64{6, 2, 4, 0}, []int{1, 1, 1, 1})})
		// the normal of this sagittal stack points to -x: the first slice is the one farthest left
		if s.Size != [3]int{3, 2, 4} || !slices.Equal(s.Positions, []float64{-6, -4, -2, 0}) || s.Spacing() != [3]float64{0.5, 0.8, 2} {
			t.Errorf("%+v", s.Record())
		}
		for k, frame := range []int{0, 2, 1, 3} {
			if want := float64((frame+1)*(10*frame+4) - 5); v.Value(1, 1, k) != want {
				t.Errorf("slice %d holds %g, want %g", k, v.Value(1, 1, k), want)
			}
		}
		if len(s.Files) != 1 || s.Slices[1].Frame != 2 {
			t.Errorf("slices %v of %v", s.Slices, s.Files)
		}
	}
}

// TestFrameVolumes: two time points in one file are two volumes.
func TestFrameVolumes(t *testing.T) {
	files := fstest.MapFS{"f": enhanced(true, []float64{0, 2, 4, 0, 2, 4}, []int{1, 1, 1, 2, 2, 2})}
	list, _ := survey(t, files)
	if len(list) != 2 || list[0].Size[2] != 3 || !hasWarning(list[0], "2 volumes") {
		t.Fatalf("%d series", len(list))
	}
	for n, s := range list {
		v, err := Load(context.Background(), files, s, nil)
		if err != nil {
			t.Fatal(err)
		}
		frame := 3*n + 2 // x = 4 comes first along the normal
		if want := float64((frame+1)*(10*frame) - 5); v.Value(0, 0, 0) != want {
			t.Errorf("volume %d starts with %g, want %g", n, v.Value(0, 0, 0), want)
		}
	}
}

// TestManyFramesAreLinear: a header of many frames, and one that only claims them, take no noticeable time.
func TestManyFramesAreLinear(t *testing.T) {
	positions, times := make([]float64, 4000), make([]int, 4000)
	for i := range positions {
		positions[i] = float64(i)
	}
	start := time.Now()
	s, _ := only(t, fstest.MapFS{"f": enhanced(true, positions, times)})
	if s.Size[2] != 4000 || time.Since(start) > 2*time.Second { // the limit for any file
		t.Errorf("%v in %v", s.Size, time.Since(start))
	}
	claim := slice{more: func(b *build) { b.text(tagFrames, "IS", "2000000000") }}.file()
	if list, skipped := survey(t, fstest.MapFS{"f": claim}); len(list) != 0 || skipped["f"] == nil {
		t.Error("a claim of two thousand million frames is believed")
	}
}

// TestThinned: a series too large to hold keeps every n-th slice at its true place and says so.
func TestThinned(t *testing.T) {
	files := stackFiles([]float64{0, 2, 4, 6, 12, 14, 16, 18, 20}, nil)
	list, _ := survey(t, files)
	s := list[0].thin(20 * 4)
	if s.Size[2] != 3 || !slices.Equal(s.Positions, []float64{0, 12 + 2, 20}) && !slices.Equal(s.Positions, []float64{0, 6, 16}) {
		t.Fatalf("%v", s.Positions)
	}
	if !hasWarning(s, "one slice in 3") || !slices.Equal(s.Gaps, []bool{false, true}) {
		t.Errorf("gaps %v warnings %q", s.Gaps, s.Warnings)
	}
	v, err := Load(context.Background(), files, s, nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range []float64{0, 30, 60} {
		if v.Value(0, 0, k) != want {
			t.Errorf("slice %d holds %g", k, v.Value(0, 0, k))
		}
	}
	if whole := list[0].thin(20 * 9); whole.Size[2] != 9 {
		t.Error("a series that fits is thinned")
	}
}
