package web

import (
	"bytes"
	"context"
	"encoding/json"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"limitans/internal/account"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/internal/work"
	"limitans/oct"
	"limitans/oct/surface"
)

// measuring gives a bench the jobs that measure scans.
func (b *workbench) measuring() *workbench {
	b.t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	var kinds work.Kinds
	measurer := intake.Bench{Store: b.store, Vault: b.server.Vault, Program: "test", Now: func() time.Time { return now }}
	must(b.t, measurer.Register(&kinds))
	queue, err := intake.Queue(ctx, b.store, &kinds, work.Options{Workers: 1, Poll: 20 * time.Millisecond, Beat: 50 * time.Millisecond})
	must(b.t, err)
	must(b.t, queue.Start(ctx))
	b.t.Cleanup(func() { stop(); queue.Wait() })
	b.server.Queue = queue
	return b
}

// bring sends a file with fields, as the form does without script.
func (p *person) bring(eye record.ID, name string, content []byte, accept string, fields url.Values) answer {
	p.b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for field, values := range fields {
		must(p.b.t, form.WriteField(field, values[0]))
	}
	part, err := form.CreateFormFile("file", name)
	must(p.b.t, err)
	_, err = part.Write(content)
	must(p.b.t, err)
	must(p.b.t, form.Close())
	r, err := http.NewRequest(http.MethodPost, p.b.http.URL+"/eyes/"+string(eye)+"/scan", &body)
	must(p.b.t, err)
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if accept != "" {
		r.Header.Set("Accept", accept)
	}
	return p.do(r)
}

func realScan(t testing.TB) []byte {
	t.Helper()
	content, err := os.ReadFile("../../testdata/macular-hole-volume/macular-hole-volume.tif")
	must(t, err)
	return content
}

var realScale = url.Values{"depth": {"3.87"}, "lateral": {"5,77"}, "slice": {"31"}, "taken": {"20 Nov 2026"}}

// until asks for a page until it shows something.
func (p *person) until(path, shows string) answer {
	p.b.t.Helper()
	for range 600 {
		if got := p.get(path); strings.Contains(got.body, shows) {
			return got
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.b.t.Fatalf("%s does not show %q: %s", path, shows, p.get(path).body)
	return answer{}
}

var pictureHref = regexp.MustCompile(`href="(/eyes/[^"]+/pictures/[^"]+\.png)"`)

// TestScanStation walks the real volume through the station: brought in,
// measured by a job, looked at, a line moved, kept and signed; and shows what
// others may not.
func TestScanStation(t *testing.T) {
	b := newBench(t, 0).measuring()
	surgeon, nurse := b.as(account.Surgeon), b.as(account.Clinic)
	eye := b.firstEye().EyeID
	list := "/eyes/" + string(eye) + "/scan"
	if got := surgeon.get(list); got.status != http.StatusOK || !strings.Contains(got.body, "Bring a scan in") {
		t.Fatalf("%d %s", got.status, got.body)
	}
	got := nurse.bring(eye, "volume.tif", realScan(t), "", realScale)
	if got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	at := got.header.Get("Location")
	page := surgeon.until(at, "Minimum linear diameter")
	page = surgeon.until(at, "Walls of the lumen")
	for _, shown := range []string{"407 µm", "396 to 418", "How was this computed?", "Slice 28 of 49", "given by a person", "borderline", `stroke="#d55e00"`} {
		if !strings.Contains(page.body, shown) {
			t.Errorf("the page of the scan does not show %q", shown)
		}
	}
	pictureOfSlice(t, surgeon, page.body)
	for _, view := range []string{"/front", "/body", "/body?turn=120", "/thickness", "/compare"} {
		if got := surgeon.until(at+view, "</main>"); got.status != http.StatusOK || strings.Contains(got.body, "Cannot be drawn") {
			t.Errorf("%s: %d", view, got.status)
		}
	}
	if got := surgeon.until(at+"/body", "data-body="); !strings.Contains(got.body, "<svg") {
		t.Error("the body is not drawn by the server")
	}
	signAndMove(t, b, surgeon, nurse, eye, at)
}

// pictureOfSlice looks at a picture: what is in it, who may keep it, and what
// its address says.
func pictureOfSlice(t *testing.T, p *person, page string) {
	t.Helper()
	found := pictureHref.FindStringSubmatch(page)
	if found == nil {
		t.Fatal("the page has no picture")
	}
	got := p.get(found[1])
	m, err := png.Decode(strings.NewReader(got.body))
	if err != nil || m.Bounds().Dx() != 200 || m.Bounds().Dy() != 200 {
		t.Fatalf("%d %v", got.status, err)
	}
	if kept := got.header.Get("Cache-Control"); !strings.HasPrefix(kept, "private, max-age=") {
		t.Errorf("kept: %q", kept)
	}
	other := regexp.MustCompile(`pictures/[0-9a-f]+/`).ReplaceAllString(found[1], "pictures/0000000000000000/")
	if got := p.get(other); got.status != http.StatusNotFound {
		t.Errorf("a picture of another content: %d", got.status)
	}
	if got := p.get(strings.Replace(found[1], "/28.png", "/50.png", 1)); got.status != http.StatusNotFound {
		t.Errorf("slice 50 of 49: %d", got.status)
	}
	r, err := http.NewRequest(http.MethodGet, p.b.http.URL+found[1], nil)
	must(t, err)
	r.Header.Set("If-None-Match", got.header.Get("ETag"))
	if got := p.do(r); got.status != http.StatusNotModified {
		t.Errorf("asked again: %d", got.status)
	}
}

// signAndMove tries a move without script, keeps it, and signs it.
func signAndMove(t *testing.T, b *workbench, surgeon, nurse *person, eye record.ID, at string) {
	t.Helper()
	figures := func() []*record.HoleFigures {
		c, err := b.store.Course(context.Background(), eye, false)
		must(t, err)
		return versionsOf(c, record.ID(at[strings.LastIndex(at, "/")+1:]))
	}
	before := figures()
	if len(before) != 1 || before[0].Lines == nil {
		t.Fatalf("%d versions", len(before))
	}
	tried := surgeon.get(at + "?slice=28&line=membrane&column=30&up=12&reach=25")
	if !strings.Contains(tried.body, "With lines moved, not kept yet") || !strings.Contains(tried.body, "lines were moved by hand at 1 place") {
		t.Errorf("the move is not shown as tried: %d", tried.status)
	}
	if got := surgeon.get(at + "?slice=28&line=membrane&column=30&up=500&reach=25"); !strings.Contains(got.body, "Not moved") {
		t.Error("a line left the scan and nobody said so")
	}
	moves := surface.MovesText([]surface.Move{{Line: surface.MembraneLine, Slice: 27, Column: 29, Rows: -12, Reach: 25}})
	form := url.Values{"figures": {string(before[0].ID)}, "moves": {moves}, "reason": {"vessel taken for the line"}}
	if got := nurse.post(at+"/lines", form); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	after := figures()
	if len(after) != 2 {
		t.Fatalf("%d versions", len(after))
	}
	moved := after[0]
	if moved.ID == before[0].ID {
		moved = after[1]
	}
	if moved.Supersedes != before[0].ID || moved.Source != record.FiguresCorrected || moved.Lines == nil || moved.Lines.SHA256 == before[0].Lines.SHA256 || moved.Note != "vessel taken for the line" {
		t.Errorf("%+v", moved)
	}
	if got := nurse.post(at+"/lines", form); got.status != http.StatusConflict {
		t.Errorf("the same version was replaced twice: %d", got.status)
	}
	if got := nurse.post(at+"/sign", url.Values{"figures": {string(moved.ID)}}); got.status != http.StatusForbidden {
		t.Errorf("a nurse signed: %d", got.status)
	}
	if got := surgeon.post(at+"/sign", url.Values{"figures": {string(before[0].ID)}}); got.status != http.StatusConflict {
		t.Errorf("figures that no longer count were signed: %d", got.status)
	}
	if got := surgeon.post(at+"/sign", url.Values{"figures": {string(moved.ID)}}); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	c, err := b.store.Course(context.Background(), eye, false)
	must(t, err)
	counts := standing(c, moved.ScanID)
	if counts == nil || counts.Signed == nil || counts.Supersedes != moved.ID || counts.Source != record.FiguresCorrected || *counts.HeightUM != *moved.HeightUM {
		t.Errorf("%+v", counts)
	}
	if got := surgeon.post(at+"/sign", nil); got.status != http.StatusConflict {
		t.Errorf("signed twice: %d", got.status)
	}
}

// TestUnknownScale: a scan without scale asks for it, takes it from a bar, and is
// measured anew.
func TestUnknownScale(t *testing.T) {
	b := newBench(t, 0).measuring()
	surgeon := b.as(account.Surgeon)
	eye := b.firstEye().EyeID
	got := surgeon.bring(eye, "volume.tif", realScan(t), "application/json", url.Values{"taken": {"unknown"}})
	var answer struct{ To string }
	if err := json.Unmarshal([]byte(got.body), &answer); err != nil || answer.To == "" {
		t.Fatalf("%d %s", got.status, got.body)
	}
	surgeon.until(answer.To, "The scale is not known")
	surgeon.until(answer.To, "Measure again")
	for name, wrong := range map[string]url.Values{
		"nothing told":         {},
		"a bar without length": {"depth-bar-samples": {"20"}},
		"no number":            {"depth": {"thick"}},
		"a negative one":       {"lateral": {"-3"}},
	} {
		if got := surgeon.post(answer.To+"/scale", wrong); got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, got.status)
		}
	}
	got = surgeon.post(answer.To+"/scale", url.Values{"depth-bar-samples": {"100"}, "depth-bar-um": {"387"}, "lateral": {"5.77"}, "slice": {"31"}})
	if got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	surgeon.until(answer.To, "407 µm")
}

// TestSidesAreCompared: a file named for the other side stops with a question
// that a typed side and a reason answer.
func TestSidesAreCompared(t *testing.T) {
	b := newBench(t, 0).measuring()
	surgeon := b.as(account.Surgeon)
	row := b.firstEye()
	other := map[string]string{"Right": "left", "Left": "right"}[sideWords(row.Side)]
	name := "macula-" + other + ".tif"
	got := surgeon.bring(row.EyeID, name, realScan(t), "", realScale)
	if got.status != http.StatusConflict || !strings.Contains(got.body, "The side, after you have looked") || !strings.Contains(got.body, `value="3.87"`) {
		t.Errorf("%d %s", got.status, got.body)
	}
	got = surgeon.bring(row.EyeID, name, realScan(t), "application/json", realScale)
	var told struct {
		Side  bool
		Error failure
	}
	if json.Unmarshal([]byte(got.body), &told) != nil || !told.Side || told.Error.What == "" {
		t.Errorf("%s", got.body)
	}
	settled := url.Values{"typed-side": {strings.ToLower(sideWords(row.Side))}}
	for k, v := range realScale {
		settled[k] = v
	}
	if got := surgeon.bring(row.EyeID, name, realScan(t), "", settled); got.status != http.StatusUnprocessableEntity {
		t.Errorf("settled without a reason: %d", got.status)
	}
	settled.Set("reason", "the file was misnamed")
	if got := surgeon.bring(row.EyeID, name, realScan(t), "", settled); got.status != http.StatusSeeOther {
		t.Errorf("%d %s", got.status, got.body)
	}
	if got := surgeon.bring(row.EyeID, "empty.tif", nil, "", nil); got.status != http.StatusUnprocessableEntity {
		t.Errorf("an empty file: %d", got.status)
	}
}

// TestShelfKeepsItsBound: the shelf drops what was looked at longest ago, reads
// a scan once, and refuses one that is larger than itself.
func TestShelfKeepsItsBound(t *testing.T) {
	shelf := newScanShelf(3 * bytesOf(2, 10, 10))
	noun := func(id string, slices int) *record.Scan {
		return &record.Scan{Base: record.Base{ID: record.ID(id)}, Slices: slices, Rows: 10, Columns: 10}
	}
	reads := map[string]int{}
	look := func(id string) {
		t.Helper()
		_, err := shelf.take(t.Context(), noun(id, 2), &record.Eye{}, func(context.Context) (*oct.Volume, error) {
			reads[id]++
			return &oct.Volume{Slices: 2, Rows: 10, Columns: 10}, nil
		})
		must(t, err)
	}
	for _, id := range []string{"a", "b", "c", "a", "d", "a", "b"} {
		look(id)
	}
	if reads["a"] != 1 || reads["b"] != 2 || reads["c"] != 1 || reads["d"] != 1 {
		t.Errorf("%v", reads)
	}
	if shelf.bytes > shelf.bound || len(shelf.held) != 3 {
		t.Errorf("%d of %d bytes, %d scans", shelf.bytes, shelf.bound, len(shelf.held))
	}
	if _, err := shelf.take(t.Context(), noun("large", 20), &record.Eye{}, nil); err == nil {
		t.Error("a scan larger than the shelf was taken")
	}
}
