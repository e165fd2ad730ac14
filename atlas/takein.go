package atlas

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"

	"sectionary/atlas/store"
	"sectionary/slices/photo"
	"sectionary/slices/scan"
)

// ErrNotCleaned says that a volume was never cleaned of identity, so it cannot be kept as it is.
var ErrNotCleaned = errors.New("atlas: this scan series was not cleaned of identity; add it from its own files")

// KeepVolume keeps a cleaned volume of another lab under its own UID, its voxels unchanged. It fails with ErrNotCleaned, and
// with ErrExists when the lab has the UID already.
func (l *Library) KeepVolume(ctx context.Context, donor string, v *scan.Volume) (scan.Series, error) {
	if err := l.writable(); err != nil {
		return scan.Series{}, err
	}
	if _, err := l.Donor(donor); err != nil {
		return scan.Series{}, err
	}
	if v.Cleaned == "" || v.UID == "" {
		return scan.Series{}, ErrNotCleaned
	}
	if _, _, err := l.Series(v.UID); err == nil {
		return scan.Series{}, naming("series "+v.UID, ErrExists)
	}
	if err := ctx.Err(); err != nil {
		return scan.Series{}, err
	}
	sum := sha256.New()
	if err := v.WriteNIfTI(sum); err != nil {
		return scan.Series{}, fmt.Errorf("atlas: %w", err)
	}
	volume := photo.Hash(sum.Sum(nil)).String()
	row := store.Series{UID: v.UID, Donor: donor, File: "S" + volume[:16] + "-" + photo.Hash(sha256.Sum256([]byte(donor))).String()[:4], Volume: volume, Added: now()}
	return l.writeVolume(row, v)
}
