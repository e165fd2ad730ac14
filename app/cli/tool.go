package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/schollz/progressbar/v3"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/geom"
)

// tool is what every verb shares: where answers and notes go, and in which form.
type tool struct {
	json  bool
	out   io.Writer // the answer
	notes io.Writer // words for people besides it
}

// answer prints v as the one JSON document, or words as text.
func (t *tool) answer(v any, words string) error {
	if !t.json {
		_, err := fmt.Fprintln(t.out, strings.TrimRight(words, "\n"))
		return err
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(v); err != nil {
		return fmt.Errorf("the answer cannot be written as JSON: %w", err)
	}
	_, err := t.out.Write(b.Bytes())
	return err
}

func (t *tool) note(format string, args ...any) { fmt.Fprintf(t.notes, format+"\n", args...) }

// progress returns what long work reports to: a bar on a terminal, nothing elsewhere. Call end when done.
func (t *tool) progress(what string) (report func(done, total int), end func()) {
	f, ok := t.notes.(*os.File)
	if ok {
		info, err := f.Stat()
		ok = err == nil && info.Mode()&os.ModeCharDevice != 0
	}
	if !ok {
		return func(int, int) {}, func() {}
	}
	bar := progressbar.NewOptions(1, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(what),
		progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(false))
	report = func(done, total int) {
		bar.ChangeMax(max(total, 1))
		_ = bar.Set(min(done, max(total, 1)-1)) // a bar that cannot be drawn stops no work; end finishes it
	}
	return report, func() { _ = bar.Finish() }
}

// writeWhole puts a file at path whole or not at all.
func writeWhole(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".part-*")
	if err != nil {
		return unwritable(path, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := write(f); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	err = errors.Join(f.Chmod(0o644), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	return unwritable(path, err)
}

// unwritable names the file meant, not the one that was to become it.
func unwritable(path string, err error) error {
	if err == nil {
		return nil
	}
	var inner *os.PathError
	if errors.As(err, &inner) {
		err = inner.Err
	}
	return fmt.Errorf("%s cannot be written: %w; check the folder", path, err)
}

// reading opens a file, reads it and names it in errors.
func reading[T any](path string, read func(io.Reader) (T, error)) (T, error) {
	var none T
	f, err := os.Open(path)
	if err != nil {
		return none, err
	}
	defer f.Close()
	v, err := read(f)
	if err != nil {
		return none, fmt.Errorf("%s: %w", path, err)
	}
	return v, nil
}

// with opens the library at dir for the time of do.
func with(dir string, m atlas.Mode, do func(*atlas.Library) error) (err error) {
	lib, err := atlas.Open(dir, m)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lib.Close()) }()
	return do(lib)
}

// shippedTerms is the term list with the near-twins that guard its answers.
func shippedTerms() (*annotate.Terms, error) {
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		return nil, err
	}
	twins, err := annotate.LoadTwins(assets.NearTwins())
	if err != nil {
		return nil, err
	}
	return terms.WithTwins(twins), nil
}

// number stands in JSON as null when it cannot be told.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	if x := float64(n); math.IsNaN(x) || math.IsInf(x, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// numbers reads want numbers parted by commas, any count when want is 0.
func numbers(flag, text string, want int) ([]float64, error) {
	var out []float64
	for _, part := range strings.Split(text, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, misused("-%s: %q is not a number", flag, part)
		}
		out = append(out, x)
	}
	if want > 0 && len(out) != want {
		return nil, misused("-%s takes %d numbers parted by commas, got %q", flag, want, text)
	}
	return out, nil
}

// mostRows bounds a table read at the prompt.
const mostRows = 100_000

// readRows reads lines of want numbers; a first line of words and lines starting with # are passed over.
func readRows(r io.Reader, shape string) ([][]float64, error) {
	in := csv.NewReader(r)
	in.Comment, in.TrimLeadingSpace, in.FieldsPerRecord = '#', true, strings.Count(shape, ",")+1
	var rows [][]float64
	for first := true; len(rows) < mostRows; first = false {
		record, err := in.Read()
		if err == io.EOF {
			return rows, nil
		}
		if err != nil {
			return nil, fmt.Errorf("lines of %s are wanted: %w", shape, err)
		}
		line, _ := in.FieldPos(0)
		row := make([]float64, len(record))
		for i, field := range record {
			row[i], err = strconv.ParseFloat(strings.TrimSpace(field), 64)
			if err != nil || math.IsNaN(row[i]) || math.IsInf(row[i], 0) {
				row = nil
				break
			}
		}
		switch {
		case row != nil:
			rows = append(rows, row)
		case !first:
			return nil, fmt.Errorf("line %d is not numbers of %s", line, shape)
		}
	}
	return nil, fmt.Errorf("more than %d lines", mostRows)
}

func readPixels(r io.Reader) ([]geom.Px, error) {
	rows, err := readRows(r, "px,py")
	out := make([]geom.Px, len(rows))
	for i, row := range rows {
		out[i] = geom.Px{X: row[0], Y: row[1]}
	}
	return out, err
}

// termNames gives the English name of every shipped term.
func termNames() map[annotate.TermID]string {
	out := map[annotate.TermID]string{}
	if terms, err := shippedTerms(); err == nil {
		for _, t := range terms.All() {
			out[t.ID] = t.Name
		}
	}
	return out
}
