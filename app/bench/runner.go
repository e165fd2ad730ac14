package bench

import (
	"context"
	"time"
)

// Runner is the event loop: the toolkit's in a window, a queue in tests.
type Runner interface {
	// Go runs work away from the event loop and then done (when not nil) on it. progress may be called from the
	// work at any time and means only that Jobs has news; the runner brings that to the screen in its own time.
	Go(name string, work func(ctx context.Context, progress func(done, total int)) (done func()))
	// After runs f on the event loop once d has passed, unless cancelled before.
	After(d time.Duration, f func()) (cancel func())
}

// Job is long work under way. Total is 0 while its size is not known.
type Job struct {
	ID          int
	Name        string
	Done, Total int
}

// Message is something that a person must know or decide: what happened, why it matters, what to do.
type Message struct {
	Title   string
	Hint    string
	Choices []Choice // none: a plain message, closed by Dismiss
}

// Choice is one answer to a message. Do also closes the message; it may be nil.
type Choice struct {
	Label string
	Do    func()
}
