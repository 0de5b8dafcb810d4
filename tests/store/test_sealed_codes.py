"""Sealing and opening: held against the standards, and opened by other code than ours."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
import rfc8439
from made_codes import CHEAP, NAMES, PASSPHRASE, PLAN_SHA256, made_codes, sealed

from posewatch.errors import BadInput
from posewatch.store import sealed_codes
from posewatch.store.sealed_codes import (
    SCRYPT_N,
    WrongPassphrase,
    open_sealed,
    require_published,
    scrypt,
    seal,
    write_sealed,
)
from posewatch.store.sealed_document import AlteredFile, parse_sealed, read_sealed


@pytest.mark.parametrize(
    ("secret", "salt", "n", "r", "p", "key"),
    [
        (
            b"",
            b"",
            16,
            1,
            1,
            "77d6576238657b203b19ca42c18a0497f16b4844e3074ae8dfdffa3fede21442"
            "fcd0069ded0948f8326a753a0fc81f17e8d3e0fb2e0d3628cf35e20c38d18906",
        ),
        (
            b"password",
            b"NaCl",
            1024,
            8,
            16,
            "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e773"
            "76634b3731622eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640",
        ),
        (
            b"pleaseletmein",
            b"SodiumChloride",
            16384,
            8,
            1,
            "7023bdcb3afd7348461c06cd81fd38ebfda8fb"
            "ba904f8e3ea9b543f6545da1f2d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887",
        ),
    ],
)
def test_scrypt_gives_the_keys_of_rfc_7914(
    secret: bytes, salt: bytes, n: int, r: int, p: int, key: str
) -> None:
    """RFC 7914, section 12."""
    assert scrypt(secret, salt, n, r, p, 64).hex() == key


def test_the_other_cipher_of_these_tests_follows_rfc_8439() -> None:
    """RFC 8439, section 2.8.2."""
    key, nonce = bytes(range(0x80, 0xA0)), bytes.fromhex("070000004041424344454647")
    found = bytes.fromhex(
        "d31a8d34648e60db7b86afbc53ef7ec2a4aded51296e08fea9e2b5a736ee62d63dbea45e8ca9671282fafb69da"
        "92728b1a71de0a9e060b2905d6a5b67ecd3b3692ddbd7f2d778b8c9803aee328091b58fab324e4fad675945585"
        "808b4831d7bc3ff4def08e4b7a9de576d26586cec64b61161ae10b594f09e26a7e902ecbd0600691"
    )
    associated = bytes.fromhex("50515253c0c1c2c3c4c5c6c7")
    assert rfc8439.open_box(key, nonce, found, associated) == (
        b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the "
        b"future, sunscreen would be it."
    )
    with pytest.raises(ValueError, match="tag"):
        rfc8439.open_box(key, nonce, found, associated + b"\0")


def test_a_file_is_opened_by_other_code_from_its_description() -> None:
    """scrypt of hashlib, HKDF-Expand's first block of RFC 5869, section 2.3, and RFC 8439."""
    document = json.loads(sealed())
    cost = document["scrypt"]
    master = hashlib.scrypt(
        PASSPHRASE.encode(),
        salt=base64.b64decode(cost["salt"]),
        n=cost["n"],
        r=cost["r"],
        p=cost["p"],
        dklen=32,
    )

    def expanded(info: bytes) -> bytes:
        return hmac.digest(master, info + b"\x01", "sha256")

    check = expanded(b"posewatch sealed codes 1 key check")
    assert base64.b64decode(document["key_check"]) == check
    body = {key: value for key, value in document.items() if key != "body_sha256"}
    compact = json.dumps(body, sort_keys=True, separators=(",", ":"))
    assert document["body_sha256"] == hashlib.sha256(compact.encode()).hexdigest()
    head = {key: value for key, value in body.items() if key != "ciphertext"}
    plain = rfc8439.open_box(
        expanded(b"posewatch sealed codes 1 key"),
        base64.b64decode(document["cipher_nonce"]),
        base64.b64decode(document["ciphertext"]),
        json.dumps(head, sort_keys=True, separators=(",", ":")).encode(),
    )
    inside, meant = json.loads(plain), made_codes()
    assert inside["nonce"] == meant.nonce
    assert len(bytes.fromhex(inside["nonce"])) * 8 == 256
    assert inside["items"] == [
        {"name": slot.item.name, "description": slot.item.description, "card": slot.card}
        for slot in meant.slots
    ]
    assert document["codes"] == list(meant.codes)
    assert document["plan_sha256"] == PLAN_SHA256


def test_a_list_comes_back_with_the_published_hash(tmp_path: Path) -> None:
    path = tmp_path / "c.json"
    data = sealed()
    write_sealed(data, path)
    found = read_sealed(path)
    assert found.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    require_published(found, f" {found.sha256.upper()}\n")
    assert open_sealed(found, f" {PASSPHRASE} ") == made_codes()
    assert (found.codes, found.plan_sha256) == (made_codes().codes, PLAN_SHA256)


def test_by_default_a_try_costs_what_is_advised_and_still_opens() -> None:
    """2^17, 8, 1 is the first of the settings in a widely used cheat sheet on storing passwords."""
    data = seal(made_codes(), PASSPHRASE)
    assert json.loads(data)["scrypt"]["n"] == SCRYPT_N == 2**17
    assert open_sealed(parse_sealed(data, "here"), PASSPHRASE) == made_codes()


def test_the_same_list_is_sealed_otherwise_each_time() -> None:
    files = [json.loads(sealed()) for _ in range(3)]
    for key in ("key_check", "cipher_nonce", "ciphertext", "body_sha256"):
        assert len({one[key] for one in files}) == 3
    assert len({one["scrypt"]["salt"] for one in files}) == 3


def test_neither_names_nor_order_nor_passphrase_are_in_the_file() -> None:
    text = sealed().decode()
    spread = " ".join(
        base64.b64decode(run + "=" * (-len(run) % 4)).decode("latin1")
        for run in re.findall("[A-Za-z0-9+/]{8,}", text)
        if len(run) % 4 != 1
    )
    for secret in (*NAMES, "vermilion", PASSPHRASE, made_codes().nonce, '"card"'):
        assert secret not in text
        assert secret not in spread


@pytest.mark.parametrize(
    "wrong", ["", PASSPHRASE.upper(), PASSPHRASE + "x", PASSPHRASE.replace(" ", ""), "\udce9"]
)
def test_a_wrong_passphrase_is_told_as_such(wrong: str) -> None:
    found = parse_sealed(sealed(), "c.json")
    with pytest.raises(WrongPassphrase) as caught:
        open_sealed(found, wrong)
    said = "That is not the passphrase of c.json; the file itself is intact."
    assert str(caught.value).startswith(said)
    assert not wrong or wrong not in str(caught.value)


def test_a_composed_accent_opens_what_a_decomposed_one_sealed() -> None:
    found = parse_sealed(sealed("cafe\u0301 au lait, merci"), "c.json")
    assert open_sealed(found, "caf\u00e9 au lait, merci") == made_codes()


def test_a_weak_passphrase_seals_nothing() -> None:
    with pytest.raises(BadInput, match="too easily found"):
        seal(made_codes(), "short", CHEAP)


def forged(**changes: object) -> bytes:
    """A file that somebody changed, its checksum made to fit."""
    document = json.loads(sealed()) | changes
    body = {key: value for key, value in document.items() if key != "body_sha256"}
    compact = json.dumps(body, sort_keys=True, separators=(",", ":")).encode()
    document["body_sha256"] = hashlib.sha256(compact).hexdigest()
    return (json.dumps(document, indent=2) + "\n").encode()


def test_the_forger_of_these_tests_changes_nothing_by_itself() -> None:
    assert open_sealed(parse_sealed(forged(), "here"), PASSPHRASE) == made_codes()


@pytest.mark.parametrize(
    "changes",
    [
        {"codes": list(made_codes().codes[::-1])},
        {"codes": list(made_codes().codes[:2])},
        {"plan_sha256": "00" * 32},
        {"created": "2026-03-01T10:11:13+00:00"},
        {"cipher_nonce": base64.b64encode(bytes(12)).decode()},
        {"ciphertext": base64.b64encode(bytes(200)).decode()},
        {"ciphertext": ""},
    ],
    ids=lambda changes: ",".join(changes),
)
def test_a_forged_file_does_not_open(changes: dict[str, object]) -> None:
    found = parse_sealed(forged(**changes), "c.json")
    with pytest.raises(AlteredFile, match="the passphrase fits and the contents do not"):
        open_sealed(found, PASSPHRASE)


def test_a_forged_key_is_seen_by_the_published_hash() -> None:
    """Whoever forges salt or key check makes the right passphrase look wrong: that is why the
    hash is published."""
    published = parse_sealed(sealed(), "c.json").sha256
    found = parse_sealed(forged(key_check=base64.b64encode(bytes(32)).decode()), "c.json")
    with pytest.raises(WrongPassphrase):
        open_sealed(found, PASSPHRASE)
    with pytest.raises(AlteredFile, match=r"c\.json is not the published file"):
        require_published(found, published)


@pytest.mark.parametrize("odd", ["", "abc", "g" * 64, "a" * 63])
def test_what_is_no_hash_is_told(odd: str) -> None:
    with pytest.raises(BadInput, match=r"is no SHA-256\. Give the 64 hexadecimal digits"):
        require_published(parse_sealed(sealed(), "c.json"), odd)


def test_contents_that_are_no_code_list_are_not_quoted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sealed by another program: the error must not carry what was inside."""
    for plain in (b'{"items": "Quaggy"}', b"Quaggy", b'{"items": [], "nonce": "%s"}' % (b"0" * 64)):
        monkeypatch.setattr(sealed_codes, "compact", _once(plain, sealed_codes.compact))
        data = sealed()
        with pytest.raises(AlteredFile, match="the contents are no code list") as caught:
            open_sealed(parse_sealed(data, "c.json"), PASSPHRASE)
        assert caught.value.__cause__ is None
        assert caught.value.__context__ is None
        monkeypatch.undo()


def _once(first: bytes, then: object) -> object:
    """A function that answers so the first time, and then as it always does."""
    answers = iter([first])

    def answer(document: object) -> object:
        assert callable(then)
        return next(answers, None) or then(document)

    return answer


def test_nothing_is_written_over(tmp_path: Path) -> None:
    path = tmp_path / "c.json"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="exists already"):
        write_sealed(sealed(), path)
    assert path.read_text(encoding="utf-8") == "mine"
    assert [one.name for one in tmp_path.iterdir()] == ["c.json"]


def test_what_could_not_be_read_again_is_not_sealed() -> None:
    with pytest.raises(ValueError, match="plan_sha256"):
        seal(replace(made_codes(), plan_sha256="none"), PASSPHRASE, CHEAP)
