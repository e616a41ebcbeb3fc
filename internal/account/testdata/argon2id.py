"""Writes argon2id.csv with the reference implementation of argon2 (libargon2).

First shows that the library gives the test vector of RFC 9106, section 5.3,
which has a secret and associated data that our Go library offers no way to
hand in; then hashes passphrases without them.

Usage: python3 argon2id.py > argon2id.csv   (Debian: libargon2-1)
"""

import ctypes
import sys

library = ctypes.CDLL("libargon2.so.1")


class Context(ctypes.Structure):
    _fields_ = [
        ("out", ctypes.c_char_p), ("outlen", ctypes.c_uint32),
        ("pwd", ctypes.c_char_p), ("pwdlen", ctypes.c_uint32),
        ("salt", ctypes.c_char_p), ("saltlen", ctypes.c_uint32),
        ("secret", ctypes.c_char_p), ("secretlen", ctypes.c_uint32),
        ("ad", ctypes.c_char_p), ("adlen", ctypes.c_uint32),
        ("t_cost", ctypes.c_uint32), ("m_cost", ctypes.c_uint32),
        ("lanes", ctypes.c_uint32), ("threads", ctypes.c_uint32),
        ("version", ctypes.c_uint32),
        ("allocate", ctypes.c_void_p), ("free", ctypes.c_void_p),
        ("flags", ctypes.c_uint32),
    ]


def argon2id(passphrase, salt, passes, memory, lanes, size, secret=b"", data=b""):
    out = ctypes.create_string_buffer(size)
    context = Context(
        ctypes.cast(out, ctypes.c_char_p), size, passphrase, len(passphrase), salt, len(salt),
        secret, len(secret), data, len(data), passes, memory, lanes, lanes, 0x13, None, None, 0)
    failed = library.argon2id_ctx(ctypes.byref(context))
    if failed:
        sys.exit("libargon2 failed with %d" % failed)
    return out.raw


rfc = argon2id(b"\x01" * 32, b"\x02" * 16, 3, 32, 4, 32, b"\x03" * 8, b"\x04" * 12)
if rfc.hex() != "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659":
    sys.exit("libargon2 does not give the vector of RFC 9106, section 5.3: " + rfc.hex())

print("passphrase_hex,salt_hex,passes,memory_kib,lanes,hash_hex")
for passphrase, salt, passes, memory, lanes, size in [
    (b"\x01" * 32, b"\x02" * 16, 3, 32, 4, 32),  # the RFC's, without secret and data
    (b"password", b"somesalt", 1, 64, 1, 24),
    (b"four quiet herons over the weir", b"0123456789abcdef", 1, 64, 1, 32),
    (b"four quiet herons over the weir", b"0123456789abcdef", 2, 19456, 1, 32),
    (b"four quiet herons over the weir", b"0123456789abcdef", 3, 65536, 4, 32),
    ("vier stille Reiher über dem Wehr µ".encode(), bytes(range(16)), 3, 4096, 2, 32),
    (b"x" * 1024, bytes(range(16)), 2, 256, 3, 64),
]:
    hashed = argon2id(passphrase, salt, passes, memory, lanes, size)
    print(passphrase.hex(), salt.hex(), passes, memory, lanes, hashed.hex(), sep=",")
