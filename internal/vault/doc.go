// Package vault keeps large files (scans, films, documents) by the SHA-256 of
// their content (FIPS 180-4), in a local folder or in an object store that
// speaks the S3 protocol. The same content is stored once. There is no way to
// delete content: the record may refer to it for ever.
//
// # Layout
//
// All names are made of hash or random digits; nothing of a patient and no
// original file name is in them.
//
//	format             what this folder is; a check of the key
//	content/…          the bytes, as chunks one after another
//	manifest/ab/NAME   which chunks, their SHA-256, where the bytes are
//	uploads/…          unfinished uploads, the only thing that Sweep removes
//
// A manifest is written last, by one atomic step; until then the content does
// not exist for readers. In a local folder without encryption the content lies
// at content/ab/HASH as the plain bytes, so that sha256sum and any player can
// do without this package. In an object store it lies under a random name that
// the manifest tells: an upload of unknown length needs its name before its
// hash is known, and completing it there costs no copy.
//
// # Verified reading
//
// Content is cut into chunks of 4 MiB. A reader fetches whole chunks and
// compares each with its SHA-256 in the manifest before it hands out a byte;
// who reads from the first byte to the last also has the whole compared with
// the content hash. The manifest carries a seal of its own. Without a key the
// seal is a SHA-256: every accident is found by any read, but a person who can
// write to the folder and alters chunk, manifest and seal together is found
// only by reading the whole or by Verify. With a key the seal is an
// HMAC-SHA-256 (RFC 2104), which such a person cannot make.
//
// # Resuming
//
// An upload becomes durable part by part (four chunks); the state beside it
// holds chunk hashes, the intermediate state of SHA-256 and the receipts of the
// parts. Resuming reads local parts again and compares them; in an object store
// it compares the receipts that the store lists. See Upload.
//
// # Encryption at rest
//
// With a Key each chunk is an age file of its own (age-encryption.org/v1, X25519
// and ChaCha20-Poly1305 in STREAM, through filippo.io/age): an upload can go on
// after a restart, which one age stream cannot, and any chunk can be read
// alone. Manifests and upload states are encrypted too. The hash is that of
// the plain content, so the same content is still stored once.
//
// What the names then reveal: a plain hash as a name would let anyone who has
// the folder, and a file in hand, tell whether this file is in it. So with a
// key the name is HMAC-SHA-256(key, content hash). What remains visible is the
// number of contents, their sizes to the byte (the overhead of age is fixed),
// when they were written, and in backups over time, which are new.
//
// The key is an X25519 identity in a file that is encrypted with a passphrase
// (scrypt, RFC 7914); the passphrase is paid for once when the key file is
// opened. Who loses the key file or the passphrase loses the contents.
//
// # Limits
//
// Memory: one part, one chunk and their encrypted forms, below 64 MiB for each
// reader or upload whatever the size of the content. Most 2^20 chunks (4 TiB);
// in an object store 10,000 parts (156 GiB), the limit of the protocol. Disks
// that say "written" and forget it cannot be detected when writing; Verify
// finds them.
package vault
