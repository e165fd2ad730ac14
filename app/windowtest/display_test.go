package windowtest

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// display is an X display of our own with a window manager: without one no window has the keyboard.
type display struct {
	t    *testing.T
	name string
	env  []string
}

// needs skips the test where a program is missing.
func needs(t *testing.T, programs ...string) {
	t.Helper()
	for _, p := range programs {
		if _, err := exec.LookPath(p); err != nil {
			t.Skipf("the window cannot be driven here: %s is missing (make test installs it)", p)
		}
	}
}

func openDisplay(t *testing.T, width, height int) *display {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	x := exec.Command("Xvfb", "-displayfd", "3", "-screen", "0", fmt.Sprintf("%dx%dx24", width, height), "-nolisten", "tcp")
	x.ExtraFiles = []*os.File{w}
	if err := x.Start(); err != nil {
		t.Skipf("no display can be made here: %v", err)
	}
	w.Close()
	t.Cleanup(func() { _ = x.Process.Kill(); _ = x.Wait() })
	line, err := bufio.NewReader(r).ReadString('\n')
	if err != nil {
		t.Skipf("no display can be made here: %v", err)
	}
	d := &display{t: t, name: ":" + strings.TrimSpace(line)}
	d.env = append(os.Environ(), "DISPLAY="+d.name, "LANG=en_US.UTF-8", "XDG_RUNTIME_DIR="+t.TempDir(), "HOME="+t.TempDir())
	wm := exec.Command("openbox", "--sm-disable")
	wm.Env = d.env
	if err := wm.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = wm.Process.Kill(); _ = wm.Wait() })
	d.until("a window manager", 20*time.Second, func() bool {
		return d.run("xdotool", "get_num_desktops") != ""
	})
	return d
}

// run runs a program on the display and returns what it prints, "" when it fails.
func (d *display) run(program string, args ...string) string {
	c := exec.Command(program, args...)
	c.Env = d.env
	out, err := c.Output()
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(out))
}

// until waits for ok.
func (d *display) until(what string, most time.Duration, ok func() bool) {
	d.t.Helper()
	for end := time.Now().Add(most); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if ok() {
			return
		}
	}
	d.t.Fatalf("waited %v in vain for %s", most, what)
}

// program is the real window under test.
type program struct {
	*display
	cmd          *exec.Cmd
	log          *bytes.Buffer
	status       string
	window       string
	wide, high   int // of the window
	ended        chan error
	shots        string
	shotsCounted int
}

// state is what the program says of itself, see the status file of package ui.
type state struct {
	Screen, Lab, Run, Face, Tool, Chosen, Undo, Redo, Saved, Message, Band, Refusal, Dir, Focus, Edges string
	Item, Said, Form                                                                                   string
	Due                                                                                                int
	Asked                                                                                              string
	Labels, Files                                                                                      []string
	Unsafe, Sheet, Blanked, Photo, Scale                                                               bool
	Jobs, Ties, Levels, Series, Stations                                                               int
	Targets                                                                                            map[string][4]int
}

// launch builds the window and opens it on a display of its own, 1280 x 800 with words of this size in percent. It
// returns the window at its start page, and a folder for the test's own files. Without the tag migrated_fynedo the
// toolkit logs every call off its own thread, and quit finds it there.
func launch(t *testing.T, tags string, text int) (p *program, dir string) {
	t.Helper()
	if testing.Short() {
		t.Skip("the window test takes minutes")
	}
	needs(t, "Xvfb", "openbox", "xdotool")
	dir = t.TempDir()
	desk := build(t, filepath.Join(dir, "sectionary-desk"), "./app", tags)
	p = openDisplay(t, 1400, 900).start(desk, filepath.Join(dir, "data"), 1280, 800, text)
	p.wait("the start page", func(s state) bool { return s.Screen == "start" && len(s.Targets) > 4 })
	return p, dir
}

// practice makes the practice lab from the start page and returns its run as it opens.
func (p *program) practice() state {
	p.t.Helper()
	p.tap("start:practice")
	return p.waitLong("the practice run", 6*time.Minute, func(s state) bool { return s.Screen == "run" && s.Run != "" && s.Jobs == 0 })
}

// author stands on the labels made by a test.
const author = "window test"

// start starts the program with these arguments in a window of this size.
func (d *display) start(binary, data string, width, height, text int, args ...string) *program {
	d.t.Helper()
	p := &program{display: d, log: &bytes.Buffer{}, status: filepath.Join(d.t.TempDir(), "status.jsonl"), ended: make(chan error, 1), shots: os.Getenv("SECTIONARY_SHOTS")}
	p.cmd = exec.Command(binary, args...)
	p.cmd.Env = append(d.env, "SECTIONARY_STATUS="+p.status, "SECTIONARY_DATA="+data, "SECTIONARY_AUTHOR="+author, "SECTIONARY_TEXT="+strconv.Itoa(text))
	p.cmd.Stdout, p.cmd.Stderr = p.log, p.log
	if err := p.cmd.Start(); err != nil {
		d.t.Fatal(err)
	}
	go func() { p.ended <- p.cmd.Wait() }()
	d.t.Cleanup(func() { _ = p.cmd.Process.Kill() })
	p.until("the window", 60*time.Second, func() bool {
		p.window, _, _ = strings.Cut(p.run("xdotool", "search", "--onlyvisible", "--pid", strconv.Itoa(p.cmd.Process.Pid), "--name", "Sectionary"), "\n")
		return p.window != ""
	})
	p.run("xdotool", "windowactivate", "--sync", p.window)
	p.run("xdotool", "windowmove", p.window, "0", "0")
	p.run("xdotool", "windowsize", p.window, strconv.Itoa(width), strconv.Itoa(height))
	p.until("the window's size", 20*time.Second, func() bool {
		p.place()
		return p.wide == width && p.high == height
	})
	return p
}

func (p *program) place() {
	for _, line := range strings.Split(p.run("xdotool", "getwindowgeometry", "--shell", p.window), "\n") {
		k, v, _ := strings.Cut(line, "=")
		n, _ := strconv.Atoi(v)
		switch k {
		case "WIDTH":
			p.wide = n
		case "HEIGHT":
			p.high = n
		}
	}
}

// now is the last state written, the zero state before the first.
func (p *program) now() (s state) {
	f, err := os.Open(p.status)
	if err != nil {
		return
	}
	defer f.Close()
	b, err := io.ReadAll(f)
	if err != nil {
		return
	}
	lines := strings.Split(strings.TrimSpace(string(b)), "\n")
	if err := json.Unmarshal([]byte(lines[len(lines)-1]), &s); err != nil && len(lines) > 1 {
		_ = json.Unmarshal([]byte(lines[len(lines)-2]), &s)
	}
	return
}

// wait waits until the state is as wanted and returns it.
func (p *program) wait(what string, ok func(s state) bool) state {
	p.t.Helper()
	return p.waitLong(what, 45*time.Second, ok)
}

func (p *program) waitLong(what string, most time.Duration, ok func(s state) bool) (s state) {
	p.t.Helper()
	for end := time.Now().Add(most); time.Now().Before(end); time.Sleep(60 * time.Millisecond) {
		select {
		case err := <-p.ended:
			p.t.Fatalf("the program ended while waiting for %s: %v\n%s", what, err, p.log)
		default:
		}
		if s = p.now(); ok(s) {
			return s
		}
	}
	s.Targets = nil
	p.shot("failed")
	p.t.Fatalf("waited %v in vain for %s; the program says %+v\n%s", most, what, s, p.log)
	return
}

// atRest is how long a thing stands still before it is clicked. The program tells a new place only after the thing is there,
// within 60 ms and later on a laden machine, and the foot of the window makes room for a job of which nothing was known when
// the screen was first laid out.
const atRest = 300 * time.Millisecond

// aim moves the pointer into the named thing, at shares of its width and height, and follows it until it stands still under
// the pointer. It returns the thing's place in the window.
func (p *program) aim(name string, fx, fy float64) (x, y, w, h int) {
	p.t.Helper()
	at, since := [4]int{}, time.Now()
	p.wait(name+" at rest", func(s state) bool {
		now, there := s.Targets[name]
		if there && now == at {
			return time.Since(since) >= atRest
		}
		if at = now; there {
			p.move(at[0]+int(fx*float64(at[2])), at[1]+int(fy*float64(at[3])))
		}
		since = time.Now()
		return false
	})
	return at[0], at[1], at[2], at[3]
}

// tap clicks in the middle of the named thing.
func (p *program) tap(name string) {
	p.t.Helper()
	p.tapAt(name, 0.5, 0.5)
}

// tapAt clicks in the named thing, at shares of its width and height.
func (p *program) tapAt(name string, fx, fy float64) {
	p.t.Helper()
	p.aim(name, fx, fy)
	p.run("xdotool", "click", "1")
	time.Sleep(60 * time.Millisecond)
}

// move moves the pointer there in two steps: the first motion after a pause can be lost.
func (p *program) move(x, y int) {
	p.run("xdotool", "mousemove", "--window", p.window, strconv.Itoa(x-3), strconv.Itoa(y-2))
	time.Sleep(40 * time.Millisecond)
	p.run("xdotool", "mousemove", "--window", p.window, strconv.Itoa(x), strconv.Itoa(y))
	time.Sleep(60 * time.Millisecond)
}

// drag moves the pointer with the button held between two places of the named thing.
func (p *program) drag(name string, x0, y0, x1, y1 float64) {
	p.t.Helper()
	x, y, w, h := p.aim(name, x0, y0)
	at := func(fx, fy float64) (int, int) { return x + int(fx*float64(w)), y + int(fy*float64(h)) }
	p.run("xdotool", "mousedown", "1")
	for i := 1; i <= 8; i++ {
		f := float64(i) / 8
		ax, ay := at(x0+(x1-x0)*f, y0+(y1-y0)*f)
		p.run("xdotool", "mousemove", "--window", p.window, strconv.Itoa(ax), strconv.Itoa(ay))
		time.Sleep(25 * time.Millisecond)
	}
	p.run("xdotool", "mouseup", "1")
	time.Sleep(60 * time.Millisecond)
}

func (p *program) key(names ...string) {
	for _, n := range names {
		p.run("xdotool", "key", n)
		time.Sleep(60 * time.Millisecond)
	}
}

// reach brings something below the fold of a panel onto the screen: Tab walks to it.
func (p *program) reach(name string) {
	p.t.Helper()
	p.wait(name, func(s state) bool { _, ok := s.Targets[name]; return ok })
	for range 150 {
		if p.now().Focus == name {
			return
		}
		p.run("xdotool", "key", "Tab")
		time.Sleep(110 * time.Millisecond)
	}
	p.t.Fatalf("Tab never reaches %s; the keyboard is at %q", name, p.now().Focus)
}

func (p *program) typed(text string) {
	p.run("xdotool", "type", "--delay", "40", text)
}

// shot keeps a picture of the screen where SECTIONARY_SHOTS says.
func (p *program) shot(name string) {
	if p.shots == "" {
		return
	}
	p.shotsCounted++
	p.run("import", "-window", p.window, filepath.Join(p.shots, fmt.Sprintf("window-%02d-%s.png", p.shotsCounted, name)))
}

// quit closes the window as a person does, waits for the program to end, and reads what the toolkit logged.
func (p *program) quit() {
	p.t.Helper()
	p.key("alt+F4")
	select {
	case err := <-p.ended:
		if err != nil {
			p.t.Errorf("the program ended with %v\n%s", err, p.log)
		}
		p.ended <- err
	case <-time.After(30 * time.Second):
		p.shot("failed")
		p.t.Fatalf("the window does not close\n%s", p.log)
	}
	if strings.Contains(p.log.String(), "Error in Fyne call thread") {
		p.t.Errorf("the toolkit was called off its own thread:\n%s", p.log)
	}
}

// inside checks that everything named on the screen stands between the window's sides.
func (p *program) inside() {
	p.t.Helper()
	for name, t := range p.now().Targets {
		if t[0] < 0 || t[0]+t[2] > p.wide+1 {
			p.t.Errorf("%s stands from %d to %d in a window %d wide", name, t[0], t[0]+t[2], p.wide)
		}
	}
}
