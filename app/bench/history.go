package bench

// History keeps old values so that any step can be taken back. Values are never changed in place, so a step costs
// only what it does not share with its neighbours. The zero value is not usable; NewHistory makes one.
type History[T any] struct {
	steps  []step[T] // steps[0] is the value as opened
	at     int       // the step shown
	sealed bool
}

type step[T any] struct {
	name, merge string
	value       T
}

// NewHistory begins with v, which Undo never goes behind.
func NewHistory[T any](v T) *History[T] {
	return &History[T]{steps: []step[T]{{value: v}}, sealed: true}
}

// Now is the value as it stands.
func (h *History[T]) Now() T { return h.steps[h.at].value }

// Opened is the value as it was when opened.
func (h *History[T]) Opened() T { return h.steps[0].value }

// Do makes next the value. Steps in a row with the same merge key, unless it is "", are one step until Seal. What
// was taken back before is forgotten.
func (h *History[T]) Do(name, merge string, next T) {
	if merge != "" && !h.sealed && h.at > 0 && h.at == len(h.steps)-1 && h.steps[h.at].merge == merge {
		h.steps[h.at].value = next
		return
	}
	clear(h.steps[h.at+1:])
	h.steps = append(h.steps[:h.at+1], step[T]{name, merge, next})
	h.at++
	h.sealed = false
}

// Each brings every value, taken back ones included, up to date with something that is no step.
func (h *History[T]) Each(f func(T) T) {
	for i := range h.steps {
		h.steps[i].value = f(h.steps[i].value)
	}
}

// Seal ends a merged step: the pointer was let go.
func (h *History[T]) Seal() { h.sealed = true }

// Settle makes the value as it stands the one that Undo never goes behind; what was taken back is forgotten.
func (h *History[T]) Settle() { *h = *NewHistory(h.Now()) }

// Undo takes back one step and reports whether there was one.
func (h *History[T]) Undo() bool {
	h.sealed = true
	if h.at == 0 {
		return false
	}
	h.at--
	return true
}

// Redo does one step again and reports whether there was one.
func (h *History[T]) Redo() bool {
	h.sealed = true
	if h.at == len(h.steps)-1 {
		return false
	}
	h.at++
	return true
}

// UndoName names the step that Undo would take back, "" when there is none.
func (h *History[T]) UndoName() string { return h.steps[h.at].name }

// RedoName names the step that Redo would do again, "" when there is none.
func (h *History[T]) RedoName() string {
	if h.at == len(h.steps)-1 {
		return ""
	}
	return h.steps[h.at+1].name
}
