"""The bridge file: JSON text that holds one mounting's offsets, checked on the way in and out."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import Field, ValidationError, ValidationInfo, field_validator

from posewatch.core.bridge import BRIDGED, Bridge, Offset
from posewatch.core.envelope import ANGLE_CHANNELS, Unit
from posewatch.core.records import Channel
from posewatch.errors import BadInput
from posewatch.store.atomic_file import write_new
from posewatch.store.validated import Moment, NotNegative, Part, first_problem

FORMAT: Final = "posewatch bridge"
FORMAT_VERSION: Final = 1
READABLE_VERSIONS = (FORMAT_VERSION,)
_ADVICE = "Name a file that `posewatch bridge` wrote."


class ChannelOffset(Part):
    """One channel's mean off the target, in unit (thigh = share of the target's thigh)."""

    channel: Channel
    unit: Unit
    mean: float
    stroke_sd: NotNegative
    stroke_lag1: Annotated[float, Field(ge=-1, le=1)]
    standard_error: NotNegative

    @field_validator("unit")
    @classmethod
    def _unit_fits(cls, value: Unit, info: ValidationInfo) -> Unit:
        channel = info.data.get("channel")
        if channel is not None and (channel in ANGLE_CHANNELS) != (value is Unit.DEG):
            raise ValueError(f"{value} is no unit of {channel}")
        return value


class BridgeDocument(Part):
    """One mounting held against a target; position is the fingerprint of the target's centres."""

    format: Literal["posewatch bridge"]
    format_version: Literal[1]
    created: Moment
    target: str
    position: str
    chain: str
    mounting: str
    kit: str
    n_strokes: Annotated[int, Field(ge=1)]
    offsets: tuple[ChannelOffset, ...]

    @field_validator("offsets")
    @classmethod
    def _are_whole(cls, value: tuple[ChannelOffset, ...]) -> tuple[ChannelOffset, ...]:
        if tuple(offset.channel for offset in value) != BRIDGED:
            raise ValueError(f"they are not those of {', '.join(BRIDGED)}")
        if len({offset.unit for offset in value}) > 2:
            raise ValueError("places are in two units")
        return value

    def bridge(self) -> Bridge:
        """Return it as the core has it."""
        parts = self.model_dump(exclude={"format", "format_version"})
        parts["offsets"] = tuple(Offset(**one) for one in parts["offsets"])
        return Bridge(**parts)


def render_bridge(bridge: Bridge) -> str:
    """Return a bridge as the text of its file.

    Raises:
        BadInput: it holds what no bridge may hold (NaN ...).
    """
    document: dict[str, Any] = {"format": FORMAT, "format_version": FORMAT_VERSION}
    document |= asdict(bridge)
    try:
        return BridgeDocument.model_validate(document).model_dump_json(indent=2) + "\n"
    except ValidationError as error:
        raise BadInput(
            f"The bridge of {bridge.mounting} cannot be kept: {first_problem(error)}.",
            "Record the mounting again.",
        ) from error


def parse_bridge(text: str, where: str) -> Bridge:
    """Read the text of a bridge file; ``where`` names its place in messages.

    Raises:
        BadInput: not JSON, not a bridge, another format version, or a value that cannot be used.
    """
    try:
        head = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BadInput(
            f"{where} is not a bridge file: it is not JSON ({error}).", _ADVICE
        ) from error
    if not isinstance(head, dict) or head.get("format") != FORMAT:
        raise BadInput(
            f'{where} is not a bridge file: it does not say "format": "{FORMAT}".', _ADVICE
        )
    version = head.get("format_version")
    if type(version) is not int or version not in READABLE_VERSIONS:
        readable = ", ".join(str(one) for one in READABLE_VERSIONS)
        raise BadInput(
            f"{where} has bridge format version {json.dumps(version)}; this program reads "
            f"{readable}.",
            "Use the program version that wrote it, or record the mounting again.",
        )
    try:
        return BridgeDocument.model_validate_json(text).bridge()
    except ValidationError as error:
        raise BadInput(
            f"{where} cannot be used: {first_problem(error)}.", "Record the mounting again."
        ) from error


def read_bridge(path: Path) -> Bridge:
    """Read one bridge file.

    Raises:
        BadInput: missing, not readable, or as :func:`parse_bridge` says.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"{path} cannot be read as a bridge file ({error}).", _ADVICE) from error
    return parse_bridge(text, str(path))


def write_bridge(bridge: Bridge, path: Path) -> None:
    """Write a bridge to a new file.

    Raises:
        BadInput: the file exists already or cannot be written.
    """
    text = render_bridge(bridge)
    try:
        write_new(path, text)
    except FileExistsError as error:
        raise BadInput(
            f"{path} exists already and was left as it is.", "Give another name, or remove it."
        ) from error
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written ({error.strerror or error}).",
            "Name a file in an existing folder that can be written to.",
        ) from error
