package exchange

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// Bounds of a parcel.
const (
	maxFiles    = 20000
	maxManifest = 256 << 20
	maxFile     = 4 << 30
	maxAll      = 64 << 30
	maxPlates   = 4000
)

// fileName is what files of a parcel may be called: one folder deep at most, nothing that climbs.
var fileName = regexp.MustCompile(`^([a-z]{1,20}/)?[A-Za-z0-9][A-Za-z0-9._-]{0,99}$`)

// Parcel is a run from another lab, opened but not taken in.
type Parcel struct {
	Manifest Manifest
	files    fs.FS
	close    func() error
}

// Close lets go of the file.
func (p *Parcel) Close() error { return p.close() }

// Open opens a folder or a zip file and reads its manifest. Errors: ErrNotOurs, ErrNewer, ErrDamaged, ErrTooLarge.
func Open(name string) (*Parcel, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("exchange: %w", err)
	}
	if info.IsDir() {
		root, err := os.OpenRoot(name) // links that lead out of the folder are not followed
		if err != nil {
			return nil, fmt.Errorf("exchange: %w", err)
		}
		return read(root.FS(), root.Close)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("exchange: %w", err)
	}
	p, err := ReadZip(f, info.Size())
	if err != nil {
		f.Close()
		return nil, err
	}
	p.close = f.Close
	return p, nil
}

// ReadZip opens a zip file that is open or in memory; see Open.
func ReadZip(r io.ReaderAt, size int64) (*Parcel, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNotOurs, err)
	}
	if len(z.File) > maxFiles {
		return nil, fmt.Errorf("%w: %d files", ErrTooLarge, len(z.File))
	}
	seen, all := map[string]bool{}, uint64(0)
	for _, f := range z.File {
		if !fileName.MatchString(f.Name) || seen[f.Name] {
			return nil, fmt.Errorf("%w: it holds a file with a name that no run has, or one twice", ErrNotOurs)
		}
		seen[f.Name] = true
		if f.UncompressedSize64 > maxFile || all > maxAll {
			return nil, fmt.Errorf("%w: %s", ErrTooLarge, f.Name)
		}
		all += f.UncompressedSize64
	}
	return read(z, func() error { return nil })
}

func read(files fs.FS, close func() error) (*Parcel, error) {
	p := &Parcel{files: files, close: close}
	if err := p.readManifest(); err != nil {
		close()
		return nil, err
	}
	return p, nil
}

func (p *Parcel) readManifest() error {
	f, err := p.files.Open(manifestName)
	if err != nil {
		return fmt.Errorf("%w: it has no %s", ErrNotOurs, manifestName)
	}
	b, err := io.ReadAll(io.LimitReader(f, maxManifest+1))
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrDamaged, manifestName, err)
	}
	if len(b) > maxManifest {
		return fmt.Errorf("%w: %s", ErrTooLarge, manifestName)
	}
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	switch err := json.Unmarshal(b, &head); {
	case err != nil:
		return fmt.Errorf("%w: %s: %w", ErrDamaged, manifestName, err)
	case head.Format != Format:
		return ErrNotOurs
	case head.Version > Version:
		return ErrNewer
	}
	if err := json.Unmarshal(b, &p.Manifest); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrDamaged, manifestName, err)
	}
	return p.Manifest.Check()
}

// Check reports ErrDamaged with what is wrong when a manifest does not hang together.
func (m Manifest) Check() error {
	bad := func(format string, a ...any) error {
		return fmt.Errorf("%w: %s: %s", ErrDamaged, manifestName, fmt.Sprintf(format, a...))
	}
	if len(m.Files) > maxFiles || len(m.Plates)+len(m.Earlier) > maxPlates {
		return fmt.Errorf("%w: %d files, %d pictures", ErrTooLarge, len(m.Files), len(m.Plates)+len(m.Earlier))
	}
	if err := m.Run.Check(); err != nil {
		return bad("its run: %v", err)
	}
	if err := atlas.CheckCode(m.Run.Donor); err != nil {
		return bad("its donor: %v", err)
	}
	if _, err := time.Parse(day, m.Expires); m.Expires != "" && err != nil {
		return bad("its last day cannot be read")
	}
	var all int64
	for name, c := range m.Files {
		if !fileName.MatchString(name) || c.Bytes < 0 || c.Bytes > maxFile {
			return bad("a file cannot be so")
		}
		if all += c.Bytes; all > maxAll {
			return ErrTooLarge
		}
	}
	listed := func(name string) bool { _, ok := m.Files[name]; return ok }
	faces, series := map[section.Face]bool{}, map[string]bool{}
	for _, p := range m.Plates {
		switch {
		case p.Face.Run != m.Run.ID || p.Face.Facing.Plane() != m.Run.Plane || faces[p.Face]:
			return bad("face %q", p.Name)
		case !listed(p.Picture):
			return bad("face %q: its picture is not listed", p.Name)
		}
		faces[p.Face] = true
	}
	named := map[string]bool{}
	for _, p := range m.Earlier {
		if p.Face.Run != m.Run.ID || p.Face.Facing.Plane() != m.Run.Plane || p.Name == "" || named[p.Name] || !listed(p.Picture) {
			return bad("the earlier picture %q", p.Name)
		}
		named[p.Name] = true
	}
	for _, s := range m.Series {
		if s.UID == "" || series[s.UID] || (s.File == "") != (s.Side == "") || (s.File != "" && (!listed(s.File) || !listed(s.Side))) {
			return bad("series %q", s.UID)
		}
		series[s.UID] = true
	}
	for _, l := range m.Levels {
		if l.Run != m.Run.ID || !series[l.Series] {
			return bad("the tie levels of %q", l.Series)
		}
	}
	return nil
}

// Verify reads every listed file and compares it with its hash. It fails with ErrDamaged naming every file that is missing or not as it was
// written, and done (may be nil) hears how far it has come.
func (p *Parcel) Verify(ctx context.Context, done func(done, total int)) error {
	var faults []string
	names := slices.Sorted(maps.Keys(p.Manifest.Files))
	for i, name := range names {
		if done != nil {
			done(i, len(names))
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if why := p.fault(name); why != "" {
			faults = append(faults, name+" "+why)
		}
	}
	if len(faults) == 0 {
		return nil
	}
	if n := len(faults); n > 5 {
		faults = append(faults[:5], fmt.Sprintf("and %d more", n-5))
	}
	return fmt.Errorf("%w: %s; ask for it again", ErrDamaged, strings.Join(faults, ", "))
}

// fault says what is wrong with a file, "" when nothing.
func (p *Parcel) fault(name string) string {
	want := p.Manifest.Files[name]
	f, err := p.files.Open(name)
	if err != nil {
		return "is missing"
	}
	defer f.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, io.LimitReader(f, want.Bytes+1))
	if err != nil || n != want.Bytes || hex.EncodeToString(sum.Sum(nil)) != want.SHA256 {
		return "is not as it was written"
	}
	return ""
}

// file reads one listed file whole and checks it again: a folder may change under our hands.
func (p *Parcel) file(name string) ([]byte, error) {
	want := p.Manifest.Files[name]
	f, err := p.files.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%w: %s is missing", ErrDamaged, name)
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, want.Bytes+1))
	if sum := sha256.Sum256(b); err != nil || hex.EncodeToString(sum[:]) != want.SHA256 {
		return nil, fmt.Errorf("%w: %s is not as it was written", ErrDamaged, name)
	}
	return b, nil
}

// Taken is what a lab made from a parcel holds.
type Taken struct {
	Dir    string `json:"dir"`
	Donor  string `json:"donor"`
	Run    string `json:"run"`
	Faces  int    `json:"faces"`
	Series int    `json:"series"`
	// Earlier counts earlier pictures of the faces.
	Earlier int `json:"earlier,omitempty"`
	// Notes say what could not be kept, one plain sentence each.
	Notes []string `json:"notes"`
	// Unknown are structures that labels name and this program's list lacks.
	Unknown []annotate.Term `json:"unknown"`
}

// TakeIn makes a new lab in dir, which must not be there yet, and takes the run into it under a donor code of this lab's choosing ("" takes the
// parcel's neutral one). Every file is checked first; when anything fails, no lab is left behind. The donor's agreement permits nothing until
// it is recorded here; its end is the parcel's. known may be nil. Errors: those of Open and Verify, os.ErrExist, those of atlas.
func TakeIn(ctx context.Context, p *Parcel, dir, donor string, known *annotate.Terms, done func(done, total int)) (t Taken, err error) {
	if done == nil {
		done = func(int, int) {}
	}
	if _, err := os.Lstat(dir); err == nil {
		return t, fmt.Errorf("exchange: %s: %w", filepath.Base(dir), os.ErrExist)
	}
	steps := len(p.Manifest.Files) + len(p.Manifest.Plates)
	if err := p.Verify(ctx, func(n, _ int) { done(n, steps) }); err != nil {
		return t, err
	}
	if donor == "" {
		donor = p.Manifest.Run.Donor
	}
	near, err := os.MkdirTemp(filepath.Dir(dir), ".taking-in-")
	if err != nil {
		return t, fmt.Errorf("exchange: %w", err)
	}
	defer os.RemoveAll(near)
	t = Taken{Dir: dir, Donor: donor, Run: p.Manifest.Run.ID, Notes: []string{}, Unknown: []annotate.Term{}}
	lab := filepath.Join(near, "lab")
	if err := p.fill(ctx, lab, &t, func(n int) { done(len(p.Manifest.Files)+n, steps) }); err != nil {
		return Taken{}, err
	}
	if err := os.Rename(lab, dir); err != nil {
		return Taken{}, fmt.Errorf("exchange: %w", err)
	}
	for _, x := range p.Manifest.Terms {
		if known == nil {
			t.Unknown = append(t.Unknown, x)
		} else if _, ok := known.ByID(x.ID); !ok {
			t.Unknown = append(t.Unknown, x)
		}
	}
	done(steps, steps)
	return t, nil
}

// fill makes the lab and closes it.
func (p *Parcel) fill(ctx context.Context, dir string, t *Taken, done func(int)) (err error) {
	lib, err := atlas.Create(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lib.Close()) }()
	ends, _ := time.Parse(day, p.Manifest.Expires) // checked; "" is none
	if err := lib.AddDonor(atlas.Donor{Code: t.Donor, Synthetic: p.Manifest.Synthetic, Agreement: atlas.Agreement{Ends: ends}}); err != nil {
		return err
	}
	run := p.Manifest.Run
	run.Donor = t.Donor
	if _, err := lib.SaveRun(run); err != nil {
		return err
	}
	if err := p.series(ctx, lib, t); err != nil {
		return err
	}
	t.Notes = append(t.Notes, p.Manifest.LeftOut...)
	here := map[string]string{} // earlier pictures, by name
	for _, x := range p.Manifest.Earlier {
		q, err := p.plate(ctx, lib, x, here)
		if err == nil {
			_, err = lib.Retire(q.ID)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", x.Name, err)
		}
		here[x.Name] = q.ID
		t.Earlier++
	}
	for i, x := range p.Manifest.Plates {
		done(i)
		if err := ctx.Err(); err != nil {
			return err
		}
		if _, err := p.plate(ctx, lib, x, here); err != nil {
			return fmt.Errorf("%s: %w", x.Name, err)
		}
		t.Faces++
	}
	return nil
}

func (p *Parcel) series(ctx context.Context, lib *atlas.Library, t *Taken) error {
	here := map[string]bool{}
	for _, s := range p.Manifest.Series {
		if s.File == "" {
			t.Notes = append(t.Notes, "The scan that faces are laid in is not part of this run; their places in it are kept.")
			continue
		}
		nii, err := p.file(s.File)
		if err != nil {
			return err
		}
		side, err := p.file(s.Side)
		if err != nil {
			return err
		}
		v, err := scan.ReadStored(bytes.NewReader(nii), bytes.NewReader(side))
		if err != nil {
			return fmt.Errorf("%w: %s: %w", ErrDamaged, s.File, err)
		}
		v.UID = s.UID
		if _, err := lib.KeepVolume(ctx, t.Donor, v); err != nil {
			return err
		}
		here[s.UID] = true
		t.Series++
	}
	for _, l := range p.Manifest.Levels {
		if !here[l.Series] {
			t.Notes = append(t.Notes, "The run's tie levels belong to a scan that is not part of it and were left out.")
			continue
		}
		if err := lib.SaveLevelTies(l); err != nil {
			return err
		}
	}
	return nil
}

// plate takes one picture in with all that is known of it; here are the earlier pictures taken in, by name.
func (p *Parcel) plate(ctx context.Context, lib *atlas.Library, x Plate, here map[string]string) (q atlas.Plate, err error) {
	b, err := p.file(x.Picture)
	if err != nil {
		return q, err
	}
	info, err := photo.Probe(bytes.NewReader(b))
	if err != nil {
		return q, fmt.Errorf("%w: %s: %w", ErrDamaged, x.Picture, err)
	}
	if info.Size.X != x.Size[0] || info.Size.Y != x.Size[1] || info.Orientation > 1 {
		return q, fmt.Errorf("%w: %s is not of the size that is written", ErrDamaged, x.Picture)
	}
	if err := x.Calibration.Check(info.Size); err != nil {
		return q, fmt.Errorf("%w: scale of %s: %w", ErrDamaged, x.Picture, err)
	}
	q, err = lib.AddPhoto(ctx, x.Face, "", path.Base(x.Picture), bytes.NewReader(b))
	if err != nil {
		return q, err
	}
	q.Calibration, q.PhotoUp, q.Mirrored, q.Border, q.Mask = x.Calibration, x.PhotoUp, x.Mirrored, x.Border, x.Mask
	if x.Composed != nil {
		if err := x.Composed.Check(); err != nil {
			return q, fmt.Errorf("%w: %s: %w", ErrDamaged, x.Picture, err)
		}
		m := *x.Composed
		m.Elsewhere, q.Composed = true, &m
	}
	q.Labels, q.Registration, q.Picks, q.Synthetic = x.Labels, x.Registration, x.Picks, x.Synthetic
	q.Again = x.Again
	if id := here[x.Before]; id != "" && len(x.Ties) > 0 {
		q.Earlier = &atlas.Earlier{Plate: id, Ties: x.Ties, Error: make([]*float64, len(x.Ties)), At: q.Saved}
	}
	return lib.Save(q)
}
