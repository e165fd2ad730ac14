package photo

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// BenchmarkBesideDjpeg opens a photograph of 50 megapixels, ready to be painted at any zoom, and decodes it with djpeg of
// libjpeg-turbo by turns in the same run. x_djpeg is the time of the one over that of the other, the best of each;
// the budget is 4.5.
func BenchmarkBesideDjpeg(b *testing.B) {
	cjpeg, err1 := exec.LookPath("cjpeg")
	djpeg, err2 := exec.LookPath("djpeg")
	if err1 != nil || err2 != nil {
		b.Skip("cjpeg and djpeg (libjpeg-turbo-progs) are not installed")
	}
	ppm := filepath.Join(b.TempDir(), "p.ppm")
	writePPM(b, ppm, photograph(8688, 5792))
	for _, kind := range []struct {
		name string
		args []string
	}{
		{"baseline420", []string{"-sample", "2x2"}}, {"baseline422", []string{"-sample", "2x1"}}, {"baseline444", []string{"-sample", "1x1"}},
		{"progressive420", []string{"-progressive", "-sample", "2x2"}}, {"progressive444", []string{"-progressive", "-sample", "1x1"}},
		{"restarts420", []string{"-restart", "4", "-sample", "2x2"}}, {"grey", []string{"-grayscale"}},
	} {
		b.Run(kind.name, func(b *testing.B) {
			file := filepath.Join(b.TempDir(), "p.jpg")
			args := append([]string{"-quality", "92", "-outfile", file}, append(kind.args, ppm)...)
			if out, err := exec.Command(cjpeg, args...).CombinedOutput(); err != nil {
				b.Fatalf("%v: %s", err, out)
			}
			data, err := os.ReadFile(file)
			if err != nil {
				b.Fatal(err)
			}
			best := [2]time.Duration{time.Hour, time.Hour}
			for b.Loop() {
				start := time.Now()
				if _, err := Open(context.Background(), bytes.NewReader(data), Limit{}); err != nil {
					b.Fatal(err)
				}
				best[0] = min(best[0], time.Since(start))
				b.StopTimer()
				start = time.Now()
				if err := exec.Command(djpeg, "-outfile", os.DevNull, file).Run(); err != nil {
					b.Fatal(err)
				}
				best[1] = min(best[1], time.Since(start))
				b.StartTimer()
			}
			b.ReportMetric(best[0].Seconds()*1000, "best_ms")
			b.ReportMetric(best[1].Seconds()*1000, "djpeg_ms")
			b.ReportMetric(best[0].Seconds()/best[1].Seconds(), "x_djpeg")
			b.ReportMetric(float64(len(data))/(8688*5792)*8, "bits/px")
		})
	}
}

func writePPM(tb testing.TB, path string, m *image.YCbCr) {
	tb.Helper()
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintf(w, "P6 %d %d 255\n", m.Rect.Dx(), m.Rect.Dy())
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			v := pixel(m, x, y)
			w.Write([]byte{byte(v), byte(v >> 8), byte(v >> 16)})
		}
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	if err := f.Close(); err != nil {
		tb.Fatal(err)
	}
}

// BenchmarkPaintWhileOpening100MP paints the preview of a photograph, as a person who moves it does, while its 100 megapixels
// are decoded as a job beside. Reported are the longest and the middle time from one finished frame to the next.
func BenchmarkPaintWhileOpening100MP(b *testing.B) {
	data := jpegOf(b, photograph(11608, 8708))
	preview := NewImage(photograph(1086, 814))
	dst := image.NewRGBA(image.Rect(0, 0, 900, 640))
	var frames []time.Duration
	for b.Loop() {
		done := make(chan error, 1)
		go func() {
			_, err := Open(context.Background(), bytes.NewReader(data), Limit{})
			done <- err
		}()
		for last, open := time.Now(), true; open; {
			preview.Draw(dst, [6]float64{1.1, 0.02, float64(len(frames) % 50), -0.02, 1.1, 0})
			now := time.Now()
			frames, last = append(frames, now.Sub(last)), now
			select {
			case err := <-done:
				if err != nil {
					b.Fatal(err)
				}
				open = false
			default:
				time.Sleep(5 * time.Millisecond)
			}
		}
	}
	slices.Sort(frames)
	b.ReportMetric(float64(frames[len(frames)-1])/1e6, "longest_ms")
	b.ReportMetric(float64(frames[len(frames)/2])/1e6, "middle_ms")
}
