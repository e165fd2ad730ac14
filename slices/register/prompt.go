package register

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// mostText bounds what is read of a table or a pose file, in bytes.
const mostText = 4 << 20

// PoseReport is what the prompt prints of a pose. Lengths are patient mm, angles degrees.
type PoseReport struct {
	Pose        geom.Pose `json:"pose"`
	Residuals   Distances `json:"residuals"`
	RMS         float64   `json:"rms"`
	LeaveOneOut Distances `json:"leaveOneOut"` // null for three ties
	Worst       int       `json:"worst"`       // index of the tie, counted from 0
	Suspects    []int     `json:"suspects"`
	Normal      geom.Vec  `json:"normal"`     // outward, toward the viewer
	TurnedOver  *bool     `json:"turnedOver"` // null when no face is declared
	Tilt        *Degrees  `json:"tilt"`       // null when no face is declared
	ErrorAt     Distances `json:"errorAt"`    // one for each place asked for, null where it cannot be told
	Words       []string  `json:"words"`
}

// Degrees is a section.Tilt in degrees.
type Degrees struct {
	Pitch float64 `json:"pitch"`
	Roll  float64 `json:"roll"`
	Turn  float64 `json:"turn"`
}

// InDegrees converts t.
func InDegrees(t section.Tilt) Degrees {
	const d = 180 / math.Pi
	return Degrees{t.Pitch * d, t.Roll * d, t.Turn * d}
}

// Report gathers what is to be told of r for a face declared to look along face with photoUp at the top
// (either may be unknown; an undeclared photo-up counts as the usual one), and the expected error at places.
func (r Registration) Report(face, photoUp section.Facing, places []geom.MM) (PoseReport, error) {
	p := PoseReport{
		Pose: r.Pose, Residuals: r.Fit.Each, RMS: r.Fit.RMS, LeaveOneOut: r.LeaveOneOut,
		Worst: r.Worst(), Suspects: append([]int{}, r.Suspects()...), Normal: r.Pose.Outward(),
		ErrorAt: Distances{}, Words: append([]string{}, r.Words()...),
	}
	for _, at := range places {
		p.ErrorAt = append(p.ErrorAt, r.ErrorAt(at))
	}
	if face == section.UnknownFacing {
		return p, nil
	}
	over := section.TurnedOver(r.Pose, face)
	p.TurnedOver = &over
	if photoUp == section.UnknownFacing {
		photoUp = usualUp(face.Plane())
	}
	tilt, err := section.TiltOf(r.Pose, face, photoUp)
	if err != nil {
		return p, fmt.Errorf("register: %w", err)
	}
	d := InDegrees(tilt)
	p.Tilt = &d
	return p, nil
}

// usualUp is what stands at the top of a face in bench view.
func usualUp(p section.Plane) section.Facing {
	if p == section.Transverse {
		return section.Anterior
	}
	return section.Superior
}

// LevelsReport is what the prompt prints of tie levels: for each place asked, in mm from the datum, the scan
// coordinate and whether it lies beyond the ties; and the stretch between them.
type LevelsReport struct {
	At           []float64 `json:"at"`
	Scan         []float64 `json:"scan"`
	Extrapolated []bool    `json:"extrapolated"`
	Stretch      []Stretch `json:"stretch"`
}

// Report carries the places to the scan.
func (l Levels) Report(places []float64) LevelsReport {
	r := LevelsReport{append([]float64{}, places...), []float64{}, []bool{}, l.Stretches()}
	for _, at := range places {
		mm, beyond := l.Scan(at)
		r.Scan, r.Extrapolated = append(r.Scan, mm), append(r.Extrapolated, beyond)
	}
	return r
}

// ReadPlacedTies reads landmarks as lines of x_mm,y_mm,X,Y,Z: face mm and the same point of the scan. The
// face point stands in Tie.Face, so the map to use with FromTies is Unity. A first line of words is passed over.
func ReadPlacedTies(r io.Reader) ([]Tie, error) {
	var out []Tie
	err := readNumbers(r, "x_mm,y_mm,X,Y,Z", func(n []float64) {
		out = append(out, Tie{Face: geom.Px{X: n[0], Y: n[1]}, Scan: geom.LPS{X: n[2], Y: n[3], Z: n[4]}})
	})
	return out, err
}

// Unity is the map for ties whose face points are in millimetres already.
var Unity = geom.Homography{1, 0, 0, 0, 1, 0, 0, 0, 1}

// ReadLevels reads tie levels as lines of run_mm,scan_mm. A first line of words is passed over.
func ReadLevels(r io.Reader) ([]Level, error) {
	var out []Level
	err := readNumbers(r, "run_mm,scan_mm", func(n []float64) { out = append(out, Level{n[0], n[1]}) })
	return out, err
}

// readNumbers hands on every line of a comma-separated table; shape names its columns. Lines that are empty
// or begin with # are passed over, and so is a first line whose first field is not a number.
func readNumbers(r io.Reader, shape string, use func([]float64)) error {
	want := strings.Count(shape, ",") + 1
	lines := bufio.NewScanner(io.LimitReader(r, mostText+1))
	read, line, first := 0, 0, true
	for lines.Scan() {
		line++
		if read += len(lines.Bytes()) + 1; read > mostText {
			return fmt.Errorf("register: the table is longer than %d MB", mostText>>20)
		}
		text := strings.TrimSpace(strings.TrimPrefix(lines.Text(), "\ufeff"))
		if text == "" || text[0] == '#' {
			continue
		}
		fields := strings.Split(strings.NewReplacer(";", ",", "\t", ",").Replace(text), ",")
		heading := first
		first = false
		numbers := make([]float64, 0, want)
		for i, f := range fields {
			x, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
			if err != nil && i == 0 && heading {
				numbers = nil
				break
			}
			if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("register: line %d: %q is not a number that can be used", line, strings.TrimSpace(f))
			}
			numbers = append(numbers, x)
		}
		if numbers == nil {
			continue
		}
		if len(numbers) != want {
			return fmt.Errorf("register: line %d has %d numbers, not the %d of %s", line, len(numbers), want, shape)
		}
		use(numbers)
	}
	if err := lines.Err(); err != nil {
		return fmt.Errorf("register: line %d: %w", line+1, err)
	}
	return nil
}

// ReadPose reads a pose file: {"origin":[x,y,z],"x":[...],"y":[...],"scale":1}, or an object that holds it as
// "pose". An absent scale is 1. The axes come back exactly square.
func ReadPose(r io.Reader) (geom.Pose, error) {
	b, err := io.ReadAll(io.LimitReader(r, mostText))
	if err != nil {
		return geom.Pose{}, fmt.Errorf("register: pose file: %w", err)
	}
	var outer struct {
		Pose json.RawMessage `json:"pose"`
	}
	if json.Unmarshal(b, &outer) == nil && len(outer.Pose) > 0 {
		b = outer.Pose
	}
	pose := geom.Pose{Scale: 1}
	if err := json.Unmarshal(b, &pose); err != nil {
		return geom.Pose{}, fmt.Errorf("register: pose file: %w", err)
	}
	if err := pose.Check(); err != nil {
		return geom.Pose{}, fmt.Errorf("register: pose file: %w", err)
	}
	return pose.Squared(), nil
}
