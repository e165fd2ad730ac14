// Package importrules holds the test of which package may import which. It stands apart from package main beside it so that
// it runs without the window's toolkit and its C compiler.
package importrules
