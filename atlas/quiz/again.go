package quiz

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// Use is one station of an exam that shows a photograph, or a scan cut along its face.
type Use struct {
	Exam    string   `json:"exam"`
	Title   string   `json:"title"`
	Station int      `json:"station"` // from 1
	Letters []string `json:"letters"` // of its marked places
	Scan    bool     `json:"scan,omitempty"`
}

// Words is the use as a person is told of it.
func (u Use) Words() string {
	title := u.Title
	if title == "" {
		title = u.Exam
	}
	if len(u.Letters) == 0 {
		return fmt.Sprintf("%s, station %d", title, u.Station)
	}
	return fmt.Sprintf("%s, station %d (%s)", title, u.Station, strings.Join(u.Letters, ", "))
}

// UsesOf lists the stations of all exams that were made from any of these photographs, by their plates.
func (b Board) UsesOf(plates ...string) ([]Use, error) {
	all, err := b.List()
	if err != nil {
		return nil, err
	}
	var out []Use
	for _, x := range all {
		for i, s := range x.Stations {
			u := Use{Exam: x.ID, Title: x.Title, Station: i + 1, Letters: []string{}, Scan: s.Picture.Kind == ScanPicture}
			for _, a := range s.Asks {
				if slices.Contains(plates, a.Plate) || slices.Contains(plates, s.Picture.Plate) {
					u.Letters = append(u.Letters, a.Letter)
				}
			}
			if len(u.Letters) > 0 || slices.Contains(plates, s.Picture.Plate) {
				out = append(out, u)
			}
		}
	}
	return out, nil
}

// Followed is what became of an exam whose faces were photographed again.
type Followed struct {
	Moved []int    // stations that now show the current picture, from 1
	Left  []string // what could not follow, a sentence each
}

// FollowPictures returns x with every station that shows an earlier photograph moved to the current one of the same face, where the same
// labels stand: markers follow their labels and a part shown follows the ties between both pictures. A moved station must be looked at again. A
// station whose labels did not come over stays as it is and is named.
func (b Board) FollowPictures(x Spotter) (Spotter, Followed, error) {
	var f Followed
	x.Stations = slices.Clone(x.Stations)
	for i, s := range x.Stations {
		old, err := b.Lib.Plate(s.Picture.Plate)
		if errors.Is(err, atlas.ErrNotFound) || err == nil && !old.Retired {
			continue
		}
		if err != nil {
			return x, f, err
		}
		next, why, err := b.follow(s, old)
		if err != nil {
			return x, f, err
		}
		if why != "" {
			f.Left = append(f.Left, fmt.Sprintf("Station %d: %s", i+1, why))
			continue
		}
		x.Stations[i] = next
		f.Moved = append(f.Moved, i+1)
	}
	return x, f, nil
}

// follow moves one station from an earlier picture to the current one, or says why it cannot.
func (b Board) follow(s Station, old atlas.Plate) (next Station, why string, err error) {
	run, err := b.Lib.Run(old.Face.Run)
	if err != nil {
		return s, "", err
	}
	name := capital(run.Name(old.Face))
	now, err := b.Lib.PlateOf(old.Face)
	if errors.Is(err, atlas.ErrNotFound) {
		return s, name + " has no current picture.", nil
	}
	if err != nil {
		return s, "", err
	}
	way, err := b.wayBetween(old.ID, now)
	if err != nil {
		return s, "", err
	}
	if way == nil {
		return s, name + ": its current picture did not come with ties to this one.", nil
	}
	next = s
	next.Look, next.Asks = nil, slices.Clone(s.Asks)
	next.Picture.Plate = now.ID
	for i, a := range s.Asks {
		if a.Plate != old.ID {
			continue
		}
		if _, there := now.Labels.Find(a.Label); !there {
			return s, fmt.Sprintf("%s: what is marked %s is not on the current picture.", name, a.Letter), nil
		}
		next.Asks[i].Plate = now.ID
	}
	if c := s.Picture.Crop; c != nil {
		next.Picture.Crop = cropThrough(*c, way)
	}
	return next, "", nil
}

// wayBetween carries pixels of an earlier picture to those of a later one, through every picture between them; nil when they are not
// tied.
func (b Board) wayBetween(old string, now atlas.Plate) (func(geom.Px) geom.Px, error) {
	way := func(q geom.Px) geom.Px { return q }
	for seen := map[string]bool{}; now.ID != old; {
		e := now.Earlier
		if e == nil || seen[now.ID] {
			return nil, nil
		}
		seen[now.ID] = true
		fit, err := annotate.FitRephotograph(e.Ties, photo.Calibration{})
		if err != nil {
			return nil, nil
		}
		rest := way
		way = func(q geom.Px) geom.Px { return rest(fit.At(q)) }
		if now, err = b.Lib.Plate(e.Plate); errors.Is(err, atlas.ErrNotFound) {
			return nil, nil
		} else if err != nil {
			return nil, err
		}
	}
	return way, nil
}

// cropThrough is the upright box round a part carried to another picture.
func cropThrough(c Crop, way func(geom.Px) geom.Px) *Crop {
	out := Crop{Min: geom.Px{X: math.Inf(1), Y: math.Inf(1)}, Max: geom.Px{X: math.Inf(-1), Y: math.Inf(-1)}}
	for _, q := range []geom.Px{c.Min, c.Max, {X: c.Min.X, Y: c.Max.Y}, {X: c.Max.X, Y: c.Min.Y}} {
		p := way(q)
		out.Min.X, out.Min.Y = math.Min(out.Min.X, p.X), math.Min(out.Min.Y, p.Y)
		out.Max.X, out.Max.Y = math.Max(out.Max.X, p.X), math.Max(out.Max.Y, p.Y)
	}
	if !(out.Max.X-out.Min.X > 0) || math.IsInf(out.Max.X-out.Min.X, 0) || !(out.Max.Y-out.Min.Y > 0) {
		return nil
	}
	return &out
}
