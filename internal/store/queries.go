package store

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed queries/*.sql
var queryFiles embed.FS

// queries holds every query of the folder queries by its name: the text below
// a line "-- name: NAME".
var queries = readQueries(queryFiles)

// readQueries panics on two queries of one name: that is a defect of this
// package, which every one of its tests shows.
func readQueries(files fs.FS) map[string]string {
	found := map[string]string{}
	names, err := fs.Glob(files, "queries/*.sql")
	if err != nil {
		panic(err)
	}
	for _, file := range names {
		text, err := fs.ReadFile(files, file)
		if err != nil {
			panic(err)
		}
		for _, part := range strings.Split("\n"+string(text), "\n-- name: ")[1:] {
			name, query, _ := strings.Cut(part, "\n")
			if _, twice := found[name]; twice {
				panic(fmt.Sprintf("%s: the query %q is there twice", file, name))
			}
			found[name] = strings.TrimSpace(query)
		}
	}
	return found
}
