package account

import (
	"slices"
	"strings"

	"limitans/fault"
)

// Role is what an account is for. The five are common practice of eye
// departments, no source.
type Role string

// The roles. An Auditor sees the de-identified view only and holds no other
// role; an Administrator keeps the accounts and the data safe and sees no
// patient unless the account is a clinician's too.
const (
	Surgeon       Role = "surgeon"
	Theatre       Role = "theatre"
	Clinic        Role = "clinic"
	Auditor       Role = "auditor"
	Administrator Role = "administrator"
)

// EveryRole lists the roles in the order of the permission table's columns.
func EveryRole() []Role { return []Role{Surgeon, Theatre, Clinic, Auditor, Administrator} }

// Act is something that an account may or may not do. Pages, API and commands
// ask for an act, never for a role.
type Act string

// The acts. ReadIdentity covers names, dates of birth, identifiers and every
// document, film or file name that may hold one. ReadClinical covers the
// clinical facts of a person who can be identified, ReadDeIdentified the same
// facts without the person.
const (
	ReadIdentity       Act = "read identity"
	ReadClinical       Act = "read clinical"
	ReadDeIdentified   Act = "read de-identified"
	ReadHistory        Act = "read history"
	WritePatient       Act = "write patient"
	MergePatients      Act = "merge patients"
	WriteVisit         Act = "write visit"
	WriteOperation     Act = "write operation"
	WritePlan          Act = "write plan"
	SignPlan           Act = "sign plan"
	ImportScan         Act = "import scan"
	MeasureScan        Act = "measure scan"
	SignMeasurement    Act = "sign measurement"
	StrikeOut          Act = "strike out"
	ExportIdentified   Act = "export identified"
	ExportDeIdentified Act = "export de-identified"
	RunAudit           Act = "run audit"
	ManageAccounts     Act = "manage accounts"
	ReadAccountHistory Act = "read account history"
	ChangeSettings     Act = "change settings"
	BackUp             Act = "back up"
	Restore            Act = "restore"
	Verify             Act = "verify"
)

// cell is one decision of the table. Its zero value is neither, so that a
// forgotten cell is seen.
type cell byte

const (
	yes cell = 'Y'
	no  cell = '-'
)

// permissions is the one table of who may do what. Its columns are the roles
// in the order of EveryRole. The decisions are this project's: the least that
// each trade needs for its day (common practice, no source), except that the
// auditor's de-identified view is required.
var permissions = map[Act][5]cell{
	//                 surgeon theatre clinic auditor administrator
	ReadIdentity:       {yes, yes, yes, no, no},
	ReadClinical:       {yes, yes, yes, no, no},
	ReadDeIdentified:   {yes, no, no, yes, no},
	ReadHistory:        {yes, no, no, no, no}, // holds identities before and after
	WritePatient:       {yes, yes, yes, no, no},
	MergePatients:      {yes, no, yes, no, no},
	WriteVisit:         {yes, no, yes, no, no},
	WriteOperation:     {yes, yes, no, no, no},
	WritePlan:          {yes, no, no, no, no},
	SignPlan:           {yes, no, no, no, no},
	ImportScan:         {yes, yes, yes, no, no},
	MeasureScan:        {yes, no, yes, no, no},
	SignMeasurement:    {yes, no, no, no, no},
	StrikeOut:          {yes, yes, yes, no, no},
	ExportIdentified:   {yes, no, yes, no, no},
	ExportDeIdentified: {yes, no, no, yes, no},
	RunAudit:           {yes, no, no, yes, no},
	ManageAccounts:     {no, no, no, no, yes},
	ReadAccountHistory: {no, no, no, no, yes},
	ChangeSettings:     {no, no, no, no, yes},
	BackUp:             {no, no, no, no, yes},
	Restore:            {no, no, no, no, yes},
	Verify:             {yes, no, no, yes, yes},
}

// EveryAct lists the acts of the permission table in the order of their
// words.
func EveryAct() []Act {
	acts := make([]Act, 0, len(permissions))
	for act := range permissions {
		acts = append(acts, act)
	}
	slices.Sort(acts)
	return acts
}

// Allowed says whether a role may do an act, by the permission table. An
// unknown role or act is not allowed.
func Allowed(role Role, act Act) bool {
	column := slices.Index(EveryRole(), role)
	row, known := permissions[act]
	return column >= 0 && known && row[column] == yes
}

// Roles is the set of roles of one account, in the order of EveryRole. A
// surgeon who works alone is surgeon and administrator.
type Roles []Role

// NewRoles makes a set of one or more different roles. It refuses an unknown
// or repeated role, none at all, and an auditor with any second role: what one
// role hides the other would show.
func NewRoles(roles ...Role) (Roles, error) {
	var set Roles
	for _, role := range EveryRole() {
		if slices.Contains(roles, role) {
			set = append(set, role)
		}
	}
	switch {
	case len(roles) == 0:
		return nil, &fault.Error{Code: fault.Invalid, Where: "roles", What: "none given", Expected: roleWords()}
	case len(set) != len(roles):
		return nil, &fault.Error{
			Code: fault.Invalid, Where: "roles", What: "an unknown or repeated role in " + Roles(roles).String(),
			Expected: roleWords(),
		}
	case len(set) > 1 && slices.Contains(set, Auditor):
		return nil, &fault.Error{
			Code: fault.Invalid, Where: "roles", What: "an auditor with a second role would not be de-identified",
			Expected: "auditor alone", Mend: "make two accounts",
		}
	}
	return set, nil
}

func roleWords() string { return "some of " + Roles(EveryRole()).String() }

// String joins the roles with commas, as they are stored.
func (r Roles) String() string {
	words := make([]string, len(r))
	for i, role := range r {
		words[i] = string(role)
	}
	return strings.Join(words, ",")
}

// Allow says whether any role of the set may do the act.
func (r Roles) Allow(act Act) bool {
	return slices.ContainsFunc(r, func(role Role) bool { return Allowed(role, act) })
}

// parseRoles reads what String wrote.
func parseRoles(text string) (Roles, error) {
	var roles []Role
	for word := range strings.SplitSeq(text, ",") {
		roles = append(roles, Role(word))
	}
	return NewRoles(roles...)
}
