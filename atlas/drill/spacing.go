package drill

import (
	"math"
	"time"
)

// Boxes are the days until a question comes again, by box: right moves it one box on, wrong back to the first
// (S. Leitner, So lernt man lernen, 1972, with five boxes and doubling intervals).
var Boxes = [5]int{1, 2, 4, 8, 16}

// NextBox is the box (1 to 5) after an answer; box 0 is a question not yet asked, whose first right answer puts it into box 2
// and whose first wrong one into box 1.
func NextBox(box int, right bool) int {
	if !right {
		return 1
	}
	return min(max(box, 1)+1, len(Boxes))
}

// Recall is the chance of remembering after days when half is forgotten after half days:
// p = 2^(-days/half) (Settles and Meeder 2016, ACL P16-1174).
func Recall(days, half float64) float64 {
	if half <= 0 {
		return 0
	}
	return math.Exp2(-math.Max(0, days) / half)
}

// DaysUntil is when the chance of remembering has fallen to p, in days.
func DaysUntil(p, half float64) float64 { return -half * math.Log2(p) }

// Seen is how one question stands with a student.
type Seen struct {
	Box    int    `json:"box"`  // 1 to 5
	Last   string `json:"last"` // day
	Right  int    `json:"right"`
	Wrong  int    `json:"wrong"`
	Streak int    `json:"streak"` // right ones in a row
}

// Due is the day the question is due.
func (s Seen) Due() time.Time {
	t, err := time.Parse(Day, s.Last)
	if err != nil {
		return time.Time{}
	}
	return t.AddDate(0, 0, Boxes[min(max(s.Box, 1), len(Boxes))-1])
}

// after is s after one more answer on a day.
func (s Seen) after(right bool, today time.Time) Seen {
	s.Box, s.Last = NextBox(s.Box, right), today.Format(Day)
	if right {
		s.Right++
		s.Streak++
	} else {
		s.Wrong++
		s.Streak = 0
	}
	return s
}

// recall is the chance that a seen question is still known: half forgotten when twice its box's days have passed, an order of
// who comes first, not a claim.
func (s Seen) recall(today time.Time) float64 {
	last, err := time.Parse(Day, s.Last)
	if err != nil {
		return 0
	}
	return Recall(today.Sub(last).Hours()/24, 2*float64(Boxes[min(max(s.Box, 1), len(Boxes))-1]))
}
