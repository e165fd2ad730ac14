// Sectionary's window: sectionary-desk [-practice] [lab folder].
package main

import (
	"flag"
	"fmt"
	"os"

	"fyne.io/fyne/v2/app"

	"sectionary/app/ui"
)

// id names the program to the desktop.
const id = "org.sectionary.desk"

func main() {
	practice := flag.Bool("practice", false, "open the practice lab, making it first when it is not there")
	flag.Usage = func() {
		fmt.Fprintln(os.Stderr, "use: sectionary-desk [-practice] [lab folder]")
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() > 1 || *practice && flag.NArg() > 0 {
		flag.Usage()
		os.Exit(2)
	}
	w, err := ui.New(app.NewWithID(id))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	switch {
	case *practice:
		w.Practice()
	case flag.NArg() == 1:
		w.Open(flag.Arg(0))
	}
	w.ShowAndRun()
}
