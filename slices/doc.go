// Package slices is a signpost and holds no code. Below it lie the spaces and maps of the job (geom), how bodies are
// cut and faces are seen (section), photographs (photo), drawing into pictures (ink), CT and MR series (scan), and
// where a photographed face lies in a scan (register). Read them in that order.
package slices
