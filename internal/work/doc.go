// Package work runs long jobs: the measuring of a volume, the reading of a
// film, an export of everything. A job is enqueued in the transaction of the
// record it belongs to, shows how far it is, can be cancelled, is tried again
// with a limit, and outlives the process that worked on it.
//
// # Method
//
// The jobs lie in tables of the record's own database, embedded or PostgreSQL,
// and are handed out by River (github.com/riverqueue/river, MPL-2.0), of which
// this package is a thin front. River claims, retries, cancels, makes unique
// and clears away. This package adds what a long job needs beyond that:
//
//   - Signs of life. A process writes a beat into each job it works on, with
//     the progress of the job in the same write, so that progress costs at most
//     one write a beat however often it is reported. Every working process
//     looks at the running jobs of the others once a beat; one whose beat did
//     not change in DeadBeats looks is put back into the queue. Looks are
//     counted and no clocks are compared, so that a wrong clock or a laptop
//     that slept does not kill a job. River's own rescue goes by the age of a
//     job and cannot tell a long one from a dead one; it is switched off.
//   - A fence. A process that finds a job taken from it (it hung, it was cut
//     off) ends its run and reports nothing about the attempt of the other.
//   - Faults. A fault that no repetition can mend (malformed, unsupported, not
//     measurable and so on) ends the job at once; any other error is tried
//     again, later each time. A panic is a failed job and not a dead process.
//
// # States
//
//	            ┌──────── error, attempts left; or its process died ───────┐
//	            ▼                                                          │
//	enqueue ─ waiting ── claimed ──────────────────────────────────────▶ running
//	            │                                                          │
//	            ├── cancelled ◀───────────────────────────── asked to stop ┤
//	            └── (nothing else ends a waiting job)     done ◀── no error┤
//	                                                    failed ◀── the rest┘
//
// # Once in effect
//
// A job whose process is killed is run again, so its function can run more than
// once. What it writes into the database is written once if it is written in
// [Task.Finish], which ends the job in the same transaction. What it writes
// elsewhere (a file, another server) should be named by [Task.Key], which is
// the same on every attempt, so that a repetition overwrites its own work.
//
// # Range of validity
//
// Jobs of seconds to hours, thousands waiting, tens of processes. New jobs and
// requests to cancel are seen by polling, one second apart unless Options say
// otherwise (a request from another process takes up to two), with no
// LISTEN and NOTIFY, so that a pooler in transaction mode is no hindrance. The
// embedded database needs immediate transactions, a busy timeout and
// write-ahead logging, as the store opens it. Arguments are small: large data
// belongs into the vault and its address into the arguments.
//
// One gap stays: a process that hung for longer than DeadBeats beats, woke and
// is stopped by force before the other run of its job is through puts that job
// back into the queue while it runs. Finish still lets only one run take
// effect.
//
// # Sources
//
// River v0.51.2: its documentation and source. Leases by heartbeat, fencing of
// late writers and keys for repeated requests are common practice, no source.
package work
