//go:build race

package bench

// raced is set under the race detector, which throws pooled memory away on purpose.
const raced = true
