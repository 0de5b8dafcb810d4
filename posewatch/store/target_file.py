"""The target file: JSON text that holds one target, checked on the way in and on the way out."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from posewatch.core.envelope import Target
from posewatch.core.records import CONVENTION
from posewatch.errors import BadInput
from posewatch.store.target_document import FORMAT, FORMAT_VERSION, TargetDocument
from posewatch.store.validated import FileKind, first_problem

KIND = FileKind(
    "target",
    FORMAT,
    FORMAT_VERSION,
    "target capture",
    "Capture the target again.",
    {
        1: "which knew neither the leg nor how strokes and sits scatter; this cannot be made up "
        "afterwards"
    },
)


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
    KIND.require(text, where)
    try:
        return TargetDocument.model_validate_json(text).target()
    except ValidationError as error:
        raise BadInput(
            f"{where} cannot be used: {first_problem(error)}.",
            "Correct that value, or capture the target again.",
        ) from error


def read_target_file(path: Path) -> Target:
    """Read one target file.

    Raises:
        BadInput: missing, not readable, or as :func:`parse_target` says.
    """
    return parse_target(KIND.read(path), str(path))
