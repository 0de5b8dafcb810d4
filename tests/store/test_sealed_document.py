"""A sealed file that was changed is told without its passphrase, whichever byte it was."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from made_codes import sealed

from posewatch.errors import BadInput
from posewatch.store.sealed_document import (
    MOST_FILE_BYTES,
    MOST_SCRYPT_N,
    AlteredFile,
    parse_sealed,
    read_sealed,
)

HEAD = sealed().index(b'"created"')


def test_any_changed_byte_is_told() -> None:
    data = sealed()
    for place in range(len(data)):
        for mask in (0x01, 0x20, 0x80):
            changed = bytearray(data)
            changed[place] ^= mask
            # Format and version stand first: they may say that it is no such file at all.
            expected = AlteredFile if place >= HEAD else BadInput
            with pytest.raises(expected):
                parse_sealed(bytes(changed), "c.json")


def test_any_lost_or_added_byte_is_told() -> None:
    data = sealed()
    for place in range(HEAD, len(data)):
        for changed in (data[:place] + data[place + 1 :], data[:place] + b" " + data[place:]):
            with pytest.raises(AlteredFile, match=r"^c\.json was altered or damaged since"):
                parse_sealed(changed, "c.json")
    for place in range(HEAD, len(data)):
        with pytest.raises(AlteredFile):
            parse_sealed(data[:place], "c.json")


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data.replace(b"\n", b"\r\n"),
        lambda data: b"\xef\xbb\xbf" + data,
        lambda data: data + b"\n",
        lambda data: json.dumps(json.loads(data)).encode(),
        lambda data: json.dumps(json.loads(data), indent=2, sort_keys=True).encode() + b"\n",
        lambda data: data.replace(b'"r": 8,', b'"r": 8,\n    "r": 8,'),
        lambda data: data.replace(b'"p": 1', b'"p": 1.0'),
    ],
)
def test_the_same_contents_in_other_bytes_are_told(change: Callable[[bytes], bytes]) -> None:
    with pytest.raises(AlteredFile):
        parse_sealed(change(sealed()), "c.json")


def scrypt(**changes: Any) -> Callable[[dict[str, Any]], None]:
    return lambda document: document["scrypt"].update(changes)


def top(**changes: Any) -> Callable[[dict[str, Any]], None]:
    return lambda document: document.update(changes)


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (scrypt(n=2 * MOST_SCRYPT_N), f"scrypt.n: {2 * MOST_SCRYPT_N} is no power of two up to"),
        (scrypt(n=2**62), "scrypt.n: "),
        (scrypt(n=3), "scrypt.n: 3 is no power of two"),
        (scrypt(n=1), "scrypt.n: 1 is no power of two"),
        (scrypt(n=0), "scrypt.n: "),
        (scrypt(n=-16), "scrypt.n: "),
        (scrypt(n="16"), "scrypt.n: "),
        (scrypt(r=2**20), "scrypt.r: input should be 8"),
        (scrypt(p=2**20), "scrypt.p: input should be 1"),
        (scrypt(salt="AAAA"), "scrypt.salt: it has 3 bytes instead of 16"),
        (top(key_check="AAAA"), "key_check: it has 3 bytes instead of 32"),
        (top(cipher_nonce="AAAA"), "cipher_nonce: it has 3 bytes instead of 12"),
        (top(ciphertext="?"), "ciphertext: it is not base64"),
        (top(codes=[]), "codes: "),
        (top(codes=["K4"] * 9), "codes: "),
        (top(codes=["K4", "O0"]), "codes[1]: "),
        (top(plan_sha256="x"), "plan_sha256: "),
        (top(created="today"), "created: 'today' is no date"),
        (top(colour="red"), "colour: this key is not known"),
        (lambda document: document.pop("salt", document.pop("scrypt")), "scrypt: this key is miss"),
    ],
)
def test_values_that_cannot_be_are_named_and_no_memory_is_taken(
    damage: Callable[[dict[str, Any]], None], said: str
) -> None:
    document = json.loads(sealed())
    damage(document)
    with pytest.raises(AlteredFile) as caught:
        parse_sealed(json.dumps(document, indent=2).encode(), "c.json")
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("version", [0, 2, "1", True, None])
def test_another_format_version_is_refused(version: object) -> None:
    document = json.loads(sealed()) | {"format_version": version}
    with pytest.raises(BadInput, match="this program reads 1"):
        parse_sealed(json.dumps(document, indent=2).encode(), "c.json")


@pytest.mark.parametrize(
    "data", [b"", b"{", b"[]", b"\xff\xfe\x00", b'{"format": "posewatch plan"}', b"[" * 100_000]
)
def test_what_is_no_code_list_is_told_as_such(data: bytes) -> None:
    with pytest.raises(BadInput, match=r"^c\.json is not a code list file\. Name a file that"):
        parse_sealed(data, "c.json")


def test_nesting_and_numbers_without_end_are_only_altered_files() -> None:
    for data in (b'["posewatch sealed codes",' + b"[" * 50_000, b"[" + b"9" * 50_000 + b"]"):
        with pytest.raises(BadInput):
            parse_sealed(data + b" posewatch sealed codes", "c.json")


def test_a_huge_file_is_not_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "c.json"
    with path.open("wb") as file:
        file.write(sealed())
        file.truncate(2**36)
    with pytest.raises(BadInput, match="is not a code list file"):
        read_sealed(path)
    assert len(sealed()) < MOST_FILE_BYTES / 20


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"There is no code list file .*gone"):
        read_sealed(tmp_path / "gone")
    with pytest.raises(BadInput, match="cannot be read as a code list file"):
        read_sealed(tmp_path)
