package drill

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"sort"
)

const (
	resultsFormat  = "sectionary drill results"
	resultsVersion = 1
	maxResults     = 4 << 20
)

// Results are a student's own results in one pack, handed over by the student or not at all. They hold no name, no day and no machine.
type Results struct {
	Format   string    `json:"format"`
	Version  int       `json:"version"`
	Pack     string    `json:"pack"` // code
	Answers  []Tally   `json:"answers"`
	Placings []Placing `json:"placings"`
}

// Tally counts the answers to one question.
type Tally struct {
	Key   string `json:"key"`
	Right int    `json:"right"`
	Wrong int    `json:"wrong"`
}

// Results takes out of a progress what belongs to this pack.
func (p *Pack) Results(pr Progress) Results {
	r := Results{Format: resultsFormat, Version: resultsVersion, Pack: p.Code, Answers: []Tally{}, Placings: []Placing{}}
	for _, c := range p.cards(nil) {
		if s, ok := pr.Cards[c.key]; ok {
			r.Answers = append(r.Answers, Tally{c.key, s.Right, s.Wrong})
		}
	}
	for _, x := range pr.Placings {
		if _, ok := p.Face(x.Face); ok {
			r.Placings = append(r.Placings, x)
		}
	}
	return r
}

// Write writes the results as JSON.
func (r Results) Write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	if err := e.Encode(r); err != nil {
		return fmt.Errorf("drill: results: %w", err)
	}
	return nil
}

// ReadResults reads what a student handed over.
func ReadResults(in io.Reader) (r Results, err error) {
	b, err := io.ReadAll(io.LimitReader(in, maxResults+1))
	if err != nil {
		return r, fmt.Errorf("drill: %w", err)
	}
	if len(b) > maxResults {
		return r, errors.New("drill: results: too large")
	}
	if err := json.Unmarshal(b, &r); err != nil {
		return Results{}, fmt.Errorf("drill: results: %w", err)
	}
	if r.Format != resultsFormat || r.Version != resultsVersion {
		return Results{}, errors.New("drill: these are no results of a drill, or of a newer version of the program")
	}
	for _, t := range r.Answers {
		if t.Right < 0 || t.Wrong < 0 {
			return Results{}, fmt.Errorf("drill: results: question %q cannot be so", t.Key)
		}
	}
	for _, x := range r.Placings {
		if !within(x.MM, -maxExtent, maxExtent) || !within(x.Steps, -100, 100) || !within(x.Score, 0, 1) {
			return Results{}, errors.New("drill: results: a placing cannot be so")
		}
	}
	return r, nil
}

// Spread is how a class placed one face on the run: quartiles of placed minus true.
type Spread struct {
	Face     string
	Students int
	MM       [5]float64 // least, lower quartile, median, upper quartile, greatest; mm
	Steps    [5]float64 // the same in vertebrae
	HasSteps bool
}

// ClassSpread gathers the placings of a class by face, the first of each student, faces in order of their codes. Results that are the
// same to the last number count once: somebody handed them over twice.
func ClassSpread(all []Results) (out []Spread) {
	mm, steps := map[string][]float64{}, map[string][]float64{}
	known := map[string]bool{}
	for _, r := range all {
		b, _ := json.Marshal(r)
		if known[string(b)] {
			continue
		}
		known[string(b)] = true
		first := map[string]bool{}
		for _, x := range r.Placings {
			if first[x.Face] {
				continue
			}
			first[x.Face] = true
			mm[x.Face] = append(mm[x.Face], x.MM)
			if x.HasSteps {
				steps[x.Face] = append(steps[x.Face], x.Steps)
			}
		}
	}
	for face, list := range mm {
		s := Spread{Face: face, Students: len(list), MM: five(list), HasSteps: len(steps[face]) == len(list)}
		if s.HasSteps {
			s.Steps = five(steps[face])
		}
		out = append(out, s)
	}
	sort.Slice(out, func(a, b int) bool { return out[a].Face < out[b].Face })
	return out
}

// five are the least, the quartiles and the greatest of a list, by straight lines between its sorted values (Hyndman and Fan 1996,
// definition 7).
func five(list []float64) (out [5]float64) {
	list = slices.Clone(list)
	sort.Float64s(list)
	for i := range out {
		at := float64(i) / 4 * float64(len(list)-1)
		k := int(math.Floor(at))
		out[i] = list[k]
		if k+1 < len(list) {
			out[i] += (at - float64(k)) * (list[k+1] - list[k])
		}
	}
	return out
}
