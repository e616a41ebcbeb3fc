// Package store keeps the record: in a database file in one data folder, or in
// PostgreSQL by address. The same code, the same numbered migrations and the
// same tests serve both.
//
// # Changing and reading
//
// [Store.Write] is the one way to change: it runs a function in a transaction
// that carries who acts, from where, and one time for all its rows. Nothing of
// it stands when the function fails. Reads run on connections that cannot
// write.
//
// # History
//
// Every change of a noun of package record writes, in the same transaction, an
// entry with number, time, who, from where, kind, identifier, version, before,
// after and reason. Entry n holds the SHA-256 of its own content and of the hash
// of entry n−1; a head row holds the number of entries and the last hash.
// [Store.Verify] walks the chain and compares every noun as it stands now, down
// to each indexed column, with its last entry.
//
// What this proves: an entry or noun that was changed, removed or added in the
// database by other means is found and named, a cut tail included. What it
// cannot prove alone: somebody who can write the database and knows this method
// can rewrite every entry, every noun and the head, and all would agree again.
// Against that, keep the head ([Store.Head]) elsewhere, on paper or in another
// system, and hand it to Verify: a rewritten past no longer leads to it.
//
// # Two people, one noun
//
// A change names the version it was made from. When the noun has moved on, the
// change is not lost and does not win: both versions and what they started from
// are kept as a [Contest], and a person decides ([Tx.Resolve]). Nothing is
// deleted; a mistaken noun is struck out with a reason and stays legible.
//
// # Engines
//
// SQLite (modernc.org/sqlite): write-ahead log, synchronous=FULL, so that what was acknowledged
// survives a power cut, immediate transactions, foreign keys, all set for each
// connection; one writing connection, and a pool that is opened read-only.
// PostgreSQL (pgx): writers are serialised by a lock on the head row, because
// the chain has one order. Text is compared by bytes on both, times are UTC text
// in microseconds, numbers are 64 bits wide.
//
// # Validity
//
// One database holds one record. A database written by a newer program is
// refused. Search folds case and accents (Unicode NFKD) and finds any fragment of a
// name or number.
package store
