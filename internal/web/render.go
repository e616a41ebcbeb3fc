package web

import (
	"bytes"
	"compress/gzip"
	"embed"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strconv"
	"strings"
	"sync"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/caution"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
)

//go:embed templates/*.html
var templateFiles embed.FS

// pages are the parsed templates by name: each template file that defines "main"
// is a page inside layout.html; files whose names begin with part- are shared.
type pages struct {
	byName     map[string]*template.Template
	translated sync.Map // of pageKey to *template.Template, cloned once each
}

type pageKey struct{ name, language string }

func loadPages(a *assets) (*pages, error) {
	shared, err := template.New("layout.html").Funcs(pageFuncs(a)).ParseFS(templateFiles, "templates/layout.html", "templates/part-*.html")
	if err != nil {
		return nil, &fault.Error{Code: fault.Internal, Where: "pages", What: "cannot be read", Cause: err}
	}
	p := &pages{byName: map[string]*template.Template{}}
	names, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		base := path.Base(name)
		if base == "layout.html" || strings.HasPrefix(base, "part-") {
			continue
		}
		one, err := shared.Clone()
		if err != nil {
			return nil, err
		}
		if _, err := one.ParseFS(templateFiles, name); err != nil {
			return nil, &fault.Error{Code: fault.Internal, Where: name, What: "cannot be read: " + err.Error(), Cause: err}
		}
		p.byName[strings.TrimSuffix(base, ".html")] = one
	}
	return p, nil
}

// pageFuncs are the words of templates.
func pageFuncs(a *assets) template.FuncMap {
	return template.FuncMap{
		"asset":      a.address,
		"t":          func(words string, values ...any) string { return words }, // replaced for each visitor
		"day":        dayWords,
		"side":       sideWords,
		"medium":     func(m record.Medium) string { return mediumWords(m) },
		"due":        dueWords,
		"picture":    picture,
		"estimate":   estimateWords,
		"list":       func(values ...any) []any { return values },
		"shownParts": shownParts, "basisParts": basisParts, "hasMore": hasMore, "troubleInMore": troubleInMore, "choiceWords": choiceWords,

		"printpage": printPage,

		"percent": percentWords, "sizes": sizesWords, "estimatepercent": estimatePercent, "estimatevalue": estimateValue, "signed": signedLogMAR,
		"shortday":     func(e estimate.Estimate) string { return estimateValue(e, 0) },
		"codewords":    func(code string) string { return strings.ReplaceAll(code, "_", " ") },
		"number":       func(x float64) string { return shortNumber(x) },
		"dyes":         func() []choice { return dyeChoices },
		"fillings":     func() []choice { return fillingChoices },
		"anaesthesias": func() []choice { return anaesthesiaChoices },
		"postures":     func() []choice { return postureChoices },
	}
}

// head is what the layout needs of every page.
type head struct {
	Title string // English words
	// Rail names the entry of the rail that is current: today, eyes, bench,
	// registers, settings or about.
	Rail string
	// Scripts are modules beside the common one.
	Scripts []string
	// Wide pages use the whole width for their picture.
	Wide bool
}

// titled is a page that belongs to no entry of the rail.
func titled(title string) head { return head{Title: title} }

// sheet is what a template gets.
type sheet struct {
	Head     head
	Visitor  *visitor
	Name     string // shown name, empty while nobody is signed in
	Roles    string
	Theme    theme
	Keys     bool
	Language string
	Notice   string // of a demonstration
	Caution  string
	Program  string
	Here     string // address of the page, for forms that come back
	Page     any
}

// May lets templates ask what the visitor may do.
func (s sheet) May(act string) bool { return s.Visitor.may(account.Act(act)) }

// buffers are kept for the next page.
var buffers = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// render answers with a page. Nothing is sent before the whole page is made, so
// that a defect never leaves half a page.
func (s *Server) render(w http.ResponseWriter, v *visitor, status int, name string, h head, data any) error {
	return s.renderPart(w, v, status, name, "layout.html", h, data)
}

// renderPart answers with one block of a page, for scripts that replace it.
func (s *Server) renderPart(w http.ResponseWriter, v *visitor, status int, name, block string, h head, data any) error {
	page, err := s.pages.in(name, v.words)
	if err != nil {
		return err
	}
	out := sheet{
		Head: h, Visitor: v, Theme: v.theme, Keys: v.keys, Language: v.words.Tag, Notice: s.Gate.Mode().Notice(),
		Caution: caution.Short(), Program: s.Program, Here: v.path, Page: data,
	}
	if v.account != nil {
		out.Name, out.Roles = v.account.ShownName, v.account.Roles.String()
	}
	buffer := buffers.Get().(*bytes.Buffer)
	defer buffers.Put(buffer)
	buffer.Reset()
	if err := page.ExecuteTemplate(buffer, block, out); err != nil {
		return &fault.Error{Code: fault.Internal, Where: "page " + name, What: err.Error(), Cause: err}
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	return send(w, v, status, buffer.Bytes())
}

// in gives a page whose texts are looked up in a language.
func (p *pages) in(name string, words *tongue) (*template.Template, error) {
	base, is := p.byName[name]
	if !is {
		return nil, &fault.Error{Code: fault.Internal, Where: "page " + name, What: "is not there"}
	}
	key := pageKey{name, words.Tag}
	if known, is := p.translated.Load(key); is {
		return known.(*template.Template), nil
	}
	one, err := base.Clone()
	if err != nil {
		return nil, err
	}
	one.Funcs(template.FuncMap{"t": words.t})
	p.translated.Store(key, one)
	return one, nil
}

// worthPacking is the size from which a page is sent compressed.
const worthPacking = 4 << 10

// send writes a whole answer, compressed where that helps and the browser can.
// No page holds a secret beside what a visitor sent, so that its compressed size
// tells an onlooker nothing.
func send(w http.ResponseWriter, v *visitor, status int, body []byte) error {
	h := w.Header()
	h.Add("Vary", "Accept-Encoding, Cookie, Accept-Language")
	if v.packs && len(body) >= worthPacking {
		h.Set("Content-Encoding", "gzip")
		w.WriteHeader(status)
		z, err := gzip.NewWriterLevel(w, gzip.BestSpeed)
		if err != nil {
			return err
		}
		// The status is out; a reader that left is no fault of ours.
		_, _ = z.Write(body)
		_ = z.Close()
		return nil
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(status)
	_, _ = w.Write(body)
	return nil
}

// picture draws a scene into the page, in the page's colours.
func picture(s *scene.Scene) (template.HTML, error) {
	var b strings.Builder
	if err := s.WriteInline(&b); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}
