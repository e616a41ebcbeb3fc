package web

import (
	"context"
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// marker begins every planted text. No page writes it by itself.
const marker = "QZPLANTED"

// planter fills free texts and identifying values of nouns with marked texts, at
// any depth.
type planter struct{ texts int }

func (p *planter) text() string {
	p.texts++
	return fmt.Sprintf("%s%d", marker, p.texts)
}

// free are plain texts of clinical nouns that people or files word.
var free = map[string]bool{
	"Product": true, "Lot": true, "Maker": true, "Format": true, "Title": true, "Lots": true, "Catalogue": true, "Reference": true,
}

func (p *planter) plant(v reflect.Value, field string) {
	switch v.Kind() {
	case reflect.String:
		if v.Type() == reflect.TypeFor[record.FreeText]() || v.Type() == reflect.TypeFor[string]() && free[field] {
			v.SetString(p.text())
		}
	case reflect.Pointer:
		if !v.IsNil() {
			p.plant(v.Elem(), field)
		}
	case reflect.Slice:
		for i := range v.Len() {
			p.plant(v.Index(i), field)
		}
	case reflect.Struct:
		switch v.Interface().(type) {
		case record.Base, record.Date, time.Time, record.AcuityEntry, record.Override:
			return
		}
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				p.plant(v.Field(i), f.Name)
			}
		}
	}
}

// plantEverywhere changes every noun of every eye, and gives every person marked
// names, numbers and contacts. It returns what else must not be seen: identifiers,
// days of birth, and calendar days of the record.
func plantEverywhere(t *testing.T, b *workbench) (secrets []string) {
	t.Helper()
	ctx := context.Background()
	p := &planter{}
	found, err := b.store.Eyes(ctx, "", store.Page{Limit: store.MaxPage})
	must(t, err)
	for _, row := range found.Rows {
		c, err := b.store.Course(ctx, row.EyeID, false)
		must(t, err)
		secrets = append(secrets, string(c.Eye.ID), string(c.Patient.ID))
		must(t, b.store.Write(ctx, record.Actor{AccountID: "test", Place: marker + "place"}, func(tx *store.Tx) error {
			var nouns []record.Entity
			for _, person := range c.Persons {
				person.Names[0].Text, person.UnitNumber = p.text()+" Family", p.text()
				person.Identifiers = append(person.Identifiers, record.Identifier{System: p.text(), Value: p.text()})
				person.Contacts = append(person.Contacts, record.Contact{Way: record.ContactPhone, Value: p.text()})
				secrets = append(secrets, string(person.ID), person.BirthDate.ISO(), dayWords(person.BirthDate))
				nouns = append(nouns, person)
			}
			nouns = append(nouns, c.Eye, c.Patient)
			c.Patient.Note, c.Eye.Note = record.FreeText(p.text()), record.FreeText(p.text())
			for _, v := range c.Visits {
				v.Note = record.FreeText(p.text())
				secrets = append(secrets, v.On.ISO(), dayWords(v.On))
				if v.Signed == nil {
					p.plant(reflect.ValueOf(v).Elem(), "")
					nouns = append(nouns, v)
				}
			}
			for _, o := range c.Operations {
				secrets = append(secrets, o.On.ISO(), dayWords(o.On))
				fresh := *o // signed operations do not change: a second one with marks stands beside
				fresh.Version, fresh.Signed, fresh.Agents = 0, nil, nil
				var err error
				if fresh.ID, err = tx.NewID(); err != nil {
					return err
				}
				p.plant(reflect.ValueOf(&fresh).Elem(), "")
				nouns = append(nouns, &fresh)
				for _, a := range o.Agents {
					if a.Lot != "" {
						secrets = append(secrets, a.Lot)
					}
				}
			}
			for _, s := range c.Scans {
				origin := &record.FileOrigin{
					OfKind: record.KindScan, OfID: s.ID, PatientID: s.PatientID, SHA256: s.File.SHA256, Name: p.text() + ".dcm",
					HeaderName: p.text(), HeaderNumber: p.text(), CameFrom: record.FreeText(p.text()), ReceivedAt: now,
				}
				var err error
				if origin.ID, err = tx.NewID(); err != nil {
					return err
				}
				p.plant(reflect.ValueOf(s).Elem(), "")
				secrets = append(secrets, s.File.SHA256, string(s.ID))
				nouns = append(nouns, origin, s)
			}
			for _, n := range nouns {
				if _, err := tx.Put(ctx, n, ""); err != nil {
					return fmt.Errorf("%s: %w", n.Kind(), err)
				}
			}
			return nil
		}))
	}
	if p.texts < 200 || len(secrets) < 100 {
		t.Fatalf("only %d marks and %d secrets", p.texts, len(secrets))
	}
	return secrets
}

// TestAuditorSeesNobody plants marked texts wherever a person or a file can be
// named, walks every page and API answer that an auditor reaches, and looks for
// them in bodies, headers and addresses; so for identifiers, days of birth, calendar
// days of the course, hashes of files and lots.
func TestAuditorSeesNobody(t *testing.T) {
	b := newBench(t, 0)
	secrets := plantEverywhere(t, b)
	seen := map[string]string{} // what a surgeon sees, so that the marks are known to be there
	surgeon := b.crawl(account.Surgeon, 60, func(path string, got answer) {
		for _, mark := range regexp.MustCompile(marker+`\d+`).FindAllString(got.body, -1) {
			seen[mark] = path
		}
	})
	if len(seen) < 30 || surgeon < 30 {
		t.Fatalf("a surgeon sees only %d marks on %d pages", len(seen), surgeon)
	}
	cases := 0
	pages := b.crawl(account.Auditor, 400, func(path string, got answer) {
		if strings.HasPrefix(path, "/cases/") {
			cases++
		}
		text := path + "\n" + fmt.Sprint(got.header) + "\n" + got.body
		if at := strings.Index(text, marker); at >= 0 {
			t.Errorf("%s shows %s", path, text[max(0, at-80):min(len(text), at+40)])
		}
		for _, secret := range secrets {
			if tells(text, secret) {
				t.Errorf("%s shows %q", path, secret)
			}
		}
	})
	if cases < 20 || pages < 30 {
		t.Errorf("only %d cases on %d pages were seen", cases, pages)
	}
	b.auditorAPI(func(path string, got answer) {
		for _, secret := range append(secrets, marker) {
			if tells(got.body+fmt.Sprint(got.header), secret) {
				t.Errorf("%s shows %q", path, secret)
			}
		}
	})
}

// tells reports whether a text holds a secret as a word of its own; "4 Nov 2026" is
// not in "24 Nov 2026". The day of the test stands on pages as the time of a session
// and tells nothing; neither does a year.
func tells(text, secret string) bool {
	today := record.DayOf(now)
	if len(secret) <= 4 || secret == today.ISO() || secret == dayWords(today) {
		return false
	}
	digit := func(i int) bool { return i >= 0 && i < len(text) && text[i] >= '0' && text[i] <= '9' }
	for at := 0; ; {
		next := strings.Index(text[at:], secret)
		if next < 0 {
			return false
		}
		at += next
		if !digit(at-1) && !digit(at+len(secret)) || secret == marker {
			return true
		}
		at++
	}
}

// TestTellsCanFail shows that a secret is found and a longer word is not taken for it.
func TestTellsCanFail(t *testing.T) {
	for text, want := range map[string]bool{"on 4 Nov 2026.": true, "on 24 Nov 2026": false, "14 Nov 2026, 4 Nov 2026": true, "": false} {
		if tells(text, "4 Nov 2026") != want {
			t.Errorf("%q", text)
		}
	}
	if !tells("x"+marker+"12", marker) {
		t.Error("a mark is not found")
	}
}

// auditorAPI calls every endpoint that reads and that an auditor may ask.
func (b *workbench) auditorAPI(look func(path string, got answer)) {
	b.t.Helper()
	auditor := b.as(account.Auditor)
	var cases apiCases
	must(b.t, json.Unmarshal([]byte(auditor.get(apiPrefix+"cases?limit=1000").body), &cases))
	asked := 0
	for _, e := range b.server.endpoints() {
		if e.method != "GET" || !e.rule.allows(&account.Account{Active: true, Roles: account.Roles{account.Auditor}}) {
			continue
		}
		paths := []string{e.path}
		if strings.Contains(e.path, "{case}") {
			paths = nil
			for _, one := range cases.Cases {
				paths = append(paths, strings.ReplaceAll(e.path, "{case}", string(one.Case)))
			}
		}
		for _, path := range paths {
			if strings.Contains(path, "{") {
				b.t.Errorf("%s is open to an auditor and this test does not know how to ask it", e.path)
				continue
			}
			got := auditor.get(path)
			if got.status != 200 {
				b.t.Errorf("%s: %d", path, got.status)
			}
			look(path, got)
			asked++
		}
	}
	if asked < 25 {
		b.t.Errorf("only %d answers", asked)
	}
}
