package bench

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"sectionary/annotate"
)

// ownTermsName is the file, beside the lab's catalogue, that holds structures of the lab's own.
const ownTermsName = "own-terms.json"

// mostOwnTerms bounds what is read of that file, in bytes.
const mostOwnTerms = 4 << 20

// KeepLocalTerm adds a structure of the lab's own, kept with the lab, and returns its id.
func (b *Bench) KeepLocalTerm(name string, kind annotate.Kind, paired bool) (annotate.TermID, error) {
	if err := b.writable(); err != nil {
		return "", err
	}
	name = strings.Join(strings.Fields(name), " ")
	if name == "" || b.terms == nil {
		return "", fmt.Errorf("%w: %s", ErrForm, Word("name.empty"))
	}
	next, err := b.terms.WithLocal(annotate.Term{Name: name, Kind: kind, Paired: paired, Source: "lab"})
	if err != nil {
		return "", err
	}
	all := next.All()
	id := all[len(all)-1].ID
	if err := writeOwnTerms(b.lab.lib.Dir(), next); err != nil {
		return "", err
	}
	b.terms = next
	b.changed(PlateChanged)
	return id, nil
}

func writeOwnTerms(dir string, t *annotate.Terms) error {
	var own []annotate.Term
	for _, x := range t.All() {
		if x.Local {
			own = append(own, x)
		}
	}
	text, err := json.MarshalIndent(own, "", "\t")
	if err != nil {
		return fmt.Errorf("bench: %s: %w", ownTermsName, err)
	}
	path := filepath.Join(dir, ownTermsName)
	if err := os.WriteFile(path+".part", text, 0o644); err != nil {
		return fmt.Errorf("bench: %w", err)
	}
	return os.Rename(path+".part", path)
}

// readOwnTerms puts the structures of a lab's own behind the shipped ones.
func readOwnTerms(dir string, t *annotate.Terms) (*annotate.Terms, error) {
	info, err := os.Stat(filepath.Join(dir, ownTermsName))
	if errors.Is(err, fs.ErrNotExist) || t == nil {
		return t, nil
	}
	if err == nil && info.Size() > mostOwnTerms {
		err = errors.New("the file is too long")
	}
	var own []annotate.Term
	if err == nil {
		var text []byte
		if text, err = os.ReadFile(filepath.Join(dir, ownTermsName)); err == nil {
			err = json.Unmarshal(text, &own)
		}
	}
	for _, x := range own {
		if err == nil {
			t, err = t.WithLocal(x)
		}
	}
	if err != nil {
		return t, fmt.Errorf("bench: %s: structures of the lab's own cannot be read: %w", ownTermsName, err)
	}
	return t, nil
}
