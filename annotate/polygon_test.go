package annotate

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

type goldenPolygon struct {
	Polygon
	Valid    bool
	Why      string
	Area     float64
	Length   float64
	Centroid [2]float64
	Depth    float64
	Points   [][2]float64
	Inside   []bool
}

func (g *goldenPolygon) UnmarshalJSON(b []byte) error {
	type plain struct {
		Valid        bool
		Why          string
		Area, Length float64
		Centroid     [2]float64
		Depth        float64
		Points       [][2]float64
		Inside       []bool
	}
	var p plain
	if err := json.Unmarshal(b, &p); err != nil {
		return err
	}
	*g = goldenPolygon{Valid: p.Valid, Why: p.Why, Area: p.Area, Length: p.Length, Centroid: p.Centroid, Depth: p.Depth, Points: p.Points, Inside: p.Inside}
	return json.Unmarshal(b, &g.Polygon)
}

// goldenPolygons reads the outlines made by testdata/gen/polygons.py with shapely 1.8.5.
func goldenPolygons(t testing.TB) []goldenPolygon {
	t.Helper()
	var file struct{ Cases []goldenPolygon }
	readJSON(t, "../testdata/annotate/polygons.json", &file)
	if len(file.Cases) != 1000 {
		t.Fatalf("want 1000 outlines, got %d", len(file.Cases))
	}
	return file.Cases
}

func readJSON(t testing.TB, path string, into any) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatal(path, err)
	}
}

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// Source: shapely 1.8.5 (GEOS) on 1,000 outlines, 800 sound and some 190 crossing.
func TestPolygonAgainstShapely(t *testing.T) {
	bad := 0
	for i, g := range goldenPolygons(t) {
		err := g.Check()
		if !g.Valid {
			bad++
			var crossing *CrossingError
			switch {
			case err == nil:
				t.Errorf("outline %d: shapely says %s, Check passes it", i, g.Why)
			case errors.As(err, &crossing) && g.EdgeDistance(crossing.At) > 1e-6:
				t.Errorf("outline %d: the crossing %v does not lie on the outline", i, crossing.At)
			}
			continue
		}
		if err != nil {
			t.Errorf("outline %d: sound for shapely, but %v", i, err)
		}
		c := g.Polygon.Centroid()
		if !near(g.AreaPx(), g.Area, 1e-5) || !near(g.PerimeterPx(), g.Length, 1e-5) || !near(c.X, g.Centroid[0], 1e-5) || !near(c.Y, g.Centroid[1], 1e-5) {
			t.Errorf("outline %d: area %v want %v, length %v want %v, centroid %v want %v", i, g.AreaPx(), g.Area, g.PerimeterPx(), g.Length, c, g.Centroid)
		}
		for k, q := range g.Points {
			if got := g.Contains(geom.Px{X: q[0], Y: q[1]}); got != g.Inside[k] {
				t.Errorf("outline %d: contains %v = %v", i, q, got)
			}
		}
	}
	if bad < 100 {
		t.Errorf("only %d unsound outlines in the table: it proves little", bad)
	}
}

// Source: shapely's polylabel at a tolerance of a hundred-thousandth of the perimeter; and 10,000 random points.
func TestInsideIsDeepest(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for i, g := range goldenPolygons(t) {
		if !g.Valid {
			continue
		}
		q := g.Polygon.Inside()
		depth := g.EdgeDistance(q)
		if !g.Contains(q) || depth < g.Depth*0.999-1e-4 {
			t.Errorf("outline %d: %v is %v deep, shapely finds %v", i, q, depth, g.Depth)
		}
		b := g.Bounds()
		near := edgesNear(g.Polygon)
		for range 10_000 {
			r := geom.Px{X: b.Min.X + rng.Float64()*b.W(), Y: b.Min.Y + rng.Float64()*b.H()}
			if near.nearer(r, depth) {
				continue
			}
			if d := g.EdgeDistance(r); d > depth && g.Contains(r) {
				t.Errorf("outline %d: random point %v is %v deep, Inside only %v", i, r, d, depth)
				break
			}
		}
	}
}

// nearEdges finds quickly that some edge lies near a point: the edges that did so last are asked first.
type nearEdges struct {
	edges [][2]geom.Px
	tiles map[[2]int]int
	size  float64
}

func edgesNear(p Polygon) *nearEdges {
	n := &nearEdges{tiles: map[[2]int]int{}, size: math.Max(p.Bounds().W(), p.Bounds().H()) / 64}
	for k := range p.Rings() {
		r := p.Ring(k)
		for i := range r {
			n.edges = append(n.edges, [2]geom.Px{r[i], r[(i+1)%len(r)]})
		}
	}
	return n
}

func (n *nearEdges) nearer(q geom.Px, than float64) bool {
	tile := [2]int{int(q.X / n.size), int(q.Y / n.size)}
	if i, ok := n.tiles[tile]; ok && segmentDistance2(q, n.edges[i][0], n.edges[i][1]) < than*than {
		return true
	}
	for i, e := range n.edges {
		if segmentDistance2(q, e[0], e[1]) < than*than {
			n.tiles[tile] = i
			return true
		}
	}
	return false
}

// Shapes that are hard on a search by squares: thin, bent and far from the origin.
func TestInsideOfNeedles(t *testing.T) {
	for name, p := range map[string]Polygon{
		"straight": {Outer: []geom.Px{{X: 0, Y: 0}, {X: 1000, Y: 0}, {X: 1000, Y: 0.01}, {X: 0, Y: 0.01}}},
		"bent":     {Outer: []geom.Px{{X: 0, Y: 0}, {X: 1000, Y: 0}, {X: 1000, Y: 1000}, {X: 999.99, Y: 1000}, {X: 999.99, Y: 0.01}, {X: 0, Y: 0.01}}},
		"slanting": {Outer: []geom.Px{{X: 0, Y: 0}, {X: 5000, Y: 3000}, {X: 9000, Y: 100}, {X: 5000, Y: 3000.02}}},
		"ring":     {Outer: oval(500, 500, 400, 400, 90), Holes: [][]geom.Px{oval(500, 500, 399.7, 399.7, 90)}},
		"far away": {Outer: square(9e6, 9e6, 1)},
	} {
		if err := p.Check(); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if q := p.Inside(); !p.Contains(q) {
			t.Errorf("%s: %v lies outside", name, q)
		}
	}
}

func square(x, y, side float64) []geom.Px {
	return []geom.Px{{X: x, Y: y}, {X: x + side, Y: y}, {X: x + side, Y: y + side}, {X: x, Y: y + side}}
}

func TestCheckNamesTheFault(t *testing.T) {
	for name, c := range map[string]struct {
		p    Polygon
		want error
		at   geom.Px
	}{
		"square":                   {Polygon{Outer: square(0, 0, 10)}, nil, geom.Px{}},
		"point drawn twice":        {Polygon{Outer: append(square(0, 0, 10), geom.Px{X: 0, Y: 10})}, nil, geom.Px{}},
		"no points":                {Polygon{}, ErrTooSmall, geom.Px{}},
		"two points":               {Polygon{Outer: []geom.Px{{X: 1}, {X: 2}}}, ErrTooSmall, geom.Px{}},
		"one point thrice":         {Polygon{Outer: []geom.Px{{X: 1}, {X: 1}, {X: 1}}}, ErrTooSmall, geom.Px{}},
		"bow tie":                  {Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 10, Y: 10}, {X: 10, Y: 0}, {X: 0, Y: 10}}}, ErrCrossing, geom.Px{X: 5, Y: 5}},
		"spike":                    {Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 5, Y: 0}, {X: 5, Y: 5}}}, ErrCrossing, geom.Px{X: 10, Y: 0}},
		"touches itself":           {Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}, {X: 5, Y: 0}, {X: 0, Y: 10}}}, ErrCrossing, geom.Px{X: 5, Y: 0}},
		"hole":                     {Polygon{square(0, 0, 10), [][]geom.Px{square(2, 2, 3)}}, nil, geom.Px{}},
		"hole across the edge":     {Polygon{square(0, 0, 10), [][]geom.Px{square(8, 8, 5)}}, ErrCrossing, geom.Px{X: 8, Y: 10}},
		"hole outside":             {Polygon{square(0, 0, 10), [][]geom.Px{square(20, 20, 5)}}, ErrHole, geom.Px{}},
		"hole in a hole":           {Polygon{square(0, 0, 10), [][]geom.Px{square(1, 1, 7), square(3, 3, 2)}}, ErrHole, geom.Px{}},
		"hole with no area":        {Polygon{square(0, 0, 10), [][]geom.Px{{{X: 3, Y: 3}, {X: 4, Y: 4}}}}, ErrTooSmall, geom.Px{}},
		"nearly straight triangle": {Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 5, Y: 1e-6}, {X: 10, Y: 0}}}, ErrTooSmall, geom.Px{}},
	} {
		t.Run(name, func(t *testing.T) {
			err := c.p.Check()
			if !errors.Is(err, c.want) {
				t.Fatalf("got %v, want %v", err, c.want)
			}
			var crossing *CrossingError
			if errors.As(err, &crossing) && crossing.At.Dist(c.at) > 1e-9 && !(name == "hole across the edge" && crossing.At.Dist(geom.Px{X: 10, Y: 8}) < 1e-9) {
				t.Errorf("crossing at %v, want %v", crossing.At, c.at)
			}
		})
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), 1e300} {
		if (Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: v, Y: 5}}}).Check() == nil {
			t.Errorf("a point at %v passes", v)
		}
	}
}

// Source: the closed forms in shape.json of the truth tables (numpy 1.24): L shape area 600, centroid (15, 10), perimeter
// 140; clockwise triangle area 24, centroid (8/3, 2), perimeter 24.
func TestHandMeasuredShapes(t *testing.T) {
	l := Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 40, Y: 0}, {X: 40, Y: 10}, {X: 10, Y: 10}, {X: 10, Y: 30}, {X: 0, Y: 30}}}
	tri := Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 0, Y: 6}, {X: 8, Y: 0}}}
	for _, c := range []struct {
		p                  Polygon
		area, x, y, length float64
	}{{l, 600, 15, 10, 140}, {tri, 24, 8. / 3, 2, 24}} {
		g := c.p.Centroid()
		if !near(c.p.AreaPx(), c.area, 1e-9) || !near(g.X, c.x, 1e-9) || !near(g.Y, c.y, 1e-9) || !near(c.p.PerimeterPx(), c.length, 1e-9) {
			t.Errorf("got %v %v %v", c.p.AreaPx(), g, c.p.PerimeterPx())
		}
	}
}

// drawPolygon makes a sound outline: a ring round a centre with up to two holes.
func drawPolygon(t *rapid.T) Polygon {
	ring := func(cx, cy, r float64, n int) []geom.Px {
		out := make([]geom.Px, n)
		for i := range out {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			a := r * rapid.Float64Range(0.6, 1).Draw(t, "radius")
			out[i] = geom.Px{X: cx + a*cos, Y: cy + a*sin}
		}
		return out
	}
	at := rapid.Float64Range(0, 5000)
	x, y, r := at.Draw(t, "x"), at.Draw(t, "y"), rapid.Float64Range(5, 500).Draw(t, "r")
	p := Polygon{Outer: ring(x, y, r, rapid.IntRange(6, 40).Draw(t, "n"))}
	if rapid.Bool().Draw(t, "hole") {
		p.Holes = append(p.Holes, ring(x, y, r*0.3, rapid.IntRange(4, 12).Draw(t, "m")))
	}
	return p
}

func TestEditsLeaveTheOldOutlineAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPolygon(t)
		before, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		ring := rapid.IntRange(0, len(p.Holes)).Draw(t, "ring")
		i := rapid.IntRange(0, len(p.Ring(ring))-1).Draw(t, "i")
		q := geom.Px{X: rapid.Float64Range(0, 5000).Draw(t, "qx"), Y: rapid.Float64Range(0, 5000).Draw(t, "qy")}
		put, err := p.InsertPoint(ring, i, q)
		if err != nil {
			t.Fatal(err)
		}
		back, err := put.RemovePoint(ring, i)
		if err != nil || !back.Equal(p) {
			t.Fatalf("insert and remove do not cancel: %v", err)
		}
		moved, err := p.MovePoint(ring, i, q)
		if err != nil || moved.Ring(ring)[i] != q {
			t.Fatalf("move: %v", err)
		}
		back, err = moved.MovePoint(ring, i, p.Ring(ring)[i])
		if err != nil || !back.Equal(p) {
			t.Fatalf("move and move back do not cancel: %v", err)
		}
		if after, _ := json.Marshal(p); string(after) != string(before) {
			t.Fatal("an edit wrote into the old outline")
		}
		var read Polygon
		if err := json.Unmarshal(before, &read); err != nil || !read.Equal(p) {
			t.Fatalf("JSON does not come back equal: %v", err)
		}
	})
}

func TestEditsRefuseMissingPoints(t *testing.T) {
	p := Polygon{Outer: square(0, 0, 10)}
	for _, at := range [][2]int{{-1, 0}, {0, -1}, {0, 5}, {1, 0}} {
		if _, err := p.MovePoint(at[0], at[1], geom.Px{}); !errors.Is(err, ErrNoPoint) {
			t.Errorf("move %v: %v", at, err)
		}
		if _, err := p.InsertPoint(at[0], at[1], geom.Px{}); !errors.Is(err, ErrNoPoint) {
			t.Errorf("insert %v: %v", at, err)
		}
		if _, err := p.RemovePoint(at[0], at[1]); !errors.Is(err, ErrNoPoint) {
			t.Errorf("remove %v: %v", at, err)
		}
	}
	tri := Polygon{Outer: square(0, 0, 10)[:3]}
	if _, err := tri.RemovePoint(0, 0); !errors.Is(err, ErrTooSmall) {
		t.Errorf("a triangle lost a point: %v", err)
	}
}

func TestMeasuresDoNotFeelTurnsMirrorsOrShifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPolygon(t)
		sin, cos := math.Sincos(rapid.Float64Range(0, 7).Draw(t, "angle"))
		mirror := rapid.SampledFrom([]float64{1, -1}).Draw(t, "mirror")
		move := func(q geom.Px) geom.Px {
			return geom.Px{X: mirror*(cos*q.X-sin*q.Y) + 300, Y: sin*q.X + cos*q.Y - 200}
		}
		m := p.Map(move)
		if !near(m.AreaPx(), p.AreaPx(), 1e-9*p.AreaPx()) || !near(m.PerimeterPx(), p.PerimeterPx(), 1e-9*p.PerimeterPx()) {
			t.Fatalf("area %v became %v, perimeter %v became %v", p.AreaPx(), m.AreaPx(), p.PerimeterPx(), m.PerimeterPx())
		}
		if d := move(p.Centroid()).Dist(m.Centroid()); d > 1e-6 {
			t.Fatalf("the centroid slipped by %v", d)
		}
	})
}

func TestSimplifyStaysNearAndSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPolygon(t)
		tolerance := rapid.Float64Range(0.01, 30).Draw(t, "tolerance")
		s := p.Simplify(tolerance)
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		for n := range p.Rings() {
			for _, q := range p.Ring(n) {
				if d := s.EdgeDistance(q); d > tolerance+1e-9 {
					t.Fatalf("point %v lies %v from the thinned outline, more than %v", q, d, tolerance)
				}
			}
		}
	})
	// A circle of 1,000 points: common practice, no source; a chord 0.5 px off a radius of 200 px spans 2*acos(1-0.5/200)
	// = 8.1 degrees, so about 45 points suffice; Douglas-Peucker may take up to twice as many.
	var c Polygon
	for i := range 1000 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 1000)
		c.Outer = append(c.Outer, geom.Px{X: 200 * cos, Y: 200 * sin})
	}
	if n := len(c.Simplify(0.5).Outer); n > 90 {
		t.Errorf("the circle kept %d points", n)
	}
}

func TestOutlineJSONIsStrict(t *testing.T) {
	for _, text := range []string{`{"outer":[[1]]}`, `{"outer":[[1,2,3]]}`, `{"outer":[null]}`, `{"outer":[["1","2"]]}`, `{"outer":[[null,2]]}`, `{"outer":[[[1],2]]}`, `{"outer":[5]}`} {
		var p Polygon
		if err := json.Unmarshal([]byte(text), &p); err == nil {
			t.Errorf("%s was read as %v", text, p)
		}
	}
	var p Polygon
	if err := json.Unmarshal([]byte(`{"outer":[ [ 0 , 1 ],[2,3],[4,5e0],[0,1] ]}`), &p); err != nil || len(p.Outer) != 3 {
		t.Errorf("closed ring: %v %v", p, err)
	}
}

func BenchmarkInside(b *testing.B) {
	gs := goldenPolygons(b)
	for i := 0; b.Loop(); i++ {
		if g := gs[i%len(gs)]; g.Valid {
			g.Polygon.Inside()
		}
	}
}

func BenchmarkCheck100Points(b *testing.B) {
	var c Polygon
	for i := range 100 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 100)
		c.Outer = append(c.Outer, geom.Px{X: 200 * cos, Y: 200 * sin})
	}
	for b.Loop() {
		if err := c.Check(); err != nil {
			b.Fatal(err)
		}
	}
}
