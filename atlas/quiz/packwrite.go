package quiz

import (
	"archive/zip"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
)

// packReadMe stands in every pack for people who open the file without the program.
const packReadMe = `STUDY PACK

%s

%s

manifest.json   all that is known, as JSON in UTF-8:
  format, version   what this file is
  code, title       the pack's random code and its title
  made, expires     days; after "expires" the program does not open the pack
  units             lengths are mm; pixels count from 0,0 at the centre of a picture's first pixel, x right, y down;
                    depth is mm from the first face of the run's first slab
  runs              each run's slabs with their places on the ruler, and the vertebrae seen on its faces
  faces             each face: slab, the way it looks out, its depth, its picture with width and height in px and mm for one
                    pixel (0: no scale), the letters at its edges, and its structures: term, the donor's side, outlines in
                    px ("regions") and in mm ("mm"), the place a marker points to ("tip"), whether a second person signed,
                    and what lies there one slab further ("below")
  terms             the structures' names
  files             the SHA-256 of every picture
faces/            pictures of the faces, JPEG, nothing but pixels
cuts/             scan cuts at the faces, on the very same pixels

The pack holds nothing of the donor, of the lab's records or of exams. Progress of the drill is kept on your own machine.
`

// write writes the pack as a zip file whose bytes follow from its contents alone.
func (k *packer) write(w io.Writer) error {
	z := zip.NewWriter(w)
	m, err := json.Marshal(k.m)
	if err != nil {
		return fmt.Errorf("quiz: the manifest of a study pack: %w", err)
	}
	if err := addMember(z, "README.txt", zip.Deflate, fmt.Appendf(nil, packReadMe, NotForDiagnosis, k.m.Respect)); err != nil {
		return err
	}
	if err := addMember(z, "manifest.json", zip.Deflate, m); err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(k.pictures)) {
		method := zip.Deflate
		if strings.HasSuffix(name, ".jpg") {
			method = zip.Store // packed already
		}
		if err := addMember(z, name, method, k.pictures[name]); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	return nil
}

// addMember puts a file into an archive under the neutral time.
func addMember(z *zip.Writer, name string, method uint16, b []byte) error {
	f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: Neutral})
	if err == nil {
		_, err = f.Write(b)
	}
	if err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	return nil
}
