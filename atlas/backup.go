package atlas

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

const (
	backupStamp  = "20060102-150405.000"
	backupPrefix = "catalogue-"
	backupEvery  = 24 * time.Hour
	keepNewest   = 10
	keepMonths   = 12
)

// Backup writes a copy of the catalogue under backups/ and returns its path. The ten newest copies are kept,
// and the newest of each of the last twelve months.
func (l *Library) Backup(ctx context.Context) (string, error) {
	if err := l.writable(); err != nil {
		return "", err
	}
	return l.backup(ctx, time.Now())
}

func (l *Library) backup(ctx context.Context, now time.Time) (string, error) {
	dir := filepath.Join(l.dir, backupsName)
	name := func(t time.Time) string { return filepath.Join(dir, backupPrefix+t.Format(backupStamp)+".db") }
	now = now.UTC()
	for _, err := os.Lstat(name(now)); err == nil; _, err = os.Lstat(name(now)) {
		now = now.Add(time.Millisecond)
	}
	path := name(now)
	if err := l.db.Backup(ctx, path); err != nil {
		return "", fmt.Errorf("atlas: backup: %w", err)
	}
	if err := syncDir(dir); err != nil {
		return "", err
	}
	times, err := l.backups()
	if err != nil {
		return "", err
	}
	for _, t := range rotate(times) {
		if err := os.Remove(name(t)); err != nil && !errors.Is(err, os.ErrNotExist) {
			return "", fmt.Errorf("atlas: %w", err)
		}
	}
	return path, nil
}

// backups lists when copies were made, the newest first.
func (l *Library) backups() ([]time.Time, error) {
	there, err := os.ReadDir(filepath.Join(l.dir, backupsName))
	if err != nil {
		return nil, fmt.Errorf("atlas: %w", err)
	}
	var times []time.Time
	for _, e := range there {
		name, ok := strings.CutPrefix(strings.TrimSuffix(e.Name(), ".db"), backupPrefix)
		if t, err := time.Parse(backupStamp, name); ok && err == nil {
			times = append(times, t)
		}
	}
	sort.Slice(times, func(i, j int) bool { return times[i].After(times[j]) })
	return times, nil
}

// rotate picks the copies that may go; times are newest first.
func rotate(times []time.Time) (gone []time.Time) {
	months := map[string]bool{}
	for i, t := range times {
		month := t.Format("200601")
		first := !months[month]
		months[month] = true
		if i >= keepNewest && (!first || len(months) > keepMonths) {
			gone = append(gone, t)
		}
	}
	return gone
}

func (l *Library) backupWhenDue(now time.Time) error {
	times, err := l.backups()
	if err != nil {
		return err
	}
	if len(times) > 0 && now.Sub(times[0]) < backupEvery && now.After(times[0].Add(-time.Hour)) {
		return nil
	}
	_, err = l.backup(context.Background(), now)
	return err
}
