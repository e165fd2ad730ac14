package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"sectionary/atlas"
)

func backupVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "backup LIB [DIR]", Short: "Copy the whole library into DIR, ready to open there; without DIR the catalogue, into backups/",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 && len(args) != 2 {
				return misused("%s takes LIB and DIR", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			mode := atlas.ReadWrite
			if len(args) == 2 {
				mode = atlas.ReadOnly // nothing is written here, so a lab that is open can be copied
			}
			return with(args[0], mode, func(lib *atlas.Library) error {
				if len(args) == 1 {
					path, err := lib.Backup(c.Context())
					if err != nil {
						return err
					}
					return t.answer(map[string]any{"copy": path}, path)
				}
				report, end := t.progress("copying")
				defer end()
				damaged, files := []string{}, 0
				err := lib.CopyTo(c.Context(), args[1], func(err error) { damaged = append(damaged, sentence(err)) }, func(n, total int) { files = total; report(n, total) })
				if err != nil {
					return err
				}
				end()
				if err := t.answer(map[string]any{"copy": args[1], "files": files, "damaged": damaged}, fmt.Sprintf("%s: catalogue and %d files, each checked", args[1], files)); err != nil {
					return err
				}
				for _, d := range damaged {
					t.note("%s", d)
				}
				if len(damaged) > 0 {
					return found("%d files are damaged and were not copied", len(damaged))
				}
				return nil
			})
		},
	}
}

func restoreVerb(t *tool) *cobra.Command {
	var name string
	c := &cobra.Command{
		Use: "restore LIB", Short: "List the copies of the catalogue, or go back to one; what was there is kept", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			all, err := atlas.BackupCopies(args[0])
			if err != nil {
				return err
			}
			words := ""
			for _, x := range all {
				words += filepath.Base(x.Path) + "\n"
			}
			if name == "" {
				return t.answer(map[string]any{"copies": some(all)}, words)
			}
			for _, x := range all {
				if filepath.Base(x.Path) == name {
					if err := atlas.RestoreCatalogue(args[0], x); err != nil {
						return err
					}
					return t.answer(map[string]any{"restored": name}, name+" is in place; what was there lies in backups as replaced-…")
				}
			}
			return fmt.Errorf("there is no copy %s in %s", name, filepath.Join(args[0], "backups"))
		},
	}
	c.Flags().StringVar(&name, "copy", "", "the copy to go back to, by its file name")
	return c
}
