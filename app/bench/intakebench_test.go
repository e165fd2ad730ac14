package bench

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// loop is a Runner with an event loop of its own, as a window has one: work runs beside it, and what it brings back is
// served one after the other.
type loop struct {
	events chan func()
	mu     sync.Mutex
	gaps   []time.Duration // from asking to being served
	worst  time.Duration   // that one event took
	works  sync.WaitGroup
}

func newLoop() *loop { return &loop{events: make(chan func(), 1024)} }

func (l *loop) Go(_ string, work func(ctx context.Context, progress func(done, total int)) func()) {
	l.works.Go(func() {
		if done := work(context.Background(), nil); done != nil {
			l.events <- done
		}
	})
}

func (l *loop) After(d time.Duration, f func()) func() {
	stopped := false
	t := time.AfterFunc(d, func() {
		l.events <- func() {
			if !stopped {
				f()
			}
		}
	})
	return func() { stopped = true; t.Stop() }
}

// serve serves events until done says so; a hand that moves every 8 ms asks meanwhile, and how long it waits is noted.
func (l *loop) serve(done func() bool) {
	end := make(chan struct{})
	var hand sync.WaitGroup
	hand.Go(func() {
		tick := time.NewTicker(8 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-end:
				return
			case <-tick.C:
				asked := time.Now()
				select {
				case l.events <- func() { l.gaps = append(l.gaps, time.Since(asked)) }:
				case <-end:
					return
				}
			}
		}
	})
	for !done() {
		event := <-l.events
		start := time.Now()
		event()
		l.worst = max(l.worst, time.Since(start))
	}
	close(end)
	hand.Wait()
}

// texturedPhotos writes n JPEGs of w x h: a few different pictures with the grain of a camera, each with a time and bytes
// of its own. Names tell nothing of the order.
func texturedPhotos(tb testing.TB, dir string, n, w, h int) []string {
	tb.Helper()
	const kinds = 3
	var made [kinds][]byte
	for k := range made {
		m := grainyFace(w, h, uint64(k))
		var b bytes.Buffer
		if err := photo.EncodeJPEG(&b, m, 90); err != nil {
			tb.Fatal(err)
		}
		made[k] = b.Bytes()
	}
	r := rand.New(rand.NewPCG(uint64(n), 4))
	at := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)
	var paths []string
	for i, name := range r.Perm(n) {
		path := filepath.Join(dir, fmt.Sprintf("DSC_%04d.jpg", name))
		if err := os.WriteFile(path, photo.WithEXIF(made[i%kinds], 1, at.Add(time.Duration(i)*30*time.Second)), 0o644); err != nil {
			tb.Fatal(err)
		}
		paths = append(paths, path)
	}
	slices.Sort(paths)
	return paths
}

// grainyFace is an oval face of warm patches on a grey tray, with noise as a sensor has it.
func grainyFace(w, h int, seed uint64) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	var all sync.WaitGroup
	const bands = 4
	for k := range bands {
		all.Go(func() {
			r := rand.New(rand.NewPCG(seed, uint64(k)))
			for y := k * h / bands; y < (k+1)*h/bands; y++ {
				for x := range w {
					i := m.PixOffset(x, y)
					grain := r.IntN(12)
					v := 90 + grain
					red, blue := v, v
					if math.Hypot(float64(x-w/2)/float64(w), float64(y-h/2)/float64(h)) < 0.4 {
						v += (x*40/w + y*40/h + int(seed)) % 3 * 18
						red, blue = v+45, v-25
					}
					m.Pix[i], m.Pix[i+1], m.Pix[i+2], m.Pix[i+3] = uint8(red), uint8(v), uint8(blue), 255
				}
			}
		})
	}
	all.Wait()
	return m
}

// labOn begins a transverse run of some slabs in a new lab on disk, with an event loop.
func labOn(tb testing.TB, r Runner, slabs int) *Bench {
	tb.Helper()
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		tb.Fatal(err)
	}
	b := New(r, terms, Options{Author: "AB", DataDir: tb.TempDir(), Now: time.Now})
	err = b.BeginRun(NewRun{Dir: filepath.Join(tb.TempDir(), "lab"), Donor: "LB-1", Part: "trunk", Plane: section.Transverse,
		First: section.Superior, Thickness: 20, Kerf: 1, Slabs: slabs})
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// BenchmarkIntake takes 200 photographs of 24 megapixels in, with the receiving table on show and a hand that moves: how
// many sharp previews a second, how long the hand waits to be served, and the most memory. The goals are 4 previews a
// second on two cores, 50 ms and 1.5 GB, on a machine that does nothing else; the load beside the figures tells.
func BenchmarkIntake(b *testing.B) {
	n := 200
	if testing.Short() {
		n = 24 // the figures are the same but for the start
	}
	dir := b.TempDir()
	paths := texturedPhotos(b, dir, n, 6000, 4000)
	runtime.GC()
	for b.Loop() {
		l := newLoop()
		q := labOn(b, l, n/2)
		canvas := image.NewRGBA(image.Rect(0, 0, 964, 668))
		painted := false
		stop := q.OnChange(func(c Change) {
			if q.ReceivingPane().Wants(c) && !painted { // a window paints once for all changes of a moment
				painted = true
				l.events <- func() { painted = false; q.ReceivingPane().Paint(canvas) }
			}
		})
		cpu, start := cpuTime(), time.Now()
		q.DropPaths(paths)
		l.serve(func() bool { return q.take.job == nil })
		took := time.Since(start)
		used := cpuTime() - cpu
		if got := len(q.Tray()); got != n {
			b.Fatalf("%d of %d came in: %+v", got, n, q.Intake().Faults)
		}
		slices.Sort(l.gaps)
		b.ReportMetric(float64(n)/took.Seconds(), "previews/s")
		b.ReportMetric(used.Seconds()/float64(n)*1000, "cpu-ms/photo")
		b.ReportMetric(float64(l.gaps[len(l.gaps)*99/100].Microseconds())/1000, "wait-p99-ms")
		b.ReportMetric(float64(l.gaps[len(l.gaps)-1].Microseconds())/1000, "wait-max-ms")
		b.ReportMetric(float64(l.worst.Microseconds())/1000, "event-max-ms")
		b.ReportMetric(peakMemory(), "peak-MB")
		b.ReportMetric(loadAverage(), "load")
		stop()
		if err := q.Quit(); err != nil {
			b.Fatal(err)
		}
	}
}

// peakMemory is the most memory this process ever held, in MB; 0 where the system does not tell.
func peakMemory() float64 { return procNumber("/proc/self/status", "VmHWM:", 1) / 1024 }

// loadAverage is that of the last minute, 0 where the system does not tell.
func loadAverage() float64 { return procNumber("/proc/loadavg", "", 0) }

// procNumber reads a number from the line of a file that begins so, the field at.
func procNumber(path, begins string, at int) (v float64) {
	text, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if f := strings.Fields(line); strings.HasPrefix(line, begins) && len(f) > at {
			_, _ = fmt.Sscan(f[at], &v)
			return v
		}
	}
	return 0
}

// cpuTime is what this process has used of the processors, 0 where the system does not tell.
func cpuTime() time.Duration {
	text, err := os.ReadFile("/proc/self/stat")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), ") ")
	f := strings.Fields(rest)
	if len(f) < 13 {
		return 0
	}
	var user, system int64
	_, _ = fmt.Sscan(f[11], &user)
	_, _ = fmt.Sscan(f[12], &system)
	return time.Duration(user+system) * (time.Second / 100) // the kernel counts hundredths for programs
}

// BenchmarkReceivingPaint paints the table with 200 prints, as every move of a hand that carries one asks for; the goal is
// that a move never waits 50 ms.
func BenchmarkReceivingPaint(b *testing.B) {
	for _, scale := range []float64{1, 2} {
		b.Run(fmt.Sprint(100*scale, "%"), func(b *testing.B) {
			q, p := crowdedTable(b)
			dst := image.NewRGBA(image.Rect(0, 0, 964, 668))
			p.Resize(964, 668, scale)
			p.Paint(dst)
			from := middle(p.at(p.grid(200), 1))
			p.Down(from, Primary, Mods{})
			for i := 0; b.Loop(); i++ {
				p.Drag(geom.Px{X: 100 + float64(i%400), Y: 100 + float64(i%300)})
				p.Paint(dst)
			}
			p.Up(from)
			q.Propose()
		})
	}
}
