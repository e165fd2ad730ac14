package bench

import (
	"context"
	"errors"
	"sync/atomic"
)

// job is long work under way; its counters are written by the work and read on the event loop.
type job struct {
	id          int
	name        string
	stop        context.CancelFunc
	done, total atomic.Int64
	doing       *atomic.Pointer[string] // what it is at, for work that tells
	quiet       bool                    // guesswork that nobody waits for: not listed
	ofLab       bool                    // its result is dropped when the lab is closed
}

// start runs work for the open lab away from the event loop. work must not touch the bench; what it returns runs on the
// loop, unless the lab was closed meanwhile: then the result and its errors are dropped. Other errors are shown, unless
// the job was stopped.
func (b *Bench) start(name string, work func(ctx context.Context, tell func(done, total int)) (done func(), err error)) *job {
	lib := b.lab.lib
	j := b.startFree(name, func(ctx context.Context, tell func(done, total int)) (func(), error) {
		done, err := work(ctx, tell)
		return func() {
			if b.lab.lib != lib {
				return
			}
			if done != nil {
				done()
			}
			if err != nil && !errors.Is(err, context.Canceled) {
				b.Report(err)
			}
		}, nil
	})
	j.ofLab = true
	return j
}

// leave stops work whose result nobody wants any more; it is not listed while it comes to its end.
func (j *job) leave() {
	j.quiet = true
	j.stop()
}

// startQuietly is start for work that nobody waits for.
func (b *Bench) startQuietly(name string, work func(ctx context.Context, tell func(done, total int)) (done func(), err error)) *job {
	j := b.start(name, work)
	j.quiet = true
	return j
}

// startFree is start for work that belongs to no lab.
func (b *Bench) startFree(name string, work func(ctx context.Context, tell func(done, total int)) (done func(), err error)) *job {
	b.lastJob++
	ctx, stop := context.WithCancel(context.Background())
	j := &job{id: b.lastJob, name: name, stop: stop}
	b.jobs = append(b.jobs, j)
	b.changed(JobsChanged)
	b.run.Go(name, func(outer context.Context, progress func(done, total int)) func() {
		defer context.AfterFunc(outer, stop)()
		done, err := work(ctx, func(done, total int) {
			j.done.Store(int64(done))
			j.total.Store(int64(total))
			if progress != nil {
				progress(done, total)
			}
		})
		return func() {
			stop()
			b.endJob(j)
			if done != nil {
				done()
			}
			if err != nil && !errors.Is(err, context.Canceled) {
				b.Report(err)
			}
		}
	})
	return j
}

// startTelling is start for work that tells what it is at, with the share that is done.
func (b *Bench) startTelling(name string, work func(ctx context.Context, say func(share float64, doing string)) (done func(), err error)) *job {
	at := &atomic.Pointer[string]{}
	j := b.start(name, func(ctx context.Context, tell func(done, total int)) (func(), error) {
		return work(ctx, func(share float64, doing string) {
			at.Store(&doing)
			tell(int(1000*share), 1000)
		})
	})
	j.doing = at
	return j
}

func (b *Bench) endJob(j *job) {
	for i, x := range b.jobs {
		if x == j {
			b.jobs = append(b.jobs[:i:i], b.jobs[i+1:]...)
			break
		}
	}
	b.changed(JobsChanged)
}

// Jobs lists the work under way, the oldest first.
func (b *Bench) Jobs() []Job {
	out := make([]Job, 0, len(b.jobs))
	for _, j := range b.jobs {
		if j.quiet {
			continue
		}
		name := j.name
		if j.doing != nil {
			if doing := j.doing.Load(); doing != nil {
				name += ": " + *doing
			}
		}
		out = append(out, Job{j.id, name, int(j.done.Load()), int(j.total.Load())})
	}
	return out
}

// CancelJob stops one; what it had finished stays.
func (b *Bench) CancelJob(id int) {
	for _, j := range b.jobs {
		if j.id == id {
			j.stop()
		}
	}
}

// Message is what a person must know or decide now, nil when nothing.
func (b *Bench) Message() *Message {
	if len(b.messages) == 0 {
		return nil
	}
	return &b.messages[0]
}

// say queues a message behind those not yet answered; one that already waits is not said twice.
func (b *Bench) say(m Message) {
	for _, x := range b.messages {
		if x.Title == m.Title && x.Hint == m.Hint {
			return
		}
	}
	b.messages = append(b.messages, m)
	b.changed(MessageChanged)
}

// Choose answers the message with choice n and closes it.
func (b *Bench) Choose(n int) {
	m := b.Message()
	if m == nil || n < 0 || n >= len(m.Choices) {
		return
	}
	do := m.Choices[n].Do
	b.Dismiss()
	if do != nil {
		do()
	}
}

// Dismiss closes the message without a choice.
func (b *Bench) Dismiss() {
	if len(b.messages) > 0 {
		b.messages = b.messages[1:]
		b.changed(MessageChanged)
	}
}

// Report shows an error as a message.
func (b *Bench) Report(err error) {
	if err != nil {
		b.say(Explain(err))
	}
}
