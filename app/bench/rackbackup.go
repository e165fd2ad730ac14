package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sectionary/atlas"
)

// copyNote is where the whole lab was last copied to, and when; it is kept beside the list of labs opened before.
type copyNote struct {
	dir string
	at  time.Time
}

func (b *Bench) copiesPath() string { return filepath.Join(b.o.DataDir, "copies.tsv") }

// copies reads the notes, by lab folder.
func (b *Bench) copies() map[string]copyNote {
	out := map[string]copyNote{}
	if b.o.DataDir == "" {
		return out
	}
	notes, err := os.ReadFile(b.copiesPath())
	if err != nil {
		return out
	}
	for line := range strings.Lines(string(notes)) {
		cells := strings.Split(strings.TrimRight(line, "\r\n"), "\t")
		if len(cells) != 3 {
			continue
		}
		if at, err := time.Parse(time.RFC3339, cells[2]); err == nil {
			out[cells[0]] = copyNote{cells[1], at}
		}
	}
	return out
}

func (b *Bench) lastCopy() copyNote {
	if b.lab.lib == nil {
		return copyNote{}
	}
	return b.copies()[b.lab.lib.Dir()]
}

// noteCopy keeps where a copy was made. A note that cannot be written is no reason to stop anyone.
func (b *Bench) noteCopy(dir string) {
	if b.o.DataDir == "" {
		return
	}
	all := b.copies()
	all[b.lab.lib.Dir()] = copyNote{dir, b.o.Now()}
	var out strings.Builder
	for lab, n := range all {
		fmt.Fprintf(&out, "%s\t%s\t%s\n", lab, n.dir, n.at.Format(time.RFC3339))
	}
	if os.MkdirAll(b.o.DataDir, 0o755) == nil && os.WriteFile(b.copiesPath()+".part", []byte(out.String()), 0o644) == nil {
		_ = os.Rename(b.copiesPath()+".part", b.copiesPath())
	}
}

const stampWords = "2 January 2006, 15:04"

// backupWords says when and where the last copies were made.
func (b *Bench) backupWords() string {
	if b.keeper() == nil {
		return ""
	}
	whole := Word("backup.whole.none")
	if c := b.lastCopy(); c.dir != "" {
		whole = Word("backup.whole", c.at.Format(stampWords), c.dir)
	}
	copies, err := atlas.BackupCopies(b.lab.lib.Dir())
	if err != nil || len(copies) == 0 || copies[0].Time.IsZero() {
		return whole + " " + Word("backup.none")
	}
	return whole + " " + count("backup.last", len(copies), copies[0].Time.Local().Format(stampWords), filepath.Dir(copies[0].Path))
}

// doBackup copies the catalogue beside the others.
func doBackup(b *Bench, _ *RackForm) error {
	lib := b.keeper()
	if lib == nil {
		return ErrNoLab
	}
	b.start(Word("job.backup"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		path, err := lib.Backup(ctx)
		return func() {
			if err == nil {
				b.tell(Word("backup.done", path), false)
				b.changed(RackChanged)
			}
		}, err
	})
	return nil
}

// doCopy copies the whole lab into a folder, or brings an earlier copy up to date.
func doCopy(b *Bench, f *RackForm) error {
	lib, dir := b.keeper(), f.value("folder")
	switch {
	case lib == nil:
		return ErrNoLab
	case dir == "":
		return badField("folder")
	}
	b.start(Word("job.copy"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var bad []string
		err := lib.CopyTo(ctx, dir, func(err error) { bad = append(bad, plainSentence(err)) }, tell)
		return func() {
			if err != nil {
				return
			}
			b.noteCopy(dir)
			b.tell(Word("backup.copied", dir), len(bad) > 0)
			if len(bad) > 0 {
				b.rack.said, b.rack.faults, b.rack.looked = count("backup.left", len(bad), dir), bad, true
			}
			b.changed(RackChanged)
		}, err
	})
	return nil
}

// doVerify looks at every byte of the lab and names what is damaged.
func doVerify(b *Bench, _ *RackForm) error {
	lib := b.keeper()
	if lib == nil {
		return ErrNoLab
	}
	b.start(Word("job.verify"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var bad []string
		err := lib.Verify(ctx, func(err error) { bad = append(bad, plainSentence(err)) })
		return func() {
			if err == nil {
				b.rack.faults, b.rack.looked = bad, true
				b.changed(RackChanged)
			}
		}, err
	})
	return nil
}

func copyLabel(c atlas.BackupCopy) string {
	if c.Time.IsZero() {
		return filepath.Base(c.Path)
	}
	return c.Time.Local().Format("2 January 2006, 15:04:05")
}

func restoreFields(b *Bench) []RackField {
	f := RackField{ID: "copyof", Caption: Word("field.copyof")}
	copies, err := atlas.BackupCopies(b.lab.lib.Dir())
	if err == nil {
		for _, c := range copies {
			f.Options = append(f.Options, copyLabel(c))
		}
	}
	return []RackField{f}
}

// doRestore puts an earlier catalogue in the place of the present one, which is kept, and opens the lab again.
func doRestore(b *Bench, f *RackForm) error {
	if err := b.writable(); err != nil {
		return err
	}
	dir := b.lab.lib.Dir()
	copies, err := atlas.BackupCopies(dir)
	if err != nil {
		return err
	}
	for _, c := range copies {
		if copyLabel(c) != f.value("copyof") {
			continue
		}
		if err := b.CloseLab(); err != nil {
			return err
		}
		wrong := atlas.RestoreCatalogue(dir, c)
		if err := b.OpenLab(dir); err != nil {
			return err
		}
		if wrong != nil {
			return wrong
		}
		b.enter(RackScreen)
		b.tell(Word("backup.restored", copyLabel(c)), false)
		return nil
	}
	return badField("copyof")
}
