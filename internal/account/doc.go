// Package account says who may come in and what they may do.
//
// # Roles and acts
//
// Five roles times some twenty acts are decided in one table ([Allowed]). An
// account holds one or more roles; an auditor holds no other, so that the
// de-identified view stays de-identified, and an administrator is no clinician
// unless made one. Every change of an account asks the database, in its own
// transaction, what the actor may do now.
//
// # Coming in
//
// A [Gate] lets people in by name and passphrase: argon2id (RFC 9106) in PHC
// format, hashed anew when the cost rises; new passphrases by NIST SP
// 800-63B-4. A wrong name and a wrong passphrase cost the same work and get the
// same answer. Attempts are counted before they are looked at, by name and by
// remote address; waits double up to a longest one, and no account is locked
// for good. A second factor (RFC 6238) and its recovery codes are used once.
// [SignOn] lets people in through a department's identity provider (OpenID
// Connect, authorisation code with PKCE); their roles follow their groups.
//
// The first account is an administrator's ([Gate.FirstRun],
// [Gate.MakeFirst]). Others are made by administrators and begin with a
// one-time code ([Gate.Redeem]), which is also the way back after a forgotten
// passphrase. Accounts are deactivated and never deleted, and an administrator
// who can log in with a passphrase is always left. Someone at the machine
// itself is a [Console] and gets back in when nobody else can.
//
// # Sessions
//
// [Sessions] are in the database, under the hash of their token, with an idle
// and an absolute end. The token changes at log-in. Roles, activity and
// passphrase of an account end its sessions when they change. Cross-site
// requests are the pages' matter.
//
// # History
//
// Every change of an account, every log-in and every failure is an entry of
// the account history, hash-chained as the record's own is, and [Gate.Verify]
// proves it and compares the accounts with it. No passphrase, code, secret,
// token or typed unknown name is in it.
//
// # Demonstrations
//
// A store is declared real or a demonstration when it is first opened, for
// ever ([Mode]). A demonstration has no passphrases ([Gate.EnterDemo]) and the
// functions of the one kind refuse on the other with [ErrMode].
//
// # Validity
//
// What is in the database protects passphrases, codes and tokens from its
// readers, and secrets of second factors only with a sealing key kept
// elsewhere. Whoever can write the database and the program's memory can come
// in; the history then shows it only to somebody who kept its head elsewhere.
// The one who proves a right passphrase without the second factor learns that
// it is right. Remote addresses are what the caller says they are: behind a
// proxy the pages must take them from a header that only the proxy can set.
package account
