package ui

import (
	"context"
	"sync"
	"time"

	"fyne.io/fyne/v2"
)

// Runner is the event loop handed to the bench: work runs in goroutines of its own and comes back through
// fyne.Do. Stop it before the window goes; what comes later is dropped.
type Runner struct {
	ctx     context.Context
	cancel  context.CancelFunc
	onNews  func() // progress was made; called on the event loop, at most ten times a second
	mu      sync.Mutex
	pending bool
}

// NewRunner returns a runner whose work is cancelled by Stop.
func NewRunner() *Runner {
	ctx, cancel := context.WithCancel(context.Background())
	return &Runner{ctx: ctx, cancel: cancel}
}

// Stop cancels all work.
func (r *Runner) Stop() { r.cancel() }

// Go implements bench.Runner.
func (r *Runner) Go(_ string, work func(ctx context.Context, progress func(done, total int)) (done func())) {
	go func() {
		done := work(r.ctx, func(int, int) { r.news() })
		if done == nil {
			return
		}
		fyne.Do(func() {
			if r.ctx.Err() == nil {
				done()
			}
		})
	}()
}

// After implements bench.Runner.
func (r *Runner) After(d time.Duration, f func()) (cancel func()) {
	stopped := false // read and written on the event loop only
	t := time.AfterFunc(d, func() {
		fyne.Do(func() {
			if !stopped && r.ctx.Err() == nil {
				f()
			}
		})
	})
	return func() { stopped = true; t.Stop() }
}

// news tells the window about progress without flooding the event loop.
func (r *Runner) news() {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.pending {
		return
	}
	r.pending = true
	time.AfterFunc(100*time.Millisecond, func() {
		r.mu.Lock()
		r.pending = false
		r.mu.Unlock()
		fyne.Do(func() {
			if r.onNews != nil && r.ctx.Err() == nil {
				r.onNews()
			}
		})
	})
}
