// Package store keeps the catalogue of a library in one SQLite file. It alone writes SQL and knows rows; what
// they mean is package atlas's business. The schema is described in atlas/FORMAT.md.
package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// The words are those of package atlas, which hands these on as its own.
var (
	// ErrNotFound says that there is no such row.
	ErrNotFound = errors.New("atlas: not found")
	// ErrChanged says that the row on disk has another revision than the one that was to be replaced.
	ErrChanged = errors.New("atlas: the face was changed elsewhere since it was opened")
	// ErrFaceTaken says that a face already has a current photograph.
	ErrFaceTaken = errors.New("atlas: this face already has a current photograph")
	// ErrExists says that a row with this name is already there.
	ErrExists = errors.New("atlas: already there")
	// ErrInUse says that a row cannot go or change because others refer to it, or names one that is not there.
	ErrInUse = errors.New("atlas: refers to something that is not there, or is still referred to")
	// ErrLost says that another program has taken the library over since it was opened here.
	ErrLost = errors.New("atlas: the lab was taken over by another program")
	// ErrSameAgreement says that an agreement was to last longer without a new reference.
	ErrSameAgreement = errors.New("atlas: an agreement lasts longer only under a new reference")
	// ErrFull says that the disk is full; nothing was changed.
	ErrFull = errors.New("atlas: the disk is full; nothing was changed")
	// ErrDisk says that the disk failed or cannot be written; nothing was changed.
	ErrDisk = errors.New("atlas: the disk could not be written; nothing was changed")
	// ErrNewer says that a later version of the program made this catalogue.
	ErrNewer = errors.New("atlas: this lab was made by a newer version of the program")
	// ErrNotOurs says that the file is no catalogue of ours, or is damaged beyond opening.
	ErrNotOurs = errors.New("atlas: this is not the catalogue of a lab, or it is damaged")
)

// applicationID marks the SQLite file as ours: "SECT".
const applicationID = 0x53454354

// Format is the number of the newest schema.
const Format = 6

//go:embed *.sql
var migrations embed.FS

// DB is an open catalogue. Its methods may be used from any goroutine.
type DB struct {
	sql    *sql.DB
	path   string
	holder string // what meta.holder must say for a write to go through; "" when opened for reading
}

// dsn names the file with the settings without which concurrent writers fail: measured, 350 of 400 of them.
func dsn(path string, query string) string {
	if filepath.VolumeName(path) != "" {
		path = "/" + filepath.ToSlash(path)
	}
	u := url.URL{Scheme: "file", Path: path, RawQuery: query}
	return u.String()
}

const writing = "_pragma=busy_timeout(5000)&_pragma=journal_mode(WAL)&_pragma=foreign_keys(1)&_txlock=immediate"

func connect(path, query string) (*DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	db, err := sql.Open("sqlite", dsn(abs, query))
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	return &DB{sql: db, path: abs}, nil
}

// Create makes a new catalogue at path, which must not exist.
func Create(path string) (*DB, error) {
	if _, err := os.Lstat(path); err == nil {
		return nil, fmt.Errorf("%w: %s", ErrExists, filepath.Base(path))
	}
	d, err := connect(path, writing)
	if err != nil {
		return nil, err
	}
	if err := d.migrate(0); err != nil {
		return nil, errors.Join(err, d.sql.Close())
	}
	return d, nil
}

// Open opens the catalogue at path for writing. Nothing can be written before Claim, and an older format must
// be brought up to date by Upgrade.
func Open(path string) (*DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("%w: %s", ErrNotFound, filepath.Base(path))
	}
	d, err := connect(path, writing)
	if err != nil {
		return nil, err
	}
	if _, err := d.format(); err != nil {
		return nil, errors.Join(err, d.sql.Close())
	}
	return d, nil
}

// Upgrade brings a catalogue of an older format up to date, after keep has put away a copy of it.
func (d *DB) Upgrade(keep func(format int) error) error {
	format, err := d.format()
	if err != nil || format == Format {
		return err
	}
	if err := keep(format); err != nil {
		return err
	}
	return d.migrate(format)
}

// OpenReadOnly opens the catalogue at path for reading, on read-only media too.
func OpenReadOnly(path string) (*DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("%w: %s", ErrNotFound, filepath.Base(path))
	}
	const plain = "mode=ro&_pragma=busy_timeout(5000)"
	d, err := openReading(path, plain)
	if err == nil || errors.Is(err, ErrNewer) {
		return d, err
	}
	// Where no shared-memory file can be made beside it, the catalogue can still be read if nothing waits in
	// a write-ahead file, and nobody can change it while it is open.
	if info, missing := os.Stat(path + "-wal"); missing != nil || info.Size() == 0 {
		return openReading(path, plain+"&immutable=1")
	}
	return nil, err
}

func openReading(path, query string) (*DB, error) {
	d, err := connect(path, query)
	if err != nil {
		return nil, err
	}
	format, err := d.format()
	if err == nil && format != Format {
		err = fmt.Errorf("store: the catalogue is of format %d; open it once for writing to bring it to format %d", format, Format)
	}
	if err == nil {
		_, err = d.Meta("format") // a first real read, which needs the shared-memory file
	}
	if err != nil {
		return nil, errors.Join(err, d.sql.Close())
	}
	return d, nil
}

// format reads the number of the schema and checks that the file is ours.
func (d *DB) format() (int, error) {
	var app, version int
	err := d.sql.QueryRow("PRAGMA application_id").Scan(&app)
	if err == nil {
		err = d.sql.QueryRow("PRAGMA user_version").Scan(&version)
	}
	switch {
	case err != nil:
		return 0, explain(err)
	case app != applicationID:
		return 0, ErrNotOurs
	case version > Format:
		return 0, fmt.Errorf("%w: format %d, this program knows %d", ErrNewer, version, Format)
	}
	return version, nil
}

// migrate brings the catalogue from format from to Format, each step in one transaction with its number.
func (d *DB) migrate(from int) error {
	for n := from + 1; n <= Format; n++ {
		script, err := migrations.ReadFile(fmt.Sprintf("%03d.sql", n))
		if err != nil {
			return fmt.Errorf("store: format %d: %w", n, err)
		}
		err = d.transaction(func(tx *sql.Tx) error {
			for _, statement := range []string{
				string(script),
				fmt.Sprintf("PRAGMA application_id = %d", applicationID),
				fmt.Sprintf("PRAGMA user_version = %d", n),
				fmt.Sprintf("INSERT OR REPLACE INTO meta VALUES ('format', '%d')", n),
			} {
				if _, err := tx.Exec(statement); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return fmt.Errorf("store: bringing the catalogue to format %d: %w", n, err)
		}
	}
	return nil
}

// Close folds the write-ahead file into the catalogue and lets go of it.
func (d *DB) Close() error {
	var err error
	if d.holder != "" {
		_, err = d.sql.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	}
	return errors.Join(explain(err), d.sql.Close())
}

// Claim makes holder the only one whose writes go through, once decide, called while no other program can
// write, has agreed. Writes of an earlier holder then fail with ErrLost.
func (d *DB) Claim(holder string, decide func() error) error {
	err := d.transaction(func(tx *sql.Tx) error {
		if err := decide(); err != nil {
			return err
		}
		_, err := tx.Exec("INSERT OR REPLACE INTO meta VALUES ('holder', ?)", holder)
		return err
	})
	if err == nil {
		d.holder = holder
	}
	return err
}

// transaction runs f in one immediate transaction.
func (d *DB) transaction(f func(*sql.Tx) error) error {
	tx, err := d.sql.Begin()
	if err != nil {
		return explain(err)
	}
	defer tx.Rollback() // nothing once committed
	if err := f(tx); err != nil {
		return explain(err)
	}
	return explain(tx.Commit())
}

// write is transaction for the holder alone.
func (d *DB) write(f func(*sql.Tx) error) error {
	return d.transaction(func(tx *sql.Tx) error {
		var holder string
		err := tx.QueryRow("SELECT value FROM meta WHERE key = 'holder'").Scan(&holder)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if d.holder == "" || holder != d.holder {
			return ErrLost
		}
		return f(tx)
	})
}

// explain turns what SQLite says into the package's own errors.
func explain(err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, sql.ErrNoRows) {
		return ErrNotFound
	}
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return DiskError(err)
	}
	switch e.Code() {
	case sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY:
		if strings.Contains(e.Error(), "plate.run") {
			return ErrFaceTaken
		}
		return fmt.Errorf("%w (%v)", ErrExists, err)
	case sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
		return ErrInUse
	}
	switch e.Code() & 0xff { // what kind of failure, without what it happened at
	case sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("%w (%v)", ErrNotOurs, err)
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%w (%w)", ErrFull, err)
	case sqlite3.SQLITE_IOERR, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN:
		return fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	return fmt.Errorf("store: %w", err)
}

// DiskError adds ErrFull or ErrDisk to what the system says of a disk; other errors come back as they are.
func DiskError(err error) error {
	is := func(kinds ...error) bool {
		return slices.ContainsFunc(kinds, func(kind error) bool { return errors.Is(err, kind) })
	}
	switch {
	case is(ErrFull, ErrDisk):
		return err
	case is(syscall.ENOSPC, syscall.EFBIG):
		return fmt.Errorf("%w: %w", ErrFull, err)
	case is(syscall.EIO, syscall.EROFS, io.ErrShortWrite):
		return fmt.Errorf("%w: %w", ErrDisk, err)
	}
	return err
}

// Meta returns what is noted under key, or ErrNotFound.
func (d *DB) Meta(key string) (value string, err error) {
	err = d.sql.QueryRow("SELECT value FROM meta WHERE key = ?", key).Scan(&value)
	return value, explain(err)
}

// SetMeta notes value under key.
func (d *DB) SetMeta(key, value string) error {
	return d.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("INSERT OR REPLACE INTO meta VALUES (?, ?)", key, value)
		return err
	})
}

// Backup writes a whole, checked copy of the catalogue to path, which must not exist. It appears there
// complete or not at all.
func (d *DB) Backup(ctx context.Context, path string) error {
	part := path + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("store: %w", err)
	}
	if _, err := d.sql.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return errors.Join(explain(err), os.Remove(part))
	}
	if err := syncFile(part); err != nil {
		return errors.Join(DiskError(err), os.Remove(part))
	}
	if err := os.Rename(part, path); err != nil {
		return DiskError(fmt.Errorf("store: %w", err))
	}
	return nil
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// Sound checks a catalogue of any format that no program has open, such as a copy; it writes nothing beside it.
func Sound(ctx context.Context, path string) error {
	d, err := connect(path, "mode=ro&immutable=1")
	if err != nil {
		return err
	}
	_, err = d.format()
	if err == nil {
		var faults error
		err = d.Check(ctx, func(fault string) { faults = errors.Join(faults, fmt.Errorf("%w: %s", ErrNotOurs, fault)) })
		err = errors.Join(err, faults)
	}
	return errors.Join(err, d.sql.Close())
}

// Check asks SQLite for every fault it can find in the file, its indexes and its references.
func (d *DB) Check(ctx context.Context, report func(fault string)) error {
	faults, err := list(d, ctx, "PRAGMA integrity_check", func(r *sql.Rows) (s string, err error) {
		err = r.Scan(&s)
		return s, err
	})
	if err != nil {
		return err
	}
	for _, f := range faults {
		if f != "ok" {
			report(f)
		}
	}
	loose, err := list(d, ctx, "SELECT \"table\", \"parent\" FROM pragma_foreign_key_check", func(r *sql.Rows) (s string, err error) {
		var table, parent string
		err = r.Scan(&table, &parent)
		return fmt.Sprintf("a row of %s names a missing row of %s", table, parent), err
	})
	for _, f := range loose {
		report(f)
	}
	return err
}

// list reads every row of a query with scan.
func list[T any](d *DB, ctx context.Context, query string, scan func(*sql.Rows) (T, error), args ...any) ([]T, error) {
	rows, err := d.sql.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, explain(err)
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		x, err := scan(rows)
		if err != nil {
			return nil, explain(err)
		}
		out = append(out, x)
	}
	return out, explain(rows.Err())
}

const stamp = "2006-01-02T15:04:05.000Z"

func timeText(t time.Time) string { return t.UTC().Format(stamp) }

func textTime(s string) (time.Time, error) { return time.Parse(stamp, s) }
