package scan

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"math"
	"math/big"
	"slices"

	"sectionary/slices/geom"
)

const (
	sameDirection = 1e-3 // greatest difference of cosines within one stack
	sameSpacing   = 1e-4 // relative difference of pixel spacing within one stack
	samePlace     = 0.01 // mm: two slices closer than this lie at one position
)

// stack is a set of frames that can lie behind one another.
type stack struct {
	shots    []shot
	set      int      // frames set aside as copies or repeats
	warnings []string // told while grouping
}

// stacksOf sorts frames into stacks: by stored series, orientation, spacing, matrix and kind, then, where several
// frames claim one position, by what tells volumes of a series apart. Frames not needed go to aside.
func stacksOf(shots []shot, aside func(s shot, reason string)) []*stack {
	slices.SortStableFunc(shots, func(a, b shot) int {
		return cmp.Or(cmp.Compare(a.path, b.path), cmp.Compare(a.number, b.number))
	})
	var stacks []*stack
	bySeries := map[string][]*stack{}
	for _, s := range shots {
		id := s.series + "\x00" + s.modality
		i := slices.IndexFunc(bySeries[id], func(k *stack) bool { return k.shots[0].fits(s) })
		if i < 0 {
			k := &stack{}
			stacks, bySeries[id] = append(stacks, k), append(bySeries[id], k)
			i = len(bySeries[id]) - 1
		}
		bySeries[id][i].shots = append(bySeries[id][i].shots, s)
	}
	for _, family := range bySeries {
		tellMixture(family)
	}
	var out []*stack
	for _, k := range stacks {
		out = append(out, k.separate(aside)...)
	}
	return out
}

// fits reports whether a and b may lie in one stack.
func (a shot) fits(b shot) bool {
	if a.oriented() != b.oriented() || a.localizer != b.localizer || a.frame != b.frame || a.inverse != b.inverse ||
		a.layout.rows != b.layout.rows || a.layout.columns != b.layout.columns ||
		a.layout.samples != b.layout.samples || a.layout.float != b.layout.float {
		return false
	}
	for i := range 2 {
		if math.Abs(a.spacing[i]-b.spacing[i]) > sameSpacing*a.spacing[i] {
			return false
		}
	}
	return !a.oriented() || a.row.Sub(b.row).Len() < sameDirection && a.col.Sub(b.col).Len() < sameDirection
}

// tellMixture warns the stacks of one stored series that they came from one.
func tellMixture(family []*stack) {
	var turns, sizes, overviews int
	stacks := slices.DeleteFunc(slices.Clone(family), func(k *stack) bool { return k.shots[0].localizer })
	for _, k := range family {
		if k.shots[0].localizer {
			overviews += len(k.shots)
		}
	}
	for i, k := range stacks {
		turned := func(o *stack) bool {
			a, b := k.shots[0], o.shots[0]
			return a.row.Sub(b.row).Len() < sameDirection && a.col.Sub(b.col).Len() < sameDirection
		}
		if !slices.ContainsFunc(stacks[:i], turned) {
			turns++
		}
		if !slices.ContainsFunc(stacks[:i], func(o *stack) bool {
			return k.shots[0].layout.rows == o.shots[0].layout.rows && k.shots[0].layout.columns == o.shots[0].layout.columns &&
				k.shots[0].spacing == o.shots[0].spacing
		}) {
			sizes++
		}
	}
	for _, k := range stacks {
		if turns > 1 {
			k.warn("This series mixes slices of %d orientations; they are kept apart.", turns)
		}
		if sizes > 1 {
			k.warn("This series mixes slices of %d sizes or pixel spacings; they are kept apart.", sizes)
		}
		if len(stacks) > 1 && turns <= 1 && sizes <= 1 {
			k.warn("This series mixes %d kinds of slices; they are kept apart.", len(stacks))
		}
		if overviews > 0 {
			k.warn("%s set aside.", plural(overviews, "overview picture (localizer) is", "overview pictures (localizers) are"))
		}
	}
}

func (k *stack) warn(format string, args ...any) {
	k.warnings = append(k.warnings, fmt.Sprintf(format, args...))
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// separate puts the frames of k in order along the normal and takes apart what lies at one position.
func (k *stack) separate(aside func(shot, string)) []*stack {
	k.dropCopies(aside)
	if !k.shots[0].oriented() {
		slices.SortStableFunc(k.shots, func(a, b shot) int {
			return cmp.Or(cmp.Compare(a.instance, b.instance), cmp.Compare(a.number, b.number))
		})
		return []*stack{k}
	}
	k.order()
	if k.places() == len(k.shots) {
		return []*stack{k}
	}
	if parts := k.volumes(); parts != nil {
		var out []*stack
		for _, part := range parts {
			part.set = k.set
			part.warnings = append(slices.Clone(k.warnings), fmt.Sprintf("This series holds %d volumes over the same place; they are kept apart.", len(parts)))
			out = append(out, part.separate(aside)...)
		}
		return out
	}
	k.dropRepeats(aside)
	return []*stack{k}
}

// order sorts by position along the normal; frames at one position by acquisition and instance number.
func (k *stack) order() {
	n := k.shots[0].row.Cross(k.shots[0].col).Unit()
	for i := range k.shots {
		k.shots[i].position = geom.Vec(k.shots[i].origin).Dot(n)
	}
	slices.SortStableFunc(k.shots, func(a, b shot) int { return cmp.Compare(a.position, b.position) })
	for from := 0; from < len(k.shots); {
		to := from + 1
		for to < len(k.shots) && k.shots[to].position-k.shots[from].position < samePlace {
			to++
		}
		slices.SortStableFunc(k.shots[from:to], func(a, b shot) int { return cmp.Compare(a.instance, b.instance) })
		from = to
	}
}

// places counts the distinct positions of an ordered stack.
func (k *stack) places() int {
	count, last := 0, math.Inf(-1)
	for _, s := range k.shots {
		if s.position-last >= samePlace {
			count, last = count+1, s.position
		}
	}
	return count
}

// dropCopies sets aside files that repeat an instance already met. Of copies packed in different ways the one that is
// simplest to open is kept.
func (k *stack) dropCopies(aside func(shot, string)) {
	type id struct {
		sop    string
		number int
	}
	best := map[id]shot{}
	for _, s := range k.shots {
		key := id{s.sop, s.number}
		if kept, ok := best[key]; s.sop != "" && (!ok || s.layout.coding < kept.layout.coding) {
			best[key] = s
		}
	}
	k.shots = slices.DeleteFunc(k.shots, func(s shot) bool {
		if kept := best[id{s.sop, s.number}]; s.sop != "" && kept.head != s.head {
			k.set++
			aside(s, "a copy of "+kept.path)
			return true
		}
		return false
	})
	if k.set > 0 {
		k.warn("%s set aside.", plural(k.set, "copy of a slice is", "copies of slices are"))
	}
}

// dropRepeats keeps one frame at each position: of the kind that most frames are of, then the earliest.
func (k *stack) dropRepeats(aside func(shot, string)) {
	kinds := map[any]int{}
	for _, s := range k.shots {
		kinds[s.kind()]++
	}
	var kept []shot
	worst, dropped := 0, 0
	for from := 0; from < len(k.shots); {
		to, best := from+1, from
		for ; to < len(k.shots) && k.shots[to].position-k.shots[from].position < samePlace; to++ {
			if kinds[k.shots[to].kind()] > kinds[k.shots[best].kind()] {
				best = to
			}
		}
		kept = append(kept, k.shots[best])
		for i := from; i < to; i++ {
			if i != best {
				aside(k.shots[i], "lies at the same position as "+k.shots[best].path)
				dropped++
			}
		}
		worst, from = max(worst, to-from), to
	}
	k.shots = kept
	k.warn("Up to %d images lie at one position; one of each is used and %d are set aside.", worst, dropped)
}

// kind is what a frame shares with the others of its volume.
func (s *shot) kind() any {
	return struct {
		component     string
		echo, time, b float64
		acquisition   int
	}{s.component, s.echo, s.time, s.b, s.acquisition}
}

// volumes parts a stack whose frames lie over one another: by echo, component, time, diffusion weighting or acquisition,
// else by turn when every position is met equally often. It returns nil when the frames are mere repeats.
func (k *stack) volumes() []*stack {
	places := k.places()
	if places < 2 {
		return nil
	}
	keys := []func(shot) any{
		func(s shot) any { return s.echo },
		func(s shot) any { return s.component },
		func(s shot) any { return s.b },
		func(s shot) any { return s.time },
		func(s shot) any { return s.acquisition },
	}
	for _, key := range keys {
		parts := k.part(key)
		least := slices.MinFunc(parts, func(a, b *stack) int { return len(a.shots) - len(b.shots) })
		if len(parts) > 1 && 2*len(least.shots) >= places { // a few odd slices are no volume
			return parts
		}
	}
	if len(k.shots)%places != 0 {
		return nil
	}
	turn, last := 0, math.Inf(-1)
	turns := make(map[[2]any]int, len(k.shots))
	for _, s := range k.shots {
		if turn++; s.position-last >= samePlace {
			turn, last = 0, s.position
		}
		turns[[2]any{s.path, s.number}] = turn
	}
	parts := k.part(func(s shot) any { return turns[[2]any{s.path, s.number}] })
	for _, p := range parts {
		if len(p.shots) != places {
			return nil
		}
	}
	return parts
}

func (k *stack) part(key func(shot) any) []*stack {
	var parts []*stack
	index := map[any]int{}
	for _, s := range k.shots {
		v := key(s)
		i, ok := index[v]
		if !ok {
			i = len(parts)
			index[v], parts = i, append(parts, &stack{})
		}
		parts[i].shots = append(parts[i].shots, s)
	}
	return parts
}

// madeUID turns text into a UID under 2.25 (PS3.5 B.2), the same each time.
func madeUID(text string) string {
	sum := sha256.Sum256([]byte(text))
	sum[6], sum[8] = sum[6]&0x0f|0x80, sum[8]&0x3f|0x80 // RFC 9562 version 8
	return "2.25." + new(big.Int).SetBytes(sum[:16]).String()
}
