"""The bridge file: JSON text that holds one mounting's offsets, checked on the way in and out."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import Field, ValidationError, ValidationInfo, field_validator

from posewatch.core.bridge import BRIDGED, Bridge, Offset
from posewatch.core.envelope import ANGLE_CHANNELS, Unit
from posewatch.core.records import Channel
from posewatch.errors import BadInput
from posewatch.store.validated import (
    FileKind,
    Moment,
    NotNegative,
    Part,
    first_problem,
    write_named,
)

FORMAT: Final = "posewatch bridge"
FORMAT_VERSION: Final = 1
KIND = FileKind("bridge", FORMAT, FORMAT_VERSION, "bridge", "Record the mounting again.")


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
    KIND.require(text, where)
    try:
        return BridgeDocument.model_validate_json(text).bridge()
    except ValidationError as error:
        raise BadInput(f"{where} cannot be used: {first_problem(error)}.", KIND.again) from error


def read_bridge(path: Path) -> Bridge:
    """Read one bridge file.

    Raises:
        BadInput: missing, not readable, or as :func:`parse_bridge` says.
    """
    return parse_bridge(KIND.read(path), str(path))


def write_bridge(bridge: Bridge, path: Path) -> None:
    """Write a bridge to a new file.

    Raises:
        BadInput: the file exists already or cannot be written.
    """
    write_named(path, render_bridge(bridge))
