package account

import (
	"strings"
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

func TestHistoryProvesWhatHappened(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		nurse := f.person(boss, "nurse1", otters, Clinic)
		f.must(f.gate.SetRoles(f.ctx, boss.Actor(here), nurse.ID, Roles{Theatre}, "moved; is now: theatre"))
		f.must(f.gate.SetActive(f.ctx, boss.Actor(here), nurse.ID, false, "bytes \xff\x00 that are no characters"))
		f.must(f.gate.SetActive(f.ctx, boss.Actor(here), nurse.ID, true, ""))
		f.must(f.gate.SetActive(f.ctx, boss.Actor(here), nurse.ID, true, "")) // nothing to tell
		_, err := f.logIn("nobody", otters, "")
		f.refuses(err, ErrRefused, "", "")
		check, err := f.gate.Verify(f.ctx)
		f.must(err)
		if len(check.Problems) > 0 || check.Head.Entries != 8 || len(check.Head.Hash) != 64 {
			f.Fatalf("%+v", check)
		}

		// Who may read it: the holder, an administrator, nobody else.
		for _, by := range []Actor{nurse.Actor(here), boss.Actor(here), Console("root")} {
			events, err := f.gate.History(f.ctx, by, nurse.ID)
			if err != nil || len(events) != 6 || events[0].What != whatMade || events[0].Number != 2 || events[0].By.Place != here {
				f.Errorf("%v: %+v, %v", by, events, err)
			}
		}
		_, err = f.gate.History(f.ctx, nurse.Actor(here), boss.ID)
		f.refuses(err, ErrForbidden, fault.Invalid, "read account history")

		f.alter(check.Head, nurse.ID)
	})
}

// alter changes the database past the program, which must show.
func (f *fixture) alter(head store.Head, nurse record.AccountID) {
	f.Helper()
	run := func(statements ...string) {
		for _, s := range statements {
			_, err := f.store.Writer().Exec(f.ctx, s)
			f.must(err)
		}
	}
	if _, err := f.store.Writer().Exec(f.ctx, `update account_event set reason = 'x' where number = 3`); err == nil {
		f.Error("the database lets the history be changed")
	}
	if _, err := f.store.Writer().Exec(f.ctx, `delete from account_event where number = 8`); err == nil {
		f.Error("the database lets the history be cut")
	}
	// Whoever owns the database can drop the triggers.
	if f.store.Dialect() == store.SQLite {
		run(`drop trigger account_event_unchanged`, `drop trigger account_event_stays`)
	} else {
		run(`drop trigger account_event_stays on account_event`)
	}
	finds := func(words string, kept ...store.Head) {
		f.Helper()
		check, err := f.gate.Verify(f.ctx, kept...)
		f.must(err)
		if !strings.Contains(strings.Join(check.Problems, "\n"), words) || (words == "" && len(check.Problems) > 0) {
			f.Errorf("%q not found among %q", words, check.Problems)
		}
	}
	finds("", head)
	for _, column := range []string{"actor", "place", "account", "what", "before", "after", "reason", "hash"} {
		run(`update account_event set `+column+` = `+column+` || 'x' where number = 5`, ``)
		finds("entry 5 or the hash before it was changed")
		run(`update account_event set ` + column + ` = substr(` + column + `, 1, length(` + column + `) - 1) where number = 5`)
		finds("")
	}
	run(`update account_event set happened_at = happened_at + 1 where number = 1`)
	finds("entry 1 or")
	run(`update account_event set happened_at = happened_at - 1 where number = 1`)
	run(`update account set roles = 'administrator' where id = '` + string(nurse) + `'`)
	finds(`is "nurse1: administrator; active", by the history "nurse1: theatre; active"`)
	run(`update account set roles = 'theatre', active = 0 where id = '` + string(nurse) + `'`)
	finds(`is "nurse1: theatre; deactivated"`)
	run(`update account set active = 1 where id = '` + string(nurse) + `'`)
	finds("not the one that was kept", store.Head{Entries: 4, Hash: head.Hash})
	finds("9 entries were there once", store.Head{Entries: 9, Hash: head.Hash})
	run(`delete from account_event where number = 8`)
	finds("ends at entry 7, its head says 8")
	run(`delete from account_event where number = 4`)
	finds("entry 5 follows entry 3")
}
