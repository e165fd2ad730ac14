package annotate

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"sectionary/slices/photo"
)

// WriteCSV writes a table of the labels that count: one line each with structure, side, sureness, area and perimeter
// with their standard uncertainties, author, date and signature (RFC 4180). Without a scale the millimetre cells read "no
// scale". on says what was measured: photo or scan. names may be nil. A cell that a spreadsheet would take for
// a formula is kept from it by an apostrophe.
func (l Labels) WriteCSV(w io.Writer, c photo.Calibration, on string, names *Terms) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	rows := [][]string{{"label", "structure id", "structure", "side", "sureness", "measured on", "area mm2", "area sd mm2", "perimeter mm", "perimeter sd mm", "author", "changed", "signed by", "note"}}
	for _, m := range l.Measure(c) {
		x, _ := l.Find(m.ID)
		name, signed := "", ""
		if names != nil {
			t, _ := names.ByID(x.Term)
			name = t.Name
		}
		if x.Signed != nil {
			signed = x.Signed.By
		}
		rows = append(rows, []string{x.ID, string(x.Term), name, x.Side.String(), x.Sure.String(), on, figure(m.Area), figure(m.AreaSD), figure(m.Perimeter), figure(m.PerimSD),
			x.Author, x.Changed.Format("2006-01-02T15:04:05Z"), signed, x.Note})
	}
	for _, r := range rows {
		for i := range r {
			r[i] = guardCell(r[i])
		}
		if err := out.Write(r); err != nil {
			return fmt.Errorf("annotate: table: %w", err)
		}
	}
	out.Flush()
	return out.Error()
}

func figure(v *float64) string {
	if v == nil {
		return "no scale"
	}
	return strconv.FormatFloat(*v, 'f', 2, 64)
}

// guardCell keeps spreadsheets from running text as a formula (OWASP, CSV injection): a cell that starts with one of
// = + - @ tab or return gets an apostrophe, unless it is a number.
func guardCell(s string) string {
	if s == "" || !strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return s
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return "'" + s
}
