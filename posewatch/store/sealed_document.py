"""The sealed code list: a file that shows which codes there are, and only with its passphrase more.

The file is JSON in ASCII, as :func:`render` writes it, to the byte. In clear: codes in the order
of the plan's items, SHA-256 of the plan's file, time. How it is sealed:

* the passphrase, spaces at its ends taken away, in Unicode form NFC and UTF-8, gives 32 bytes by
  scrypt (RFC 7914) with the ``salt``, ``n``, ``r`` and ``p`` of ``scrypt``;
* from these HKDF-Expand with SHA-256 (RFC 5869) makes two values of 32 bytes that tell nothing of
  each other: with info ``posewatch sealed codes 1 key`` the key, with ``posewatch sealed codes 1
  key check`` the ``key_check``, by which a wrong passphrase is told from an altered file;
* ``ciphertext`` is ChaCha20-Poly1305 (RFC 8439) of the items' names with that key, ``cipher_nonce``
  and, as associated data, everything else but ``body_sha256``, as JSON with sorted keys and
  without spaces;
* ``body_sha256`` is of everything but itself, in that same form: damage shows without a
  passphrase. Against somebody who reckons it anew, there is the published SHA-256 of the file.

Bytes are in base64. The plaintext is JSON, ``{"items": [{"name", "description", "card"} in the
order of the codes], "nonce": 256 random bits in hexadecimal}``.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import AfterValidator, Field, ValidationError

from posewatch.errors import BadInput
from posewatch.store.validated import FileKind, Moment, Part, first_problem
from posewatch.trials.code_list import (
    CARD_LETTERS,
    CODE_PATTERN,
    MOST_DESCRIPTION,
    MOST_NAME,
    NONCE_BYTES,
)
from posewatch.trials.words import FEWEST_ITEMS, MOST_ITEMS

FORMAT: Final = "posewatch sealed codes"
FORMAT_VERSION: Final = 1
KIND = FileKind("code list", FORMAT, FORMAT_VERSION, "codes seal", "Seal the codes again.")
MOST_FILE_BYTES = 100_000
SALT_BYTES = 16
CIPHER_NONCE_BYTES = 12
KEY_BYTES = 32
#: scrypt takes 128 * n * r bytes of memory, and more than 256 MB for no file, whatever it asks for.
MOST_SCRYPT_N = 2**18


class AlteredFile(BadInput):
    """The file is not as it was sealed, or not the one that was published."""


def _base64_of(n_bytes: int | None) -> AfterValidator:
    def check(value: str) -> str:
        try:
            found = base64.b64decode(value, validate=True)
        except ValueError:
            raise ValueError("it is not base64") from None
        if n_bytes is not None and len(found) != n_bytes:
            raise ValueError(f"it has {len(found)} bytes instead of {n_bytes}")
        return value

    return AfterValidator(check)


def _is_cost(value: int) -> int:
    if not 2 <= value <= MOST_SCRYPT_N or value & (value - 1):
        raise ValueError(f"{value} is no power of two up to {MOST_SCRYPT_N}")
    return value


Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class ScryptPart(Part):
    """How the passphrase becomes a key; bounded, so that no file can exhaust the memory."""

    n: Annotated[int, AfterValidator(_is_cost)]
    r: Literal[8]
    p: Literal[1]
    salt: Annotated[str, _base64_of(SALT_BYTES)]


class SealedDocument(Part):
    """The whole file."""

    format: Literal["posewatch sealed codes"]
    format_version: Literal[1]
    created: Moment
    plan_sha256: Sha256
    codes: Annotated[
        tuple[Annotated[str, Field(pattern=CODE_PATTERN)], ...],
        Field(min_length=FEWEST_ITEMS, max_length=MOST_ITEMS),
    ]
    scrypt: ScryptPart
    key_check: Annotated[str, _base64_of(KEY_BYTES)]
    cipher_nonce: Annotated[str, _base64_of(CIPHER_NONCE_BYTES)]
    ciphertext: Annotated[str, _base64_of(None)]
    body_sha256: Sha256


class ItemPart(Part):
    """One item in the plaintext."""

    name: Annotated[str, Field(min_length=1, max_length=MOST_NAME)]
    description: Annotated[str, Field(max_length=MOST_DESCRIPTION)]
    card: Annotated[str, Field(pattern=f"^[{CARD_LETTERS}]$")]


class PlainDocument(Part):
    """The plaintext."""

    items: tuple[ItemPart, ...]
    nonce: Annotated[str, Field(pattern=f"^[0-9a-f]{{{2 * NONCE_BYTES}}}$")]


@dataclass(frozen=True, slots=True)
class SealedCodes:
    """A sealed file that is intact, still closed.

    where: its place in messages. sha256: of its bytes, the one to publish. codes: in the order of
    the plan's items.
    """

    where: str
    sha256: str
    created: str
    plan_sha256: str
    codes: tuple[str, ...]
    document: SealedDocument


def read_sealed(path: Path) -> SealedCodes:
    """Read a sealed file without opening it.

    Raises:
        AlteredFile: it is not as it was sealed.
        BadInput: missing, not readable, no sealed code list, or of another version.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MOST_FILE_BYTES + 1)
    except FileNotFoundError as error:
        raise BadInput(f"There is no code list file {path}.", KIND.advice) from error
    except OSError as error:
        raise BadInput(
            f"{path} cannot be read as a code list file ({error.strerror or error}).", KIND.advice
        ) from error
    return parse_sealed(data, str(path))


def parse_sealed(data: bytes, where: str) -> SealedCodes:
    """Read the bytes of a sealed file; ``where`` names its place in messages.

    Raises:
        AlteredFile, BadInput: as :func:`read_sealed` says.
    """
    text = data.decode("ascii", "replace")
    if FORMAT not in text or len(data) > MOST_FILE_BYTES:
        raise BadInput(f"{where} is not a code list file.", KIND.advice)
    try:
        json.loads(text)
    except (ValueError, RecursionError) as error:
        raise altered(where, "it is not JSON any more") from error
    KIND.require(text, where)
    try:
        document = SealedDocument.model_validate_json(text)
    except ValidationError as error:
        raise altered(where, first_problem(error)) from error
    whole = document.model_dump(mode="json")
    body = {key: value for key, value in whole.items() if key != "body_sha256"}
    if sha256_of(compact(body)) != document.body_sha256 or render(whole) != data:
        raise altered(where, "what it holds does not fit its own checksum")
    return SealedCodes(
        where,
        sha256_of(data),
        document.created,
        document.plan_sha256,
        document.codes,
        document,
    )


def sha256_of(data: bytes) -> str:
    """Return the SHA-256 in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def altered(where: str, problem: str) -> AlteredFile:
    """Return the error for a file that is not as it was sealed."""
    return AlteredFile(
        f"{where} was altered or damaged since it was sealed: {problem}.",
        "Take an untouched copy of it.",
    )


def to_base64(data: bytes) -> str:
    """Return bytes as text."""
    return base64.b64encode(data).decode("ascii")


def compact(document: Mapping[str, Any]) -> bytes:
    """Return JSON with sorted keys and without spaces, in ASCII."""
    return json.dumps(document, sort_keys=True, separators=(",", ":")).encode("ascii")


def render(document: Mapping[str, Any]) -> bytes:
    """Return the file's bytes."""
    return (json.dumps(document, indent=2) + "\n").encode("ascii")
