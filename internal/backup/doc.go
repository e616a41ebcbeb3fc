// Package backup writes the whole record into one file and brings it back, on
// the same or on the other database.
//
// # What is in the file
//
// A backup is a tar archive (POSIX.1-2001, pax headers where a size needs them),
// whole or inside the encryption of package filippo.io/age:
//
//	backup.json               what wrote it, when, the version of the tables, the head of the history
//	tables/NAME/000001.json.gz   the rows of one table, parents before children, in parts
//	files/SHA256              the files of the vault, each once
//	sums.json                 every member above with its length and SHA-256, and the rows of each table
//
// The first line of a table's part is its columns with their types, every other
// line one row as a JSON array: text, whole numbers in full, numbers of 64 bits
// in the shortest form that reads back the same, bytes as base64.
//
// # What it rests on
//
// All tables are read in one transaction, so the file shows one moment while
// others go on writing. The vault is read after the tables: it only ever grows,
// so everything that the tables name is there. Sessions and jobs are left out:
// who restores starts with nobody signed in and nothing running.
//
// The file is written beside its place and moved there when it is complete and
// on the disk; an old file is never overwritten.
//
// # Restoring
//
// A backup goes only into a record in which nothing was written yet. Nothing of
// it stands unless every sum was right and the history, followed from its first
// entry, ends at the head that the backup names.
//
// What a checksum cannot do: somebody who can rewrite the file can rewrite its
// sums. An encrypted backup is safe from being read, and from being changed by
// somebody who does not know the public key; keep the head of the history
// elsewhere to be sure of the content.
package backup
