package bench

import (
	"errors"
	"math"
	"slices"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// TieLevelHere declares the chosen face and the shown place of the scan the same level.
func (b *Bench) TieLevelHere() {
	pose, _, ok := b.cutPose()
	depth, _, err := b.Run().Depth(b.Face())
	if err = errors.Join(err, b.writable()); !ok || err != nil {
		b.Report(err)
		return
	}
	middle := geom.MM{}
	if p, has := b.Plate(); has {
		if h, scaled := faceMM(p); scaled {
			middle = h.MM(p.MiddlePx())
		}
	}
	here := register.Level{Run: depth, Scan: register.Along(b.Run().Plane, pose.At(middle))}
	t := b.pair.tied
	t.Levels = append(slices.DeleteFunc(slices.Clone(t.Levels), func(l register.Level) bool { return math.Abs(l.Run-depth) < 1e-6 }), here)
	if b.saveLevels(t) {
		b.pair.step = 0
		b.hint(Word("level.tied", b.FaceName(b.Face()), here.Scan), false)
	}
}

// saveLevels keeps tie levels when they can all hold.
func (b *Bench) saveLevels(t atlas.LevelTies) bool {
	if len(t.Levels) > 0 {
		if _, err := register.NewLevels(t.Levels, register.Direction(b.Run().First)); err != nil {
			b.Report(err)
			return false
		}
	}
	if err := b.lab.lib.SaveLevelTies(t); err != nil {
		b.Report(err)
		return false
	}
	b.setLevels(t)
	b.changed(ScanChanged | RunChanged)
	return true
}

// RemoveLevelTie removes tie level n, from 0, in the order of LevelTies.
func (b *Bench) RemoveLevelTie(n int) {
	t := b.pair.tied
	ties := b.pair.levels.Ties()
	if b.writable() != nil || n < 0 || n >= len(ties) {
		return
	}
	t.Levels = slices.Delete(ties, n, n+1)
	b.saveLevels(t)
}

// LevelTies lists the tie levels in words, in order along the run.
func (b *Bench) LevelTies() []string {
	var out []string
	for _, t := range b.pair.levels.Ties() {
		out = append(out, Word("level.line", t.Run, t.Scan))
	}
	return out
}

// SameBody reports whether the scan and the run are of the same donor.
func (b *Bench) SameBody() bool { return b.pair.tied.SameBody }

// SetSameBody says whether they are.
func (b *Bench) SetSameBody(same bool) {
	if err := b.writable(); err != nil {
		b.Report(err)
		return
	}
	if b.pair.series == "" {
		return
	}
	t := b.pair.tied
	t.SameBody = same
	b.saveLevels(t)
}

// alongOf is where slice k of a series lies along the cut, LPS mm.
func alongOf(p section.Plane, s scan.Series, k int) float64 {
	mid := geom.IJK{I: float64(s.Size[0]-1) / 2, J: float64(s.Size[1]-1) / 2, K: float64(k)}
	at := s.ToLPS.LPS(mid)
	if k < len(s.Origins) { // the true place of an uneven stack
		at = at.Add(s.Origins[k].Sub(s.ToLPS.LPS(geom.IJK{K: float64(k)})))
	}
	return register.Along(p, at)
}

// middleOf is the middle of the box of voxels.
func middleOf(s scan.Series) geom.LPS {
	return s.ToLPS.LPS(geom.IJK{I: float64(s.Size[0]-1) / 2, J: float64(s.Size[1]-1) / 2, K: float64(s.Size[2]-1) / 2})
}

func (b *Bench) setLevels(t atlas.LevelTies) {
	b.pair.tied = t
	b.pair.levels, _ = register.NewLevels(t.Levels, register.Direction(b.Run().First)) // no tie: nothing is known
}
