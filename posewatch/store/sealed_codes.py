"""Sealing a code list with a passphrase, and opening it; ``sealed_document`` has the format."""

from __future__ import annotations

import base64
import hmac
import secrets
from pathlib import Path
from typing import Any, Final

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDFExpand
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from pydantic import ValidationError

from posewatch.errors import BadInput
from posewatch.store.passphrase import as_typed, require_passphrase
from posewatch.store.sealed_document import (
    CIPHER_NONCE_BYTES,
    FORMAT,
    FORMAT_VERSION,
    KEY_BYTES,
    SALT_BYTES,
    AlteredFile,
    PlainDocument,
    SealedCodes,
    SealedDocument,
    altered,
    compact,
    render,
    sha256_of,
    to_base64,
)
from posewatch.store.validated import write_named
from posewatch.trials.code_list import CARD_LETTERS, CodedItem, CodeList, Item

#: 128 MB of memory, and a third of a second or so for each try at the passphrase.
SCRYPT_N = 2**17
SCRYPT_R: Final = 8
SCRYPT_P: Final = 1
KEY_INFO = b"posewatch sealed codes 1 key"
CHECK_INFO = b"posewatch sealed codes 1 key check"


class WrongPassphrase(BadInput):
    """The file is as it was sealed; the passphrase is another one."""


def seal(code_list: CodeList, passphrase: str, n: int = SCRYPT_N) -> bytes:
    """Return the bytes of the sealed file of a code list; n is scrypt's cost.

    Raises:
        BadInput: the passphrase is too easily found.
    """
    salt = secrets.token_bytes(SALT_BYTES)
    key, check = _keys(require_passphrase(passphrase), salt, n)
    cipher_nonce = secrets.token_bytes(CIPHER_NONCE_BYTES)
    head: dict[str, Any] = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "created": code_list.created,
        "plan_sha256": code_list.plan_sha256,
        "codes": code_list.codes,
        "scrypt": {"n": n, "r": SCRYPT_R, "p": SCRYPT_P, "salt": to_base64(salt)},
        "key_check": to_base64(check),
        "cipher_nonce": to_base64(cipher_nonce),
    }
    plain = {
        "items": [
            {"name": slot.item.name, "description": slot.item.description, "card": slot.card}
            for slot in code_list.slots
        ],
        "nonce": code_list.nonce,
    }
    sealed = ChaCha20Poly1305(key).encrypt(cipher_nonce, compact(plain), compact(head))
    body = head | {"ciphertext": to_base64(sealed)}
    whole = body | {"body_sha256": sha256_of(compact(body))}
    # What could not be read again is not written.
    return render(SealedDocument.model_validate(whole).model_dump(mode="json"))


def write_sealed(data: bytes, path: Path) -> None:
    """Write the bytes of a sealed file to a new file.

    Raises:
        BadInput: the file exists already, or cannot be written.
    """
    write_named(path, data.decode("ascii"))


def open_sealed(sealed: SealedCodes, passphrase: str) -> CodeList:
    """Return the code list of a sealed file.

    Raises:
        WrongPassphrase: the file is intact, the passphrase another one.
        AlteredFile: somebody changed the file and made its checksum fit.
    """
    document = sealed.document
    salt = base64.b64decode(document.scrypt.salt)
    key, check = _keys(as_typed(passphrase), salt, document.scrypt.n)
    if not hmac.compare_digest(check, base64.b64decode(document.key_check)):
        raise WrongPassphrase(
            f"That is not the passphrase of {sealed.where}; the file itself is intact.",
            "Read it from its slip again: capitals, spaces and hyphens count.",
        )
    head = document.model_dump(mode="json", exclude={"ciphertext", "body_sha256"})
    try:
        plain = ChaCha20Poly1305(key).decrypt(
            base64.b64decode(document.cipher_nonce),
            base64.b64decode(document.ciphertext),
            compact(head),
        )
    except InvalidTag:
        raise altered(sealed.where, "the passphrase fits and the contents do not") from None
    return _code_list(document, plain, sealed.where)


def require_published(sealed: SealedCodes, sha256: str) -> None:
    """Refuse a file that is not the one whose SHA-256 was published.

    Raises:
        AlteredFile: it is another one.
        BadInput: that is no SHA-256.
    """
    published = sha256.strip().lower()
    if len(published) != 64 or not set(published) <= set("0123456789abcdef"):
        raise BadInput(
            f"{sha256!r} is no SHA-256.", "Give the 64 hexadecimal digits that were published."
        )
    if published != sealed.sha256:
        raise AlteredFile(
            f"{sealed.where} is not the published file: its SHA-256 is {sealed.sha256}.",
            "Find the file that was published; without it nothing shows which item had which code.",
        )


def scrypt(secret: bytes, salt: bytes, n: int, r: int, p: int, length: int) -> bytes:
    """Return a key of so many bytes (RFC 7914)."""
    return Scrypt(salt=salt, length=length, n=n, r=r, p=p).derive(secret)


def _keys(secret: str, salt: bytes, n: int) -> tuple[bytes, bytes]:
    """Return the cipher's key and the value by which a wrong passphrase is told."""
    # What a terminal could not decode comes as lone surrogates, which plain UTF-8 refuses.
    typed = secret.encode("utf-8", "surrogatepass")
    master = scrypt(typed, salt, n, SCRYPT_R, SCRYPT_P, KEY_BYTES)
    key, check = (
        HKDFExpand(SHA256(), KEY_BYTES, info).derive(master) for info in (KEY_INFO, CHECK_INFO)
    )
    return key, check


def _code_list(document: SealedDocument, plain: bytes, where: str) -> CodeList:
    """Return what the plaintext holds, under the codes outside of it."""
    try:
        inside = PlainDocument.model_validate_json(plain)
    except ValidationError:
        inside = None  # the error would quote what is secret
    cards = list(CARD_LETTERS[: len(document.codes)])
    if inside is None or sorted(one.card for one in inside.items) != cards:
        raise altered(where, "the contents are no code list")
    slots = tuple(
        CodedItem(code, one.card, Item(one.name, one.description))
        for code, one in zip(document.codes, inside.items, strict=True)
    )
    return CodeList(slots, inside.nonce, document.plan_sha256, document.created)
