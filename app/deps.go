//go:build deps

// Package deps keeps the chosen modules pinned until their owner packages use them.
package main

import (
	_ "codeberg.org/go-pdf/fpdf"
	_ "fyne.io/fyne/v2/app"
	_ "fyne.io/fyne/v2/test"
	_ "github.com/bep/imagemeta"
	_ "github.com/disintegration/imaging"
	_ "github.com/gen2brain/heic"
	_ "github.com/google/go-cmp/cmp"
	_ "github.com/paulmach/orb"
	_ "github.com/peterstace/simplefeatures/geom"
	_ "github.com/piglig/go-qr"
	_ "github.com/rogpeppe/go-internal/testscript"
	_ "github.com/schollz/progressbar/v3"
	_ "github.com/spf13/cobra"
	_ "github.com/suyashkumar/dicom"
	_ "github.com/suyashkumar/dicom/pkg/tag"
	_ "github.com/tidwall/rtree"
	_ "golang.org/x/image/font/gofont/goregular"
	_ "golang.org/x/image/font/opentype"
	_ "golang.org/x/text/unicode/norm"
	_ "gonum.org/v1/gonum/mat"
	_ "gonum.org/v1/gonum/optimize"
	_ "modernc.org/sqlite"
	_ "pgregory.net/rapid"
)
