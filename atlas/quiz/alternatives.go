package quiz

import (
	"context"
	"crypto/sha256"
	"fmt"
	prng "math/rand/v2"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// Relation says how another picture of the same structure stands to the one a station has.
type Relation string

// The relations, in the order they are offered.
const (
	SamePlaceScan  Relation = "the scan at this face"
	SamePlacePhoto Relation = "the photograph of this face"
	OnPartner      Relation = "the partner face"
	OtherSlab      Relation = "another face of this run"
	OtherPlane     Relation = "another plane"
	AcrossScan     Relation = "the scan across this face"
	OtherDonor     Relation = "another donor"
)

var relations = []Relation{SamePlaceScan, SamePlacePhoto, OnPartner, OtherSlab, OtherPlane, AcrossScan, OtherDonor}

// Alternative is the same structure on another picture.
type Alternative struct {
	Candidate
	Relation Relation
}

// scanFacings are the ways a cut looks out so that the scan stands unmirrored in scan view (product law: inferior,
// anterior and left faces match the scan as they lie).
var scanFacings = []section.Facing{section.Inferior, section.Anterior, section.Left}

// Alternatives lists where else the structure at a marker of a station, which counts from 0, can be asked: unseen
// pictures first, then by relation.
func (b Board) Alternatives(x Spotter, station int, letter string) ([]Alternative, error) {
	s, a, err := x.find(station, letter)
	if err != nil {
		return nil, err
	}
	plate, err := b.Lib.Plate(a.Plate)
	if err != nil {
		return nil, err
	}
	label, ok := plate.Labels.Find(a.Label)
	if !ok {
		return nil, refusal("The label is not on this face any more.")
	}
	pool, _, err := b.Pool(x.ID)
	if err != nil {
		return nil, err
	}
	run, err := b.Lib.Run(plate.Face.Run)
	if err != nil {
		return nil, err
	}
	partner, _ := run.Partner(plate.Face)
	var out []Alternative
	for _, c := range pool {
		if c.Term.ID != label.Term || c.Side != label.Side || sameSight(c.Picture, s.Picture) {
			continue
		}
		out = append(out, Alternative{c, relationOf(c, plate, partner)})
	}
	across, err := b.across(x.ID, s, a, plate, label)
	if err != nil {
		return nil, err
	}
	out = append(out, across...)
	slices.SortStableFunc(out, func(p, q Alternative) int {
		if p.Seen() != q.Seen() {
			if q.Seen() {
				return -1
			}
			return 1
		}
		return slices.Index(relations, p.Relation) - slices.Index(relations, q.Relation)
	})
	return out, nil
}

func (x Spotter) find(station int, letter string) (Station, Ask, error) {
	if station < 0 || station >= len(x.Stations) {
		return Station{}, Ask{}, refusal(fmt.Sprintf("There is no station %d.", station+1))
	}
	s := x.Stations[station]
	for _, a := range s.Asks {
		if a.Letter == letter {
			return s, a, nil
		}
	}
	return s, Ask{}, refusal(fmt.Sprintf("Station %d has no marker %q.", station+1, letter))
}

func sameSight(a, b Picture) bool {
	return a.Kind == b.Kind && a.Plate == b.Plate && a.Series == b.Series && samePose(a.Pose, b.Pose)
}

func relationOf(c Candidate, plate atlas.Plate, partner section.Face) Relation {
	switch {
	case c.Picture.Plate == plate.ID && c.Picture.Kind == ScanPicture:
		return SamePlaceScan
	case c.Picture.Plate == plate.ID:
		return SamePlacePhoto
	case c.Donor != plate.Donor:
		return OtherDonor
	case c.Face == partner:
		return OnPartner
	case c.Face.Run == plate.Face.Run:
		return OtherSlab
	case c.Plane != plate.Face.Facing.Plane():
		return OtherPlane
	}
	return OtherSlab
}

// across are cuts of the scan through the marked place in the two other planes.
func (b Board) across(exam string, s Station, a Ask, plate atlas.Plate, label annotate.Label) (out []Alternative, err error) {
	if plate.Registration == nil || len(label.Regions) == 0 {
		return nil, nil
	}
	reg, err := placing(plate, plate.Registration.Series)
	toMM, scaled := plate.FaceMM()
	if err != nil || !scaled {
		return nil, nil // by level alone, or without a scale, nobody can say where the place lies in the scan
	}
	seen, err := b.released(exam)
	if err != nil {
		return nil, err
	}
	at := reg.At(toMM.MM(tipOf(label, slices.Collect(plate.Labels.All()))))
	term, _ := b.Terms.ByID(label.Term)
	for _, facing := range scanFacings {
		if facing.Plane() == plate.Face.Facing.Plane() {
			continue
		}
		pose, err := section.SquarePose(facing, usualUp(facing), at)
		if err != nil {
			return nil, err
		}
		pic := Picture{Kind: ScanPicture, Plate: plate.ID, View: section.Scan, Series: reg.Series, Pose: &pose, Facing: facing}
		if sameSight(pic, s.Picture) {
			continue
		}
		out = append(out, Alternative{Candidate{Picture: pic, Label: a.Label, Donor: plate.Donor, Face: plate.Face, Plane: facing.Plane(),
			Term: term, Side: label.Side, Sights: seen.of(pic, a.Label)}, AcrossScan})
	}
	return out, nil
}

// Swap asks the structure at a marker on another picture, with the same kinds of question where the picture allows
// them. Where the station holds other markers, the new picture becomes a station of its own behind it.
func (b Board) Swap(ctx context.Context, x Spotter, station int, letter string, c Candidate) (Spotter, error) {
	old, a, err := x.find(station, letter)
	if err != nil {
		return x, err
	}
	s, err := b.remake(x, c, a, old.Seconds)
	if err != nil {
		return x, err
	}
	x.Stations = slices.Clone(x.Stations)
	if len(old.Asks) == 1 {
		x.Stations[station] = s
		return x, ctx.Err()
	}
	old.Asks = slices.DeleteFunc(slices.Clone(old.Asks), func(o Ask) bool { return o.Letter == letter })
	old.Look = nil
	x.Stations[station] = old
	x.Stations = slices.Insert(x.Stations, station+1, s)
	return x, ctx.Err()
}

// Add asks a candidate at a new last station, with a first question in the form given.
func (b Board) Add(x Spotter, c Candidate, form Form, m Marker, seconds int) (Spotter, error) {
	if len(x.Stations) >= mostStations {
		return x, refusal(fmt.Sprintf("An exam has 1 to %d places.", mostStations))
	}
	about := AboutName
	if form == Pointed {
		about = AboutPlace
	}
	s, err := b.remake(x, c, Ask{Marker: m, Questions: []Question{{About: about, Form: form}}}, seconds)
	if err != nil {
		return x, err
	}
	x.Stations = append(slices.Clone(x.Stations), s)
	return x, nil
}

// remake makes a station of a candidate with the marker and the kinds of question of an ask.
func (b Board) remake(x Spotter, c Candidate, like Ask, seconds int) (Station, error) {
	view, err := b.outlineSight(c.Picture, true)
	if err != nil {
		return Station{}, err
	}
	label, ok := view.label(c.Label)
	if !ok {
		return Station{}, refusal("The label is not on this face any more.")
	}
	pool, _, err := b.Pool(x.ID)
	if err != nil {
		return Station{}, err
	}
	if like.Marker.Style == "" {
		like.Marker.Style = Pin
	}
	if seconds == 0 {
		seconds = usualSeconds
	}
	h := sha256.New()
	fmt.Fprintf(h, "%d %s %d %+v %s", x.Seed, x.ID, len(x.Stations), c.Picture, c.Label)
	if c.Picture.Pose != nil {
		fmt.Fprintf(h, " %v", *c.Picture.Pose)
	}
	sum := h.Sum(nil)
	s := Station{Picture: c.Picture, Seconds: seconds, Code: atlas.CodeOf(sum, 6)}
	a := Ask{Letter: markLetter(0), Plate: c.Picture.Plate, Label: c.Label, Marker: like.Marker}
	t := topic{letter: a.Letter, c: c, s: view, label: label, pool: pool}
	r := prng.New(prng.NewPCG(x.Seed, uint64(sum[0])<<8|uint64(sum[1])))
	for _, q := range like.Questions {
		if q.About == AboutOwn {
			a.Questions = append(a.Questions, q)
			continue
		}
		if next, ok := b.question(q.About, q.Form, t, r); ok {
			a.Questions = append(a.Questions, next)
		}
	}
	if len(a.Questions) == 0 || (a.Questions[0].Order == 2 && a.Questions[0].About != AboutOwn) {
		first, _ := b.question(AboutName, Typed, t, r)
		a.Questions = append([]Question{first}, a.Questions...)
	}
	s.Asks = []Ask{a}
	return s, nil
}

// Offer lists the questions that can be made at a marker of a station, in a form: for a screen to choose from.
func (b Board) Offer(x Spotter, station int, letter string, form Form) ([]Question, error) {
	s, a, err := x.find(station, letter)
	if err != nil {
		return nil, err
	}
	view, err := b.outlineSight(s.Picture, true)
	if err != nil {
		return nil, err
	}
	label, ok := view.label(a.Label)
	if !ok {
		return nil, refusal("The label is not on this face any more.")
	}
	pool, _, err := b.Pool(x.ID)
	if err != nil {
		return nil, err
	}
	term, _ := b.Terms.ByID(label.Term)
	t := topic{letter: letter, s: view, label: label, pool: pool, c: view.candidate(s.Picture, label, term)}
	var out []Question
	for i, about := range append([]string{AboutName, AboutPlace}, secondOrder...) {
		if q, ok := b.question(about, form, t, prng.New(prng.NewPCG(x.Seed, uint64(i)))); ok && (q.Form == form || about != AboutPlace) {
			out = append(out, q)
		}
	}
	return out, nil
}
