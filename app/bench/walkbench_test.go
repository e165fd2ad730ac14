package bench

import (
	"image"
	"os"
	"runtime"
	"slices"
	"testing"
	"time"
)

// BenchmarkWalk80Faces walks a run of 40 slabs, each face with a photograph of 24 megapixels, from end to end and back, as
// row CP2 has it: every picture up from the stored preview, then in full detail, then the next. The budgets are 150 ms and
// 1.5 s on a machine that does nothing else, and 1.5 GB. Run it alone: peak-MB is of the whole process.
func BenchmarkWalk80Faces(b *testing.B) {
	const faces = 80
	paths := texturedPhotos(b, b.TempDir(), faces, 6000, 4000)
	l := newLoop()
	q := labOn(b, l, faces/2)
	defer q.Quit()
	q.DropPaths(paths)
	l.serve(func() bool { return q.take.job == nil })
	layAll(b, q)
	for q.Message() != nil {
		q.Dismiss()
	}
	q.Show(FaceScreen)
	pane := q.FacePane()
	pane.Resize(964, 668, 1)
	canvas := image.NewRGBA(image.Rect(0, 0, 964, 668))
	runtime.GC()
	forgetPeak()
	l.gaps = nil
	var preview, whole []time.Duration
	all := q.Run().Faces()
	for b.Loop() {
		for i := range 2 * faces {
			face := all[min(i, 2*faces-1-i)]
			start := time.Now()
			q.ChooseFace(face)
			l.serve(func() bool { return q.doc != nil && q.doc.picture != nil })
			pane.Paint(canvas)
			preview = append(preview, time.Since(start))
			l.serve(func() bool { return q.doc.whole })
			pane.Paint(canvas)
			whole = append(whole, time.Since(start))
		}
	}
	slices.Sort(preview)
	slices.Sort(whole)
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	b.ReportMetric(ms(preview[len(preview)/2]), "preview-ms")
	b.ReportMetric(ms(preview[len(preview)*95/100]), "preview-p95-ms")
	b.ReportMetric(ms(whole[len(whole)/2]), "whole-ms")
	b.ReportMetric(ms(whole[len(whole)*95/100]), "whole-p95-ms")
	b.ReportMetric(peakMemory(), "peak-MB")
	b.ReportMetric(loadAverage(), "load")
}

// forgetPeak lets the kernel count the most memory from now on, where it can.
func forgetPeak() { _ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0o200) }
