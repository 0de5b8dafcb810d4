"""ChaCha20-Poly1305 in plain Python, written from RFC 8439, for opening what the program sealed."""

from __future__ import annotations

import hmac
import struct

WORD = 0xFFFFFFFF


def _quarter_round(x: list[int], a: int, b: int, c: int, d: int) -> None:
    """Section 2.1."""
    for i, j, k, turn in ((a, b, d, 16), (c, d, b, 12), (a, b, d, 8), (c, d, b, 7)):
        x[i] = (x[i] + x[j]) & WORD
        x[k] ^= x[i]
        x[k] = (x[k] << turn | x[k] >> (32 - turn)) & WORD


def block(key: bytes, counter: int, nonce: bytes) -> bytes:
    """Section 2.3."""
    start = [*struct.unpack("<4I", b"expand 32-byte k"), *struct.unpack("<8I", key)]
    start += [counter, *struct.unpack("<3I", nonce)]
    x = list(start)
    for _ in range(10):
        for column in range(4):
            _quarter_round(x, column, 4 + column, 8 + column, 12 + column)
        for k in range(4):
            _quarter_round(x, k, 4 + (k + 1) % 4, 8 + (k + 2) % 4, 12 + (k + 3) % 4)
    return struct.pack("<16I", *((a + b) & WORD for a, b in zip(x, start, strict=True)))


def chacha20(key: bytes, counter: int, nonce: bytes, data: bytes) -> bytes:
    """Section 2.4."""
    blocks = range(-(-len(data) // 64))
    stream = b"".join(block(key, counter + k, nonce) for k in blocks)
    return bytes(a ^ b for a, b in zip(data, stream, strict=False))


def poly1305(key: bytes, message: bytes) -> bytes:
    """Section 2.5."""
    r = int.from_bytes(key[:16], "little") & 0x0FFFFFFC0FFFFFFC0FFFFFFC0FFFFFFF
    total = 0
    for k in range(0, len(message), 16):
        total = (total + int.from_bytes(message[k : k + 16] + b"\x01", "little")) * r
        total %= 2**130 - 5
    tag = (total + int.from_bytes(key[16:], "little")) & (2**128 - 1)
    return tag.to_bytes(16, "little")


def open_box(key: bytes, nonce: bytes, sealed: bytes, associated: bytes) -> bytes:
    """Section 2.8: return the plaintext.

    Raises:
        ValueError: the tag does not fit.
    """
    data, tag = sealed[:-16], sealed[-16:]
    pad = [b"\0" * (-len(part) % 16) for part in (associated, data)]
    lengths = struct.pack("<QQ", len(associated), len(data))
    message = associated + pad[0] + data + pad[1] + lengths
    if not hmac.compare_digest(poly1305(block(key, 0, nonce)[:32], message), tag):
        raise ValueError("the tag does not fit")
    return chacha20(key, 1, nonce, data)
