package atlas

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"
)

const (
	lockName = "lock"
	// touchEvery is how often a writer shows that it is alive.
	touchEvery = 30 * time.Second
	// staleAfter is when the lock of another machine no longer counts.
	staleAfter = 5 * time.Minute
)

// lockMark is what stands in the lock file.
type lockMark struct {
	Host    string    `json:"host"`
	Process int       `json:"process"`
	Started string    `json:"started"` // when the process began, in the machine's own words; tells a reused number apart
	Time    time.Time `json:"time"`
	Token   string    `json:"token"`
}

// lock is this process's lock file. It is only taken inside store.Claim, so two programs never judge at once.
type lock struct {
	path string
	mark lockMark
	stop func()
}

func newLock(dir string) *lock {
	host, _ := os.Hostname()
	return &lock{
		path: filepath.Join(dir, lockName),
		mark: lockMark{Host: host, Process: os.Getpid(), Started: processStart(os.Getpid()), Time: time.Now().UTC().Truncate(time.Second), Token: RandomCode(26)},
	}
}

// take writes the lock file unless a living writer's stands there.
func (k *lock) take() error {
	if err := k.free(time.Now()); err != nil {
		return err
	}
	text, err := json.MarshalIndent(k.mark, "", " ")
	if err != nil {
		return fmt.Errorf("atlas: %w", err)
	}
	return writeFile(k.path, append(text, '\n'))
}

// free fails with ErrLocked while the lock that stands there counts.
func (k *lock) free(now time.Time) error {
	other, touched, err := readLock(k.path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("atlas: %w", err)
	}
	if other.stands(k.mark.Host, touched, now) {
		return fmt.Errorf("%w: on %s by process %d since %s; close it there, or open it for reading only",
			ErrLocked, other.Host, other.Process, other.Time.Local().Format("2 January 15:04"))
	}
	return nil
}

// stands reports whether the writer of m must be thought alive.
func (m lockMark) stands(host string, touched, now time.Time) bool {
	if m.Host == host && sameMachine(m.Started) {
		return alive(m.Process, m.Started)
	}
	age := now.Sub(touched)
	return age < staleAfter && age > -staleAfter // a touch far in the future comes from a clock since set back
}

func readLock(path string) (m lockMark, touched time.Time, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return m, touched, err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return m, touched, err
	}
	// A lock that cannot be read tells nothing of its writer: it counts by its age, as another machine's.
	if json.Unmarshal(text, &m) != nil {
		m = lockMark{Host: "another machine"}
	}
	return m, info.ModTime(), nil
}

// keep touches the lock file until drop.
func (k *lock) keep() {
	done := make(chan struct{})
	var once sync.Once
	k.stop = func() { once.Do(func() { close(done) }) }
	go func() {
		tick := time.NewTicker(touchEvery)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case now := <-tick.C:
				if k.ours() {
					os.Chtimes(k.path, now, now) // a missed touch shows at the next; writes are fenced by the catalogue
				}
			}
		}
	}()
}

func (k *lock) ours() bool {
	m, _, err := readLock(k.path)
	return err == nil && m.Token == k.mark.Token
}

// drop takes the lock file away if it is still this process's.
func (k *lock) drop() error {
	if k.stop != nil {
		k.stop()
	}
	if !k.ours() {
		return nil
	}
	if err := os.Remove(k.path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("atlas: %w", err)
	}
	return nil
}
