package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
)

// LedgerLine is one line of the ledger of custody.
type LedgerLine struct {
	Line int
	Text []byte // JSON
	Hash string // lower-case hex
}

// ErrLedgerMoved says that the ledger has grown since it was read; read the new lines and try again.
var ErrLedgerMoved = errors.New("atlas: the ledger has grown since it was read")

// LedgerHead is what the catalogue notes beside the ledger: how many lines there are, and the last one's hash.
type LedgerHead struct {
	Line int    `json:"line"`
	Hash string `json:"hash"`
}

// AddLedger adds lines behind the last, whose number must be one less than the first's, and notes the new head and on
// which day donors went back ("" for not): all or none of it.
func (d *DB) AddLedger(returned map[string]string, lines ...LedgerLine) error {
	end := lines[len(lines)-1]
	head, err := json.Marshal(LedgerHead{end.Line, end.Hash})
	if err != nil {
		return err
	}
	return d.write(func(tx *sql.Tx) error {
		var last int
		if err := tx.QueryRow("SELECT coalesce(max(line), 0) FROM ledger").Scan(&last); err != nil {
			return err
		}
		if last != lines[0].Line-1 {
			return ErrLedgerMoved
		}
		for _, x := range lines {
			if _, err := tx.Exec("INSERT INTO ledger VALUES (?, ?, ?)", x.Line, string(x.Text), x.Hash); err != nil {
				return err
			}
		}
		for donor, day := range returned {
			if _, err := tx.Exec("UPDATE agreement SET returned = ? WHERE donor = ?", day, donor); err != nil {
				return err
			}
		}
		_, err := tx.Exec("INSERT OR REPLACE INTO meta VALUES ('ledger', ?)", string(head))
		return err
	})
}

// Ledger reads the lines after a number, and what is noted as the head. One statement reads both, so that a line
// entered meanwhile stands in both or in neither.
func (d *DB) Ledger(ctx context.Context, after int) (lines []LedgerLine, head LedgerHead, err error) {
	lines, err = list(d, ctx, `SELECT 0, value, '' FROM meta WHERE key = 'ledger'
		UNION ALL SELECT line, text, hash FROM ledger WHERE line > ? ORDER BY 1`, func(r *sql.Rows) (x LedgerLine, err error) {
		var text string
		err = r.Scan(&x.Line, &text, &x.Hash)
		x.Text = []byte(text)
		return x, err
	}, after)
	if err != nil || len(lines) == 0 || lines[0].Line != 0 {
		return lines, head, err
	}
	if err := json.Unmarshal(lines[0].Text, &head); err != nil {
		return nil, head, fmt.Errorf("store: head of the ledger: %w", err)
	}
	lines = lines[1:]
	return lines, head, err
}
