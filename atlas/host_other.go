//go:build !linux

package atlas

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
)

// processStart cannot be told here; a reused process number then looks alive, and the lock waits for a person.
func processStart(int) string { return "" }

func sameMachine(string) bool { return true }

func alive(pid int, _ string) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	defer p.Release()
	if runtime.GOOS == "windows" {
		return true // finding it opened it
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || err == syscall.EPERM
}

// shareKind knows only shares that are named as such.
func shareKind(dir string) string {
	if strings.HasPrefix(filepath.VolumeName(dir), `\\`) {
		return "named by server"
	}
	return ""
}
