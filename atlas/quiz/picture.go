package quiz

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"math"
	"time"

	"sectionary/slices/photo"
)

// A finished picture is a page of its own: what a station shows and nothing else, no name, no number.
const (
	pictureW    = 240.0 // mm
	pictureH    = 180.0
	pictureFoot = 12.0
)

// pictureRoom is where the face stands on a finished picture: clear of markers, letters, scale bar and the foot.
var pictureRoom = area{2, 2, pictureW - 4, pictureH - pictureFoot - 2}

// put lays the picture with its markers into room: flattened by the caller, so that no words or shapes are left. bar
// tells how large it is. It returns the letters of markers that found no room.
func (s *sight) put(p *page, x Station, room area) (ratio float64, left []string) {
	ratio = s.face.fit(room.inset(headRoom + 0.6))
	s.face.put(p)
	placed, left := placeMarkers(s.targets(x), s.face.at)
	for _, m := range placed {
		m.draw(p)
	}
	if !x.Picture.Bare {
		sheet{face: s.face, run: s.run}.edgeLetters(p, x.Picture.View, nil)
	}
	return ratio, left
}

// finished lays out the finished picture of a station.
func (s *sight) finished(x Station) (*page, error) {
	p := &page{W: pictureW, H: pictureH}
	ratio, left := s.put(p, x, pictureRoom)
	if len(left) > 0 {
		return nil, refusal("Marker " + left[0] + ": there is no place for it where it meets no other.")
	}
	edge, right, y := pictureRoom.X+2, pictureRoom.right()-2, pictureH-7.5
	if !x.Picture.NoBar {
		sheet{face: s.face, run: s.run}.scaleBar(p, ratio, spot{edge, y})
	}
	p.text(spot{edge, pictureH - 2.6}, bold, 8, black, NotForDiagnosis)
	if s.synthetic() {
		p.textRight(spot{right, pictureH - 2.6}, bold, 8, black, Practice)
	}
	return p, nil
}

func (s *sight) synthetic() bool { return s.plate.Synthetic || s.donor.Synthetic }

// Proof is the finished picture of a station as it will be released.
type Proof struct {
	Picture *image.RGBA
	SHA256  string // of the picture and of what is asked of it
}

// Proof paints the finished picture of a station, which counts from 0, exactly as it will be released: for the
// fresh-eyes step, shown full screen. It fails as Sentence says when the station cannot be shown.
func (b Board) Proof(ctx context.Context, x Spotter, station int) (Proof, error) {
	if station < 0 || station >= len(x.Stations) {
		return Proof{}, refusal(fmt.Sprintf("There is no station %d.", station+1))
	}
	d := &darkroom{Board: b, noTags: x.NoTags}
	view, err := d.sight(ctx, x.Stations[station].Picture)
	if err != nil {
		return Proof{}, err
	}
	return view.proof(x.Stations[station])
}

func (s *sight) proof(x Station) (Proof, error) {
	p, err := s.finished(x)
	if err != nil {
		return Proof{}, err
	}
	m := p.pixels(dotsPerInch)
	asked, err := json.Marshal(x.Asks)
	if err != nil {
		return Proof{}, fmt.Errorf("quiz: %w", err)
	}
	sum := sha256.New()
	sum.Write(m.Pix)
	sum.Write(asked)
	return Proof{Picture: m, SHA256: hex.EncodeToString(sum.Sum(nil))}, nil
}

// pixels paints a page.
func (p *page) pixels(dots float64) *image.RGBA {
	per := dots / 25.4
	b := newPixels(int(math.Round(p.W*per)), int(math.Round(p.H*per)), area{0, 0, p.W, p.H})
	p.paint(b)
	return b.m
}

// png is the file of a finished picture.
func (f Proof) png() ([]byte, error) {
	var file bytes.Buffer
	if err := photo.EncodePNG(&file, f.Picture); err != nil {
		return nil, fmt.Errorf("quiz: %w", err)
	}
	return withDensity(file.Bytes(), dotsPerInch/25.4*1000), nil
}

// Accept notes that a person looked at the finished picture of a station, which counts from 0, and let it pass.
func (x Spotter) Accept(station int, by string, at time.Time, proof Proof) (Spotter, error) {
	if station < 0 || station >= len(x.Stations) || by == "" {
		return x, refusal("Say who looked at which station.")
	}
	x.Stations = append([]Station{}, x.Stations...)
	x.Stations[station].Look = &Look{By: by, At: at.UTC(), Picture: proof.SHA256}
	return x, nil
}

// Looked reports whether somebody let exactly this picture pass.
func (s Station) Looked(p Proof) bool { return s.Look != nil && s.Look.Picture == p.SHA256 }
