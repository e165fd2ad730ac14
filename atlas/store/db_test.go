package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func fresh(t testing.TB) *DB {
	t.Helper()
	d, err := Create(filepath.Join(t.TempDir(), "a b?#%Ā.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	if err := d.Claim("me", func() error { return nil }); err != nil {
		t.Fatal(err)
	}
	return d
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// Every connection of the pool must have the settings, not only the first.
func TestEveryConnectionIsSafe(t *testing.T) {
	d := fresh(t)
	for range 4 {
		c, err := d.sql.Conn(context.Background())
		must(t, err)
		defer c.Close() // held, so that the next is a new one
		for pragma, want := range map[string]string{"foreign_keys": "1", "journal_mode": "wal", "busy_timeout": "5000", "synchronous": "2"} {
			var got string
			must(t, c.QueryRowContext(context.Background(), "PRAGMA "+pragma).Scan(&got))
			if got != want {
				t.Errorf("%s is %s, want %s", pragma, got, want)
			}
		}
	}
}

// Measured with other settings: 350 of 400 of these fail.
func TestConcurrentWritersAllGetThrough(t *testing.T) {
	d := fresh(t)
	must(t, d.SetMeta("n", "0"))
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 50 {
				err := d.write(func(tx *sql.Tx) error {
					var n int
					if err := tx.QueryRow("SELECT value FROM meta WHERE key = 'n'").Scan(&n); err != nil {
						return err
					}
					_, err := tx.Exec("UPDATE meta SET value = ? WHERE key = 'n'", fmt.Sprint(n+1))
					return err
				})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if n, err := d.Meta("n"); err != nil || n != "400" {
		t.Errorf("%s of 400 writes, %v", n, err)
	}
}

// Row CU2: no delete. What only grows is kept so by the catalogue itself, whoever asks.
func TestCU2RecordsOnlyGrow(t *testing.T) {
	d := fresh(t)
	zero := strings.Repeat("0", 64)
	must(t, d.AddDonor(Donor{Code: "D-1"}, "AB", time.Now()))
	must(t, d.AddHandOuts([]HandOut{{ID: "A", At: time.Now(), Purpose: "teaching", Donor: "D-1"}}))
	must(t, d.AddShown([]Shown{{Out: "A", At: time.Now(), Kind: "face", Doc: []byte("{}")}}))
	must(t, d.AddLedger(nil, LedgerLine{1, []byte("{}"), zero}, LedgerLine{2, []byte("{}"), zero}))
	for _, change := range []string{
		"DELETE FROM hand_out", "UPDATE hand_out SET allowed = 1", "INSERT OR REPLACE INTO hand_out SELECT * FROM hand_out",
		"DELETE FROM shown", "UPDATE shown SET term = 'x'", "INSERT OR REPLACE INTO shown SELECT * FROM shown",
		"DELETE FROM agreement_change", "UPDATE agreement_change SET reference = 'x'", "INSERT OR REPLACE INTO agreement_change SELECT * FROM agreement_change",
		"DELETE FROM ledger", "UPDATE ledger SET text = '{\"a\":1}'", "INSERT OR REPLACE INTO ledger SELECT line, '{\"a\":1}', hash FROM ledger",
		"INSERT INTO ledger VALUES (4, '{}', '" + zero + "')", "INSERT INTO ledger VALUES (0, '{}', '" + zero + "')",
	} {
		if _, err := d.sql.Exec(change); err == nil || !strings.Contains(err.Error(), "grow") {
			t.Errorf("%s: %v", change, err)
		}
	}
	if err := d.AddLedger(nil, LedgerLine{2, []byte("{}"), zero}); !errors.Is(err, ErrLedgerMoved) {
		t.Errorf("a second line 2: %v", err)
	}
}

// The rules that the database itself keeps, whatever the program asks for.
func TestTheSchemaRefusesWhatCannotBe(t *testing.T) {
	d := fresh(t)
	must(t, d.AddDonor(Donor{Code: "D-1"}, "", time.Now()))
	must(t, d.AddDonor(Donor{Code: "D-2"}, "", time.Now()))
	must(t, d.SaveRun(Run{ID: "R", Donor: "D-1", Plane: "transverse", First: "superior",
		Slabs: []Slab{{Number: 1}, {Number: 2}}, Facings: [2]string{"superior", "inferior"}}))
	plate := func(id, donor, run, slab, facing string) string {
		return fmt.Sprintf(`INSERT INTO plate VALUES ('%s', '%s', %s, %s, %s, '%064s', 0, 0, 1, '', '{}', '{}', '')`, id, donor, run, slab, facing, id)
	}
	for i := range 9 {
		_, err := d.sql.Exec("INSERT INTO photo VALUES (?, '.jpg', 1, '')", fmt.Sprintf("%064d", i))
		must(t, err)
	}
	_, err := d.sql.Exec(plate("0", "D-1", "'R'", "1", "'superior'"))
	must(t, err)
	_, err = d.sql.Exec(plate("1", "D-1", "NULL", "NULL", "NULL"))
	must(t, err)
	for name, statement := range map[string]string{
		"a second current photograph": plate("2", "D-1", "'R'", "1", "'superior'"),
		"a face of another plane":     plate("3", "D-1", "'R'", "1", "'left'"),
		"a slab that is not there":    plate("4", "D-1", "'R'", "3", "'superior'"),
		"half a place":                plate("5", "D-1", "'R'", "NULL", "NULL"),
		"another donor's run":         plate("6", "D-2", "'R'", "2", "'superior'"),
		"a document that is no JSON":  strings.Replace(plate("7", "D-1", "NULL", "NULL", "NULL"), "'{}', '')", "'{', '')", 1),
		"a wrong pair of faces":       "INSERT INTO face VALUES ('R', 2, 'left', 'transverse')",
		"a face under another plane":  "INSERT INTO face VALUES ('R', 2, 'left', 'sagittal')",
		"a purpose that is not one":   "INSERT INTO permitted_use VALUES ('D-1', 'resale', 1)",
		"text for a number":           "INSERT INTO slab VALUES ('R', 3, 3, 'thick', 0, 0, 0)",
		"a donor that has a run":      "DELETE FROM donor WHERE code = 'D-1'",
		"a day that is not one":       "UPDATE agreement SET ends = 'May'",
	} {
		if _, err := d.sql.Exec(statement); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

func TestOnlyTheHolderWrites(t *testing.T) {
	d := fresh(t)
	other, err := Open(d.path)
	must(t, err)
	defer other.Close()
	if err := other.SetMeta("x", "1"); !errors.Is(err, ErrLost) {
		t.Errorf("unclaimed: %v", err)
	}
	no := errors.New("no")
	if err := other.Claim("other", func() error { return no }); !errors.Is(err, no) {
		t.Errorf("%v", err)
	}
	must(t, d.SetMeta("x", "1"))
	must(t, other.Claim("other", func() error { return nil }))
	if err := d.SetMeta("x", "2"); !errors.Is(err, ErrLost) {
		t.Errorf("after a takeover: %v", err)
	}
	must(t, other.SetMeta("x", "3"))
}

func TestFormats(t *testing.T) {
	d := fresh(t)
	if f, err := d.format(); err != nil || f != Format {
		t.Errorf("format %d, %v", f, err)
	}
	must(t, d.Upgrade(func(int) error { t.Error("nothing to keep"); return nil }))
	_, err := d.sql.Exec(fmt.Sprintf("PRAGMA user_version = %d", Format+1))
	must(t, err)
	d.Close()
	if _, err := Open(d.path); !errors.Is(err, ErrNewer) {
		t.Errorf("%v", err)
	}
	if _, err := OpenReadOnly(d.path); !errors.Is(err, ErrNewer) {
		t.Errorf("%v", err)
	}
	strange := filepath.Join(t.TempDir(), "strange.db")
	db, err := sql.Open("sqlite", dsn(strange, ""))
	must(t, err)
	_, err = db.Exec("CREATE TABLE plate (id)")
	must(t, err)
	db.Close()
	if _, err := Open(strange); !errors.Is(err, ErrNotOurs) {
		t.Errorf("another program's database: %v", err)
	}
}

// Read-only media: no file may be made beside the catalogue.
func TestReadingWhereNothingCanBeWritten(t *testing.T) {
	d := fresh(t)
	must(t, d.SetMeta("x", "1"))
	must(t, d.Close())
	dir := filepath.Dir(d.path)
	must(t, os.Chmod(dir, 0o555))
	defer os.Chmod(dir, 0o755)
	read := func(open func(string, string) (*DB, error), query string) {
		r, err := open(d.path, query)
		must(t, err)
		defer r.Close()
		if x, err := r.Meta("x"); err != nil || x != "1" {
			t.Errorf("%q, %v", x, err)
		}
	}
	read(func(p, _ string) (*DB, error) { return OpenReadOnly(p) }, "")
	read(openReading, "mode=ro&immutable=1") // what OpenReadOnly falls back to; an administrator can write anywhere
}

func TestBackupIsACatalogue(t *testing.T) {
	d := fresh(t)
	must(t, d.SetMeta("x", "1"))
	path := filepath.Join(t.TempDir(), "copy.db")
	must(t, d.Backup(context.Background(), path))
	c, err := Open(path)
	must(t, err)
	defer c.Close()
	if x, err := c.Meta("x"); err != nil || x != "1" {
		t.Errorf("%q, %v", x, err)
	}
	must(t, c.Check(context.Background(), func(f string) { t.Error(f) }))
}
