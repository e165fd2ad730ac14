// Package windowtest starts the real program under a display of its own and drives it by mouse and keyboard. It
// waits for states the program writes down instead of sleeping, and finds things by name. It holds tests only.
package windowtest
