package register

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"sectionary/slices/geom"
	"sectionary/slices/scan"
)

// The toolkit beside which Refine is measured (elastix, a Debian package) is driven with the settings of the reference
// benchmark: Mattes information, three resolutions, rigid.
const besideSettings = `(FixedInternalImagePixelType "float")
(MovingInternalImagePixelType "float")
(FixedImageDimension 3)
(MovingImageDimension 3)
(UseDirectionCosines "true")
(Registration "MultiResolutionRegistration")
(Interpolator "LinearInterpolator")
(ResampleInterpolator "FinalBSplineInterpolator")
(Resampler "DefaultResampler")
(FixedImagePyramid "FixedRecursiveImagePyramid")
(MovingImagePyramid "MovingRecursiveImagePyramid")
(FixedImagePyramidSchedule 6 6 1 3 3 1 1 1 1)
(MovingImagePyramidSchedule 3 3 3 2 2 2 1 1 1)
(Optimizer "AdaptiveStochasticGradientDescent")
(Transform "EulerTransform")
(Metric "AdvancedMattesMutualInformation")
(AutomaticScalesEstimation "true")
(AutomaticTransformInitialization "false")
(HowToCombineTransforms "Compose")
(NumberOfHistogramBins 32)
(NumberOfResolutions 3)
(MaximumNumberOfIterations 500)
(NumberOfSpatialSamples 4000)
(NewSamplesEveryIteration "true")
(ImageSampler "Random")
(CheckNumberOfSamples "false")
(RequiredRatioOfValidSamples 0.05)
(DefaultPixelValue %g)
(WriteResultImage "false")
(MaximumStepLength 4.0 2.0 1.0)
`

const besideStart = `(Transform "EulerTransform")
(NumberOfParameters 6)
(TransformParameters %.12f %.12f %.12f %.9f %.9f %.9f)
(InitialTransformParametersFileName "NoInitialTransform")
(HowToCombineTransforms "Compose")
(FixedImageDimension 3)
(MovingImageDimension 3)
(FixedInternalImagePixelType "float")
(MovingInternalImagePixelType "float")
(Size %d %d 1)
(Index 0 0 0)
(Spacing %g %g 1)
(Origin %.9f %.9f 0)
(Direction 1 0 0 0 1 0 0 0 1)
(UseDirectionCosines "true")
(CenterOfRotationPoint 0 0 0)
(ComputeZYX "false")
`

// BenchmarkBesideElastix runs both on the same pairs made without sag: error and time of each.
func BenchmarkBesideElastix(b *testing.B) {
	program, err := exec.LookPath("elastix")
	if err != nil {
		b.Skip("elastix is not installed")
	}
	const pairs = 9
	for name, c := range realBodies(b) {
		dir := b.TempDir()
		outside := -1000.0
		if name != "trunk CT" {
			outside = 0
		}
		writeMoving(b, dir, c.v)
		if err := os.WriteFile(filepath.Join(dir, "p.txt"), fmt.Appendf(nil, besideSettings, outside), 0o600); err != nil {
			b.Fatal(err)
		}
		label := strings.ReplaceAll(name, " ", "-")
		for _, who := range []string{"ours", "elastix"} {
			b.Run(label+"/"+who, func(b *testing.B) {
				var errs []float64
				var took time.Duration
				for b.Loop() {
					for seed := range uint64(pairs) {
						k := c.make(200+seed, false)
						k.inside = nil // neither side is given the outline
						mm, d := 0.0, time.Duration(0)
						if who == "ours" {
							mm, d = k.run(b, c.v, c.spacing, false)
						} else {
							mm, d = k.beside(b, program, dir, c.spacing)
						}
						errs, took = append(errs, mm), took+d
					}
				}
				b.ReportMetric(percentile(errs, 0.5), "mm-median")
				b.ReportMetric(percentile(errs, 1), "mm-most")
				b.ReportMetric(float64(took.Milliseconds())/float64(len(errs)), "ms/search")
			})
		}
	}
}

func header(size [3]int, spacing [3]float64, origin geom.LPS, axes [3]geom.Vec, kind, file string) string {
	var m []string
	for _, a := range axes {
		m = append(m, fmt.Sprintf("%.12f %.12f %.12f", a.X, a.Y, a.Z))
	}
	return fmt.Sprintf("ObjectType = Image\nNDims = 3\nDimSize = %d %d %d\nElementSpacing = %g %g %g\nOffset = %.9f %.9f %.9f\nTransformMatrix = %s\nElementType = %s\nElementByteOrderMSB = False\nElementDataFile = %s\n",
		size[0], size[1], size[2], spacing[0], spacing[1], spacing[2], origin.X, origin.Y, origin.Z, strings.Join(m, " "), kind, file)
}

func writeMoving(b *testing.B, dir string, v *scan.Volume) {
	raw := make([]byte, 0, 2*v.Size[0]*v.Size[1]*v.Size[2])
	for k := range v.Size[2] {
		for j := range v.Size[1] {
			for i := range v.Size[0] {
				raw = binary.LittleEndian.AppendUint16(raw, uint16(int16(min(max(v.Value(i, j, k), -32768), 32767))))
			}
		}
	}
	var axes [3]geom.Vec
	var spacing [3]float64
	for n := range 3 {
		c := v.ToLPS.Column(n)
		axes[n], spacing[n] = c.Unit(), c.Len()
	}
	put(b, dir, "moving", raw, header(v.Size, spacing, v.ToLPS.Origin(), axes, "MET_SHORT", "moving.raw"))
}

func put(b *testing.B, dir, name string, raw []byte, head string) {
	for file, content := range map[string][]byte{name + ".raw": raw, name + ".mhd": []byte(head)} {
		if err := os.WriteFile(filepath.Join(dir, file), content, 0o600); err != nil {
			b.Fatal(err)
		}
	}
}

// beside fits the same pair with the toolkit: the face is a volume of one slice at the starting pose.
func (c realCase) beside(b *testing.B, program, dir string, spacing float64) (mm float64, took time.Duration) {
	p := c.from.Pose
	w, h := c.face.Rect.Dx(), c.face.Rect.Dy()
	half := geom.MM{X: float64(w-1) / 2 * spacing, Y: float64(h-1) / 2 * spacing}
	still := [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	put(b, dir, "fixed", c.face.Pix, header([3]int{w, h, 1}, [3]float64{spacing, spacing, 1}, geom.LPS{X: -half.X, Y: -half.Y}, still, "MET_UCHAR", "fixed.raw"))
	x, y, n, o0 := p.X, p.Y, p.Normal(), p.At(half)
	start := fmt.Sprintf(besideStart, math.Asin(y.Z), math.Atan2(-x.Z, n.Z), math.Atan2(-y.X, y.Y), o0.X, o0.Y, o0.Z, w, h, spacing, spacing, -half.X, -half.Y)
	if err := os.WriteFile(filepath.Join(dir, "t0.txt"), []byte(start), 0o600); err != nil {
		b.Fatal(err)
	}
	out, err := os.MkdirTemp(dir, "out")
	if err != nil {
		b.Fatal(err)
	}
	began := time.Now()
	cmd := exec.Command(program, "-f", filepath.Join(dir, "fixed.mhd"), "-m", filepath.Join(dir, "moving.mhd"), "-p", filepath.Join(dir, "p.txt"), "-t0", filepath.Join(dir, "t0.txt"), "-out", out)
	if text, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, text)
	}
	took = time.Since(began)
	text, err := os.ReadFile(filepath.Join(out, "TransformParameters.0.txt"))
	if err != nil {
		b.Fatal(err)
	}
	m, o := numbersAfter(b, string(text), "TransformParameters"), numbersAfter(b, string(text), "CenterOfRotationPoint")
	sx, cx := math.Sincos(m[0])
	sy, cy := math.Sincos(m[1])
	sz, cz := math.Sincos(m[2])
	turn := func(v geom.Vec) geom.Vec { // about y, then x, then z
		v = geom.Vec{X: cy*v.X + sy*v.Z, Y: v.Y, Z: -sy*v.X + cy*v.Z}
		v = geom.Vec{X: v.X, Y: cx*v.Y - sx*v.Z, Z: sx*v.Y + cx*v.Z}
		return geom.Vec{X: cz*v.X - sz*v.Y, Y: sz*v.X + cz*v.Y, Z: v.Z}
	}
	centre := geom.LPS{X: o[0], Y: o[1], Z: o[2]}
	for _, q := range c.places {
		at := centre.Add(turn(p.At(q).Sub(centre))).Add(geom.Vec{X: m[3], Y: m[4], Z: m[5]})
		mm += at.Dist(c.truth(q)) / float64(len(c.places))
	}
	return mm, took
}

func numbersAfter(b *testing.B, text, name string) (out []float64) {
	_, rest, _ := strings.Cut(text, "("+name+" ")
	rest, _, _ = strings.Cut(rest, ")")
	for _, w := range strings.Fields(rest) {
		x, err := strconv.ParseFloat(w, 64)
		if err != nil {
			b.Fatal(err)
		}
		out = append(out, x)
	}
	return out
}
