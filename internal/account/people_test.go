package account

import (
	"strings"
	"sync"
	"testing"
	"time"

	"limitans/fault"
)

func TestFirstRun(t *testing.T) {
	alwaysOnBoth(t, Mode{}, func(f *fixture) {
		asks, err := f.gate.FirstRun(f.ctx)
		if !asks || err != nil {
			f.Fatalf("a fresh store does not ask: %v", err)
		}
		_, err = f.gate.MakeFirst(f.ctx, "maria", "Maria", "too short", here)
		f.refuses(err, nil, fault.Invalid, "9 characters")
		_, err = f.gate.MakeFirst(f.ctx, "maria", "Maria", herons, here, Auditor)
		f.refuses(err, nil, fault.Invalid, "second role")
		if asks, err = f.gate.FirstRun(f.ctx); !asks || err != nil {
			f.Fatalf("a refused first run counts: %v", err)
		}
		// Two at the same moment: one is the first.
		var wait sync.WaitGroup
		errs := make([]error, 4)
		for i := range errs {
			wait.Go(func() {
				_, errs[i] = f.gate.MakeFirst(f.ctx, "maria"+string(rune('a'+i)), "Maria", herons, here, Surgeon)
			})
		}
		wait.Wait()
		made := 0
		for _, err := range errs {
			if err == nil {
				made++
			} else {
				f.refuses(err, nil, fault.Conflict, "has an account already")
			}
		}
		if made != 1 {
			f.Errorf("%d first accounts", made)
		}
		if asks, err = f.gate.FirstRun(f.ctx); asks || err != nil {
			f.Errorf("asks again: %v", err)
		}
	})
}

func TestAccountsAreMadeByAdministrators(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		if boss.Name != "maria.holt" || boss.Roles.String() != "surgeon,administrator" || !boss.Active || !boss.Local {
			f.Errorf("first account: %+v", boss)
		}
		f.tells(boss.ID, "self: account made;  → maria.holt: surgeon,administrator; first run")

		nurse, code, err := f.gate.Make(f.ctx, boss.Actor(here), "Nurse1", "Nurse One", Roles{Clinic})
		f.must(err)
		_, err = f.logIn("nurse1", "", "")
		f.refuses(err, ErrRefused, fault.Invalid, "not right")
		_, err = f.gate.Redeem(f.ctx, "nurse1", "aaaaa-aaaaa-aaaaa-aaaaa", otters, here)
		f.refuses(err, ErrRefused, fault.Invalid, "not right")
		_, err = f.gate.Redeem(f.ctx, "nurse1", code.Code, "nurse1nurse1nurse1", here)
		f.refuses(err, nil, fault.Invalid, "commonest")
		// As people read and type it.
		typed := " " + strings.ToUpper(strings.NewReplacer("-", " ", "0", "O", "1", "l").Replace(code.Code))
		nurse, err = f.gate.Redeem(f.ctx, "NURSE1", typed, otters, here)
		f.must(err)
		_, err = f.gate.Redeem(f.ctx, "nurse1", code.Code, herons, here)
		f.refuses(err, ErrRefused, "", "not right") // once
		_, err = f.logIn("nurse1", otters, "")
		f.must(err)
		f.tells(nurse.ID, string(boss.ID)+": account made;  → nurse1: clinic;")
		f.tells(nurse.ID, "one-time code made")
		f.tells(nurse.ID, "passphrase changed")

		// Nobody else makes, sees or changes accounts.
		_, _, err = f.gate.Make(f.ctx, nurse.Actor(here), "mole", "Mole", Roles{Administrator})
		f.refuses(err, ErrForbidden, fault.Invalid, "manage accounts")
		_, err = f.gate.Accounts(f.ctx, nurse.Actor(here))
		f.refuses(err, ErrForbidden, fault.Invalid, "manage accounts")
		f.refuses(f.gate.SetRoles(f.ctx, nurse.Actor(here), nurse.ID, Roles{Administrator}, ""), ErrForbidden, "", "")
		f.refuses(f.gate.SetActive(f.ctx, nurse.Actor(here), boss.ID, false, ""), ErrForbidden, "", "")
		_, err = f.gate.Recover(f.ctx, nurse.Actor(here), boss.ID, true, "")
		f.refuses(err, ErrForbidden, "", "")
		_, err = f.gate.Accounts(f.ctx, Actor{Account: "nobody"})
		f.refuses(err, ErrForbidden, "", "")

		_, _, err = f.gate.Make(f.ctx, boss.Actor(here), "NURSE1", "Another", Roles{Clinic})
		f.refuses(err, nil, fault.Conflict, "has this name already")
		for _, bad := range []string{"", "with space", "a\x00b", strings.Repeat("x", 65), strings.Repeat("x", 1000)} {
			_, _, err = f.gate.Make(f.ctx, boss.Actor(here), bad, "Another", Roles{Clinic})
			f.refuses(err, nil, fault.Invalid, "log-in name")
		}
		for _, bad := range []string{"", " x", "a\nb", strings.Repeat("x", 129)} {
			_, _, err = f.gate.Make(f.ctx, boss.Actor(here), "other", bad, Roles{Clinic})
			f.refuses(err, nil, fault.Invalid, "shown name")
		}
		all, err := f.gate.Accounts(f.ctx, Console("root"))
		if err != nil || len(all) != 2 || all[0].Name != "maria.holt" || all[1].Name != "nurse1" {
			f.Errorf("accounts: %+v, %v", all, err)
		}
		_, err = f.gate.Account(f.ctx, "nobody")
		f.refuses(err, nil, fault.NotFound, "there is none")
	})
}

func TestTheLastAdministratorStays(t *testing.T) {
	alwaysOnBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		by := boss.Actor(here)
		f.refuses(f.gate.SetActive(f.ctx, by, boss.ID, false, ""), nil, fault.Conflict, "no administrator")
		f.refuses(f.gate.SetRoles(f.ctx, by, boss.ID, Roles{Surgeon}, ""), nil, fault.Conflict, "no administrator")
		f.refuses(f.gate.SetActive(f.ctx, Console("root"), boss.ID, false, ""), nil, fault.Conflict, "no administrator")
		// An administrator without a passphrase yet does not count.
		second, code, err := f.gate.Make(f.ctx, by, "second", "Second", Roles{Administrator})
		f.must(err)
		f.refuses(f.gate.SetActive(f.ctx, by, boss.ID, false, ""), nil, fault.Conflict, "no administrator")
		_, err = f.gate.Redeem(f.ctx, "second", code.Code, otters, here)
		f.must(err)
		if a := f.account(boss.ID); !a.Active || !a.Allows(ManageAccounts) {
			f.Fatalf("a refused change stayed: %+v", a)
		}
		// Both take each other's place at the same moment: one stays.
		var wait sync.WaitGroup
		errs := make([]error, 2)
		wait.Go(func() { errs[0] = f.gate.SetActive(f.ctx, by, second.ID, false, "quarrel") })
		wait.Go(func() { errs[1] = f.gate.SetRoles(f.ctx, second.Actor(here), boss.ID, Roles{Surgeon}, "quarrel") })
		wait.Wait()
		if (errs[0] == nil) == (errs[1] == nil) {
			f.Errorf("both or neither: %v", errs)
		}
	})
}

func TestRolesAndDeactivation(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		by := boss.Actor(here)
		nurse := f.person(boss, "nurse1", otters, Clinic)
		f.must(f.gate.SetRoles(f.ctx, by, nurse.ID, Roles{Theatre, Clinic}, "covers theatre"))
		if a := f.account(nurse.ID); !a.Allows(WriteOperation) || a.Roles.String() != "theatre,clinic" {
			f.Errorf("roles: %v", a.Roles)
		}
		f.tells(nurse.ID, string(boss.ID)+": roles changed; clinic → theatre,clinic; covers theatre")
		f.refuses(f.gate.SetRoles(f.ctx, by, nurse.ID, nil, ""), nil, fault.Invalid, "none given")

		f.must(f.gate.SetActive(f.ctx, by, nurse.ID, false, "left the unit"))
		f.tells(nurse.ID, "account deactivated; active → deactivated; left the unit")
		_, err := f.logIn("nurse1", otters, "")
		f.refuses(err, ErrRefused, fault.Invalid, "not right")
		f.tells(nurse.ID, "log-in failed;  → ; right passphrase, account deactivated")
		if a := f.account(nurse.ID); a.Allows(ReadIdentity) {
			f.Error("a deactivated account may read")
		}
		f.must(f.gate.SetActive(f.ctx, by, nurse.ID, true, "came back"))
		_, err = f.logIn("nurse1", otters, "")
		f.must(err)

		// The database itself refuses to forget an account or the mode.
		for _, statement := range []string{`delete from account`, `delete from account_state`, `update account_state set mode = 'demo'`} {
			if _, err := f.store.Writer().Exec(f.ctx, statement); err == nil {
				f.Errorf("%s is carried out", statement)
			}
		}
	})
}

func TestPassphrasesChangeAndAreRecovered(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		nurse := f.person(boss, "nurse1", otters, Clinic)
		f.refuses(f.gate.ChangePassphrase(f.ctx, nurse.ID, herons, "nine loud geese beside the mill", "", here), ErrRefused, "", "")
		f.refuses(f.gate.ChangePassphrase(f.ctx, nurse.ID, otters, "short", "", here), nil, fault.Invalid, "5 characters")
		f.must(f.gate.ChangePassphrase(f.ctx, nurse.ID, otters, "nine loud geese beside the mill", "", here))
		_, err := f.logIn("nurse1", otters, "")
		f.refuses(err, ErrRefused, "", "")
		_, err = f.logIn("nurse1", "nine loud geese beside the mill", "")
		f.must(err)
		f.tells(nurse.ID, "self: passphrase changed")

		code, err := f.gate.Recover(f.ctx, boss.Actor(here), nurse.ID, false, "forgotten")
		f.must(err)
		newer, err := f.gate.Recover(f.ctx, boss.Actor(here), nurse.ID, false, "forgotten")
		f.must(err)
		_, err = f.gate.Redeem(f.ctx, "nurse1", code.Code, herons, here)
		f.refuses(err, ErrRefused, "", "") // the newer one counts
		_, err = f.gate.Redeem(f.ctx, "maria.holt", newer.Code, otters, here)
		f.refuses(err, ErrRefused, "", "") // another's
		f.clock.forward(oneTimeFor)
		_, err = f.gate.Redeem(f.ctx, "nurse1", newer.Code, herons, here)
		f.refuses(err, ErrRefused, "", "") // too late
		last, err := f.gate.Recover(f.ctx, Console("root"), nurse.ID, false, "forgotten")
		f.must(err)
		f.clock.forward(oneTimeFor - time.Millisecond)
		_, err = f.gate.Redeem(f.ctx, "nurse1", last.Code, herons, here)
		f.must(err)
		_, err = f.logIn("nurse1", herons, "")
		f.must(err)
		f.tells(nurse.ID, "console: one-time code made")

		// A code does not open a deactivated account.
		code, err = f.gate.Recover(f.ctx, boss.Actor(here), nurse.ID, false, "")
		f.must(err)
		f.must(f.gate.SetActive(f.ctx, boss.Actor(here), nurse.ID, false, "left"))
		_, err = f.gate.Redeem(f.ctx, "nurse1", code.Code, otters, here)
		f.refuses(err, ErrRefused, "", "")
		if a := f.account(nurse.ID); a.Active {
			f.Error("redeeming a code activates an account")
		}
	})
}
