package limitans

import _ "embed"

// Licence is the licence of this program.
//
//go:embed LICENSE
var Licence string

// ThirdPartyNotices are the licences of what is linked into the program; written
// by scripts/notices.
//
//go:embed THIRD_PARTY_NOTICES.md
var ThirdPartyNotices string
