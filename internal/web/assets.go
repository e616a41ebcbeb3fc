package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/paper"
)

// assets holds the bundled scripts, the style and the type, made by
// tools/bundle from ui/ and committed, so that building needs no other tool.
//
//go:embed assets
var assetFiles embed.FS

// asset is one file that pages load.
type asset struct {
	kind    string
	plain   []byte
	gzipped []byte // nil where it does not help
	etag    string
}

// assets are the files by their hashed names.
type assets struct {
	byName map[string]asset
	// hashed gives the hashed name of a plain one.
	hashed map[string]string
}

// hashDigits of the content stand in the name: 48 bits tell versions apart.
const hashDigits = 12

func loadAssets() (*assets, error) {
	a := &assets{byName: map[string]asset{}, hashed: map[string]string{}}
	err := fs.WalkDir(assetFiles, "assets", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := assetFiles.ReadFile(name)
		if err != nil {
			return err
		}
		return a.add(strings.TrimPrefix(name, "assets/"), data)
	})
	if err != nil {
		return nil, err
	}
	style := a.byName[a.hashed["style.css"]].plain
	delete(a.byName, a.hashed["style.css"])
	if err := a.add("style.css", a.withHashedType(style, "/assets/")); err != nil {
		return nil, err
	}
	return a, a.addSheets()
}

// addSheets adds the style and the type of the print pages of sheets.
func (a *assets) addSheets() error {
	fonts, err := paper.FontFiles()
	if err != nil {
		return err
	}
	for name, data := range fonts {
		if err := a.add("sheet-fonts/"+name, data); err != nil {
			return err
		}
	}
	if err := a.add("sheet-letters.css", paper.LetterStyle("/sheet-letters")); err != nil {
		return err
	}
	return a.add("sheet.css", a.withHashedType(paper.Stylesheet, ""))
}

// serveLetters answers with the font of one block of letters of a print page.
func (s *Server) serveLetters(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	block, err := strconv.ParseUint(strings.TrimSuffix(r.PathValue("block"), ".ttf"), 16, 8)
	if err != nil {
		return &fault.Error{Code: fault.NotFound, Where: "letters", What: "there is no such block"}
	}
	font, err := paper.LetterFont(uint8(block))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "font/ttf")
	w.Header().Set("Cache-Control", "public, max-age=86400")
	// The status is out; a reader that left is no fault of ours.
	_, _ = w.Write(font)
	return nil
}

// withHashedType is a style that names its type by hashed addresses below root.
func (a *assets) withHashedType(style []byte, root string) []byte {
	for plain, hashed := range a.hashed {
		if kind := path.Ext(plain); kind == ".woff2" || kind == ".woff" {
			style = bytes.ReplaceAll(style, []byte(root+plain), []byte(root+hashed))
		}
	}
	return style
}

func (a *assets) add(name string, data []byte) error {
	kind := mime.TypeByExtension(path.Ext(name))
	switch path.Ext(name) {
	case ".woff2":
		kind = "font/woff2"
	case ".woff":
		kind = "font/woff"
	case ".js":
		kind = "text/javascript; charset=utf-8"
	case ".css":
		kind = "text/css; charset=utf-8"
	}
	if kind == "" {
		return nil // licences and notes beside the files
	}
	sum := sha256.Sum256(data)
	digest := hex.EncodeToString(sum[:])[:hashDigits]
	hashed := strings.TrimSuffix(name, path.Ext(name)) + "-" + digest + path.Ext(name)
	one := asset{kind: kind, plain: data, etag: strconv.Quote(digest)}
	if strings.HasPrefix(kind, "text/") || strings.HasSuffix(name, ".svg") {
		var packed bytes.Buffer
		z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
		if err != nil {
			return err
		}
		if _, err := z.Write(data); err != nil {
			return err
		}
		if err := z.Close(); err != nil {
			return err
		}
		one.gzipped = packed.Bytes()
	}
	a.byName[hashed], a.hashed[name] = one, hashed
	return nil
}

// address is where a page finds an asset.
func (a *assets) address(name string) (string, error) {
	hashed, is := a.hashed[name]
	if !is {
		return "", &fault.Error{Code: fault.Internal, Where: "asset " + name, What: "is not there", Mend: "run tools/bundle"}
	}
	return "/assets/" + hashed, nil
}

func (s *Server) assetRoutes() []route {
	return []route{{"GET", "/assets/{name...}", open(), s.serveAsset}, {"GET", "/sheet-letters/{block}", open(), s.serveLetters}}
}

// serveAsset answers with one file; its address changes with its content, so
// that a browser keeps it for ever.
func (s *Server) serveAsset(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	one, is := s.assets.byName[r.PathValue("name")]
	if !is {
		return &fault.Error{Code: fault.NotFound, Where: "asset", What: "is not there"}
	}
	h := w.Header()
	h.Set("Content-Type", one.kind)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	h.Set("ETag", one.etag)
	h.Set("Vary", "Accept-Encoding")
	if r.Header.Get("If-None-Match") == one.etag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	body := one.plain
	if one.gzipped != nil && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = one.gzipped
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	// The status is out; a reader that left is no fault of ours.
	_, _ = w.Write(body)
	return nil
}
