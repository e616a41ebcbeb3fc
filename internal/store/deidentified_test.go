package store_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// plant fills every text of a noun's identity with a marked text of its own, at
// any depth, and gives lists one element.
func plant(v reflect.Value, marks *int) {
	switch v.Kind() {
	case reflect.String:
		switch v.Interface().(type) {
		case string, record.FreeText:
			*marks++
			v.SetString(fmt.Sprintf("PLANTED%d", *marks))
		}
	case reflect.Pointer:
		if v.Type().Elem().Kind() == reflect.Float64 {
			f := 7654321.5
			v.Set(reflect.ValueOf(&f))
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		plant(v.Index(0), marks)
	case reflect.Struct:
		switch v.Interface().(type) {
		case record.Base, record.Date, time.Time:
			return
		}
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				plant(v.Field(i), marks)
			}
		}
	}
}

// TestDeIdentifiedViewHoldsNoIdentity plants marked texts in every field of
// every identifying kind and in the free texts of the clinical ones, and looks
// for them in the view.
func TestDeIdentifiedViewHoldsNoIdentity(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		marks := 0
		patient, person, right := m.eyeOf("", "")
		patient.Note, right.Note = "PLANTED-patient", "PLANTED-eye"
		plant(reflect.ValueOf(person).Elem(), &marks)
		person.Language = "en"
		person.DistanceKm, person.HomeAltitudeM, person.RouteAltitudeM = number(76.54321), number(654.321), number(765.4321)
		person.Names[0].Use, person.Contacts[0].Way = record.NameOfficial, record.ContactPhone
		scan := m.scan(right, "2026-01-10", "a")
		scan.Note = "PLANTED-scan"
		origin := &record.FileOrigin{}
		plant(reflect.ValueOf(origin).Elem(), &marks)
		origin.Base, origin.OfKind, origin.OfID, origin.PatientID, origin.SHA256 = m.base(), record.KindScan, scan.ID, patient.ID, fileRef("a").SHA256
		origin.ReceivedAt = start
		operation := m.operation(right, "2026-02-01")
		operation.Note = "PLANTED-operation"
		visit := m.visit(right, "2026-03-01")
		visit.Acuities = []record.AcuityEntry{acuityOf("6/9")}
		visit.Note = "PLANTED-visit"
		if marks < 12 {
			t.Fatalf("only %d texts were planted", marks)
		}
		write(t, s, func(tx *store.Tx) error {
			return putAll(tx, patient, person, right, scan, origin, operation, visit)
		})
		view, err := s.DeIdentified(background, record.ViewOptions{Key: []byte("sixteen secret bytes")})
		if err != nil {
			t.Fatal(err)
		}
		if len(view.Patients) != 1 || len(view.Eyes) != 1 || len(view.Scans) != 1 || len(view.Operations) != 1 || len(view.Visits) != 1 ||
			len(view.Visits[0].Acuities) != 1 {
			t.Errorf("the view holds %+v", view.Report)
		}
		text, err := json.Marshal(view)
		if err != nil {
			t.Fatal(err)
		}
		for _, secret := range []string{
			"PLANTED", "76.54321", "654.321", "1950-02", string(patient.ID), string(person.ID), string(right.ID), fileRef("a").SHA256, "account-1",
		} {
			if strings.Contains(string(text), secret) {
				t.Errorf("the view tells %q", secret)
			}
		}
		if _, err := s.DeIdentified(background, record.ViewOptions{}); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("without a key: %v", err)
		}
	})
}

// TestDeIdentifiedQueryReadsNoIdentity reads the query's own text: each table in
// it belongs to a kind that does not identify.
func TestDeIdentifiedQueryReadsNoIdentity(t *testing.T) {
	query := store.QueryTexts["clinical nouns"]
	tables := regexp.MustCompile(`(?:from|join)\s+(\w+)`).FindAllStringSubmatch(query, -1)
	if len(tables) == 0 {
		t.Fatal("no table found in the query")
	}
	var clean []string
	for _, k := range record.Kinds() {
		if !k.Identifying {
			clean = append(clean, string(k.Kind))
		}
	}
	for _, table := range tables {
		if !slices.Contains(clean, table[1]) {
			t.Errorf("the query reads %s", table[1])
		}
	}
}
