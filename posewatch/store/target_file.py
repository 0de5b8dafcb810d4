"""The target file: JSON text that holds one target, checked on the way in and on the way out."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from posewatch.core.envelope import Target
from posewatch.core.records import CONVENTION
from posewatch.errors import BadInput
from posewatch.store.target_document import FORMAT, FORMAT_VERSION, TargetDocument
from posewatch.store.validated import first_problem

READABLE_VERSIONS = (FORMAT_VERSION,)


def render_target(target: Target) -> str:
    """Return the target as the text of a target file.

    Raises:
        BadInput: the target holds what no target may hold (NaN, a missing channel ...).
    """
    document: dict[str, Any] = asdict(target)
    document |= {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "convention": CONVENTION,
    }
    document["chain"]["fingerprint"] = target.chain.fingerprint()
    try:
        return TargetDocument.model_validate(document).model_dump_json(indent=2) + "\n"
    except ValidationError as error:
        raise BadInput(
            f"The target of {target.rider}, {target.bike}, {target.hands} cannot be kept: "
            f"{first_problem(error)}.",
            "Correct that value, or capture it again.",
        ) from error


def parse_target(text: str, where: str) -> Target:
    """Read the text of a target file; ``where`` names its place in messages.

    Raises:
        BadInput: not JSON, not a target, another format version, or a value that cannot be used.
    """
    try:
        head = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BadInput(
            f"{where} is not a target file: it is not JSON ({error}).",
            "Name a file that `posewatch target capture` wrote.",
        ) from error
    if not isinstance(head, dict) or head.get("format") != FORMAT:
        raise BadInput(
            f'{where} is not a target file: it does not say "format": "{FORMAT}".',
            "Name a file that `posewatch target capture` wrote.",
        )
    _require_readable(head.get("format_version"), where)
    try:
        return TargetDocument.model_validate_json(text).target()
    except ValidationError as error:
        raise BadInput(
            f"{where} cannot be used: {first_problem(error)}.",
            "Correct that value, or capture the target again.",
        ) from error


def _require_readable(version: object, where: str) -> None:
    # True == 1, and 2.0 == 2: only whole numbers are versions.
    if type(version) is int and version in READABLE_VERSIONS:
        return
    if version == 1 and type(version) is int:
        raise BadInput(
            f"{where} has target format version 1, which knew neither the leg nor how strokes and "
            "sits scatter; this cannot be made up afterwards.",
            "Capture the target again.",
        )
    newer = type(version) is int and version > FORMAT_VERSION
    readable = ", ".join(str(version) for version in READABLE_VERSIONS)
    raise BadInput(
        f"{where} has target format version {json.dumps(version)}; this program reads {readable}.",
        "Use the newer program that wrote it." if newer else "Capture the target again.",
    )


def read_target_file(path: Path) -> Target:
    """Read one target file.

    Raises:
        BadInput: missing, not readable, or as :func:`parse_target` says.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise BadInput(
            f"There is no target file {path}.", "`posewatch target list` shows the saved targets."
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(
            f"{path} cannot be read as a target file ({error}).",
            "Name a file that `posewatch target capture` wrote.",
        ) from error
    return parse_target(text, str(path))
