package ui

import (
	"fmt"
	"os/exec"
	"runtime"
)

// openPath asks the desktop to show a folder or a file.
func openPath(path string) error {
	name := "xdg-open"
	switch runtime.GOOS {
	case "windows":
		name = "explorer"
	case "darwin":
		name = "open"
	}
	cmd := exec.Command(name, path)
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("ui: cannot show %s, open it by hand: %w", path, err)
	}
	go func() { _ = cmd.Wait() }()
	return nil
}
