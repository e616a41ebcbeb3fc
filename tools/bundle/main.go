package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"github.com/evanw/esbuild/pkg/api"
)

func main() {
	check := flag.Bool("check", false, "fail where a committed file is not what would be written")
	flag.Parse()
	if err := bundle(filepath.Join("..", "internal", "web"), *check); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}

// bundle builds from web/ui into web/assets.
func bundle(web string, check bool) error {
	entries, err := filepath.Glob(filepath.Join(web, "ui", "*.ts"))
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		return fmt.Errorf("no module in %s", filepath.Join(web, "ui"))
	}
	absolute, err := filepath.Abs(filepath.Join(web, "assets"))
	if err != nil {
		return err
	}
	built := api.Build(api.BuildOptions{
		EntryPoints: append(entries, filepath.Join(web, "ui", "style.css")),
		Outdir:      absolute, Bundle: true, Format: api.FormatESModule, Target: api.ES2022,
		MinifyWhitespace: true, MinifyIdentifiers: true, MinifySyntax: true, LegalComments: api.LegalCommentsNone,
		External: []string{"/assets/*"},
	})
	for _, m := range built.Errors {
		fmt.Fprintln(os.Stderr, m.Text, m.Location)
	}
	if len(built.Errors) > 0 {
		return fmt.Errorf("%d errors", len(built.Errors))
	}
	for _, file := range built.OutputFiles {
		old, err := os.ReadFile(file.Path)
		if err == nil && bytes.Equal(old, file.Contents) {
			continue
		}
		if check {
			return fmt.Errorf("%s is not what its sources make; run go run -C tools ./bundle", filepath.Base(file.Path))
		}
		if err := os.WriteFile(file.Path, file.Contents, 0o644); err != nil {
			return err
		}
		fmt.Println(filepath.Base(file.Path), len(file.Contents))
	}
	return nil
}
