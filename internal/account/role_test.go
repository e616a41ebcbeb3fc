package account

import (
	"slices"
	"strings"
	"testing"

	"limitans/fault"
)

func TestEveryActAndRoleHasACell(t *testing.T) {
	if len(permissions) < 20 || len(EveryAct()) != len(permissions) {
		t.Fatalf("the table has %d acts, EveryAct %d", len(permissions), len(EveryAct()))
	}
	if len(EveryRole()) != len(permissions[ReadIdentity]) {
		t.Fatalf("%d roles, %d columns", len(EveryRole()), len(permissions[ReadIdentity]))
	}
	for act, row := range permissions {
		someone := false
		for i, role := range EveryRole() {
			if row[i] != yes && row[i] != no {
				t.Errorf("%s × %s: no decision", act, role)
			}
			if (row[i] == yes) != Allowed(role, act) {
				t.Errorf("%s × %s: Allowed says otherwise than the table", act, role)
			}
			someone = someone || row[i] == yes
		}
		if !someone {
			t.Errorf("%s: nobody may do it", act)
		}
	}
}

// What the table may never say, whatever else is changed in it.
func TestWhatNoRoleMayGain(t *testing.T) {
	deIdentified := []Act{ReadDeIdentified, ExportDeIdentified, RunAudit, Verify}
	clinical := []Act{
		ReadIdentity, ReadClinical, ReadDeIdentified, ReadHistory, WritePatient, MergePatients, WriteVisit, WriteOperation,
		WritePlan, SignPlan, ImportScan, MeasureScan, SignMeasurement, StrikeOut, ExportIdentified, ExportDeIdentified, RunAudit,
	}
	for _, act := range EveryAct() {
		if Allowed(Auditor, act) && !slices.Contains(deIdentified, act) {
			t.Errorf("an auditor may %s", act)
		}
		if Allowed(Administrator, act) && slices.Contains(clinical, act) {
			t.Errorf("an administrator may %s without being a clinician", act)
		}
		for _, role := range []Role{Surgeon, Theatre, Clinic, Auditor} {
			if act == ManageAccounts && Allowed(role, act) {
				t.Errorf("%s may %s", role, act)
			}
		}
		if act == SignPlan || act == SignMeasurement {
			for _, role := range EveryRole() {
				if Allowed(role, act) != (role == Surgeon) {
					t.Errorf("%s × %s: only surgeons sign", act, role)
				}
			}
		}
	}
	for _, act := range []Act{"", "read", "fly"} {
		for _, role := range append(EveryRole(), "", "visitor") {
			if Allowed(role, act) {
				t.Errorf("%q may %q, which does not exist", role, act)
			}
		}
	}
	for _, act := range EveryAct() {
		if Allowed("", act) || Allowed("visitor", act) {
			t.Errorf("an unknown role may %s", act)
		}
	}
}

func TestRolesAreASet(t *testing.T) {
	for _, test := range []struct {
		in   []Role
		want string // or the words of the refusal after "!"
	}{
		{[]Role{Surgeon}, "surgeon"},
		{[]Role{Administrator, Surgeon}, "surgeon,administrator"},
		{EveryRole()[:3], "surgeon,theatre,clinic"},
		{[]Role{Auditor}, "auditor"},
		{nil, "!none given"},
		{[]Role{"visitor"}, "!unknown or repeated"},
		{[]Role{Surgeon, Surgeon}, "!unknown or repeated"},
		{[]Role{Auditor, Surgeon}, "!second role"},
		{[]Role{Administrator, Auditor}, "!second role"},
	} {
		got, err := NewRoles(test.in...)
		if words, refuse := strings.CutPrefix(test.want, "!"); refuse {
			if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), words) || got != nil {
				t.Errorf("%q: %v, %v", test.in, got, err)
			}
			continue
		}
		if err != nil || got.String() != test.want {
			t.Errorf("%q: %q, %v", test.in, got, err)
		}
		again, err := parseRoles(test.want)
		if err != nil || !slices.Equal(again, got) {
			t.Errorf("%q read back: %q, %v", test.want, again, err)
		}
	}
	both := Roles{Surgeon, Administrator}
	if !both.Allow(SignPlan) || !both.Allow(ManageAccounts) || both.Allow("fly") {
		t.Error("a set allows what one of its roles allows, and nothing else")
	}
	if (Account{Roles: both}).Allows(SignPlan) {
		t.Error("an account that is not active may do something")
	}
}
