package atlas

import (
	"errors"
	"math"
	"sort"

	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// How near a plate must be to count as beside another.
const (
	matchOff  = 30.0               // mm
	matchTilt = 15 * math.Pi / 180 // radians
)

// The ways a match can be known.
const (
	BasisPose  = "pose"
	BasisLevel = "level"
)

// Match is a place to look beside a plate: another plate, or a cut of a series at Pose. One of Plate and Series
// is set. Off is mm along the plate's outward normal, Tilt the angle between the two planes in radians. Basis is
// "pose" when both lie in one frame of reference, "level" when only their levels along runs tell.
type Match struct {
	Plate  string    `json:"plate,omitempty"`
	Series string    `json:"series,omitempty"`
	Pose   geom.Pose `json:"pose"`
	Off    float64   `json:"off"`
	Tilt   float64   `json:"tilt"`
	Basis  string    `json:"basis"`
}

// Match lists at most most plates and scan cuts near a placed plate: same plane, within 30 mm and 15 degrees,
// the nearest first, of equal ones the least tilted.
func (l *Library) Match(id string, most int) ([]Match, error) {
	p, err := l.Plate(id)
	if err != nil {
		return nil, err
	}
	if p.Face == (section.Face{}) {
		return nil, naming("photograph "+id, ErrUnplaced)
	}
	c, err := l.course(p)
	if err != nil {
		return nil, err
	}
	all, err := c.cuts()
	if err != nil {
		return nil, err
	}
	for e, err := range l.Find(Query{}) {
		if err != nil {
			return nil, err
		}
		if e.Plate == id || !e.Placed() || e.Face.Facing.Plane() != p.Face.Facing.Plane() {
			continue
		}
		m, ok, err := c.beside(e)
		if err != nil {
			return nil, err
		}
		if ok && math.Abs(m.Off) <= matchOff && m.Tilt <= matchTilt {
			all = append(all, m)
		}
	}
	sort.SliceStable(all, func(i, j int) bool {
		a, b := math.Abs(all[i].Off), math.Abs(all[j].Off)
		if math.Abs(a-b) > 1e-6 {
			return a < b
		}
		return all[i].Tilt < all[j].Tilt
	})
	if len(all) > most {
		all = all[:max(most, 0)]
	}
	return all, nil
}

// course is what one search for matches knows.
type course struct {
	l      *Library
	p      Plate
	runs   map[string]section.Run
	frames map[string]string // series UID to frame of reference
	series []string
}

func (l *Library) course(p Plate) (*course, error) {
	c := &course{l: l, p: p, runs: map[string]section.Run{}, frames: map[string]string{}}
	runs, err := l.Runs()
	if err != nil {
		return nil, err
	}
	for _, r := range runs {
		c.runs[r.ID] = r
	}
	series, err := l.SeriesList("")
	if err != nil {
		return nil, err
	}
	for _, s := range series {
		c.series = append(c.series, s.UID)
		c.frames[s.UID] = s.Frame
		if s.Frame == "" {
			c.frames[s.UID] = s.UID // a frame of its own
		}
	}
	return c, nil
}

// cuts lists the scans that can be cut at the plate.
func (c *course) cuts() (out []Match, err error) {
	reg := c.p.Registration
	for _, uid := range c.series {
		if reg != nil && c.frames[reg.Series] == c.frames[uid] {
			basis := BasisPose
			if reg.Method == register.ByLevel {
				basis = BasisLevel
			}
			out = append(out, Match{Series: uid, Pose: reg.Pose, Basis: basis})
			continue
		}
		by, err := c.l.ByLevel(c.p, uid)
		switch {
		case err == nil:
			out = append(out, Match{Series: uid, Pose: by.Pose, Basis: BasisLevel})
		case !errors.Is(err, ErrNotFound) && !errors.Is(err, ErrNotOriented) && !errors.Is(err, geom.ErrTooFewPoints):
			return nil, err
		}
	}
	return out, nil
}

// beside tells how another plate lies to this one: by pose if both were registered by more than their level in
// one frame, else by depth in the same run, else by tie levels in one frame.
func (c *course) beside(e Entry) (Match, bool, error) {
	if e.Series != "" && c.p.Registration != nil && c.frames[e.Series] == c.frames[c.p.Registration.Series] {
		m, ok, err := c.byPose(e.Plate)
		if ok || err != nil {
			return m, ok, err
		}
	}
	along := func(at float64) Match { // at: mm further toward the plate's outward side
		return Match{Plate: e.Plate, Off: at, Basis: BasisLevel}
	}
	mine, theirs := c.runs[c.p.Face.Run], c.runs[e.Face.Run]
	d1, _, err1 := mine.Depth(c.p.Face)
	d2, _, err2 := theirs.Depth(e.Face)
	if err := errors.Join(err1, err2); err != nil {
		return Match{}, false, err
	}
	if mine.ID == theirs.ID {
		step := d2 - d1 // further from slab 1
		if c.p.Face.Facing == mine.First {
			step = -step
		}
		return along(step), true, nil
	}
	for _, uid := range c.series {
		s1, ok1, err1 := c.level(mine, d1, uid)
		if err1 != nil {
			return Match{}, false, err1
		}
		for _, other := range c.series {
			if !ok1 || c.frames[uid] != c.frames[other] {
				continue
			}
			s2, ok2, err := c.level(theirs, d2, other)
			if err != nil {
				return Match{}, false, err
			}
			if ok2 {
				axis := c.p.Face.Facing.Axis()
				return along((s2 - s1) * (axis.X + axis.Y + axis.Z)), true, nil
			}
		}
	}
	return Match{}, false, nil
}

// level is where a depth of a run lies along a series; ok is false when the two are not tied.
func (c *course) level(r section.Run, depth float64, series string) (at float64, ok bool, err error) {
	t, err := c.l.LevelTies(r.ID, series)
	if errors.Is(err, ErrNotFound) {
		return 0, false, nil
	}
	if err != nil {
		return 0, false, err
	}
	levels, err := t.Scan(r)
	if err != nil {
		return 0, false, nil // no ties, or not enough of them yet
	}
	at, _ = levels.Scan(depth)
	return at, !math.IsNaN(at), nil
}

// byPose compares two poses in one frame. One that was placed by level only is no pose to compare.
func (c *course) byPose(id string) (Match, bool, error) {
	q, err := c.l.Plate(id)
	if err != nil {
		return Match{}, false, err
	}
	a, b := c.p.Registration, q.Registration
	if a == nil || b == nil || a.Method == register.ByLevel || b.Method == register.ByLevel {
		return Match{}, false, nil
	}
	_, off := a.Pose.Project(b.Pose.At(q.Middle()))
	cos := math.Abs(a.Pose.Normal().Unit().Dot(b.Pose.Normal().Unit())) // partner faces look at each other
	return Match{Plate: id, Pose: b.Pose, Off: -off, Tilt: math.Acos(math.Min(1, cos)), Basis: BasisPose}, true, nil
}
