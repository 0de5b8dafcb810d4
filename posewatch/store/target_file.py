"""The target file: JSON text that holds one target, checked on the way in and on the way out."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from posewatch.core.envelope import ANGLE_CHANNELS, Envelope, Segments, Target
from posewatch.core.pedal_circle import CrankGeometry
from posewatch.core.records import BODY_CHANNELS, CONVENTION, Channel, MeasuringChain, Side
from posewatch.errors import BadInput

FORMAT: Final = "posewatch target"
FORMAT_VERSION: Final = 1
READABLE_VERSIONS = (1,)

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Count = Annotated[int, Field(ge=0)]


class _Part(BaseModel):
    """No unknown keys, no NaN or infinity, no text where a number belongs."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


class _Chain(_Part):
    camera_profile: str
    width_px: Annotated[int, Field(gt=0)]
    height_px: Annotated[int, Field(gt=0)]
    rate_hz: Positive
    model_name: str
    model_sha256: str
    pose_library: str
    pose_workers: Annotated[int, Field(ge=1)]
    kit: str
    fingerprint: str

    def chain(self) -> MeasuringChain:
        return MeasuringChain(**self.model_dump(exclude={"fingerprint"}))

    @model_validator(mode="after")
    def _fingerprint_fits(self) -> Self:
        if self.fingerprint != self.chain().fingerprint():
            raise ValueError("the fingerprint does not belong to this chain; it was altered")
        return self


class _Envelope(_Part):
    channel: Channel
    unit: Literal["deg", "thigh"]
    tol: Positive
    required: bool
    stroke_sd: NotNegative
    shape_limit: NotNegative
    shape_required: bool
    centre: tuple[tuple[float, ...], ...]

    @model_validator(mode="after")
    def _fits_its_channel(self) -> Self:
        if self.channel not in BODY_CHANNELS:
            raise ValueError(f"{self.channel} is not a body channel; effort belongs to the plan")
        unit = "deg" if self.channel in ANGLE_CHANNELS else "thigh"
        if self.unit != unit:
            raise ValueError(f"the unit of {self.channel} is {unit}, not {self.unit}")
        n_curves = 2 if self.channel is Channel.HAND_PLACE else 1
        if len(self.centre) != n_curves:
            raise ValueError(
                f"the centre of {self.channel} has {n_curves} curve(s), not {len(self.centre)}"
            )
        for curve in self.centre:
            if len(curve) % 2 == 0:
                raise ValueError(
                    f"a centre curve of {self.channel} has {len(curve)} coefficients; a mean and "
                    "pairs of harmonics make an odd number (13 for six harmonics)"
                )
        return self


class _Crank(_Part):
    centre_x_px: float
    centre_y_px: float
    radius_px: Positive
    angle_map: tuple[float, ...]

    @model_validator(mode="after")
    def _map_has_pairs(self) -> Self:
        if len(self.angle_map) % 2 or not self.angle_map:
            raise ValueError(
                f"angle_map has {len(self.angle_map)} coefficients; cos and sin come in pairs"
            )
        return self


class _Segments(_Part):
    trunk_px: Positive
    thigh_px: Positive
    shank_px: Positive


class _TargetDocument(_Part):
    format: Literal["posewatch target"] = FORMAT
    format_version: Literal[1] = FORMAT_VERSION
    convention: str
    created: str
    rider: str
    bike: str
    hands: str
    version: Count
    chain: _Chain
    side: Side
    envelopes: tuple[_Envelope, ...]
    crank: _Crank
    segments: _Segments
    n_strokes: Count
    n_dropped: Count
    cadence_rpm: Positive
    note: str

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        if self.convention != CONVENTION:
            raise ValueError(f"its angles follow another convention than: {CONVENTION}")
        found = [envelope.channel for envelope in self.envelopes]
        for channel in BODY_CHANNELS:
            if channel not in found:
                raise ValueError(f"the channel {channel} is missing")
            if found.count(channel) > 1:
                raise ValueError(f"the channel {channel} is there {found.count(channel)} times")
        return self

    def target(self) -> Target:
        parts = {e.channel: Envelope(**e.model_dump()) for e in self.envelopes}
        return Target(
            rider=self.rider,
            bike=self.bike,
            hands=self.hands,
            version=self.version,
            chain=self.chain.chain(),
            side=self.side,
            envelopes=tuple(parts[channel] for channel in BODY_CHANNELS),
            crank=CrankGeometry(**self.crank.model_dump()),
            segments=Segments(**self.segments.model_dump()),
            n_strokes=self.n_strokes,
            n_dropped=self.n_dropped,
            cadence_rpm=self.cadence_rpm,
            note=self.note,
        )


def render_target(target: Target) -> str:
    """Return the target as the text of a target file, stamped with the wall time of now.

    Raises:
        BadInput: the target holds what no target may hold (NaN, a missing channel ...).
    """
    document: dict[str, Any] = asdict(target)
    document["convention"] = CONVENTION
    document["created"] = datetime.now(UTC).astimezone().isoformat(timespec="seconds")
    document["chain"]["fingerprint"] = target.chain.fingerprint()
    try:
        return _TargetDocument.model_validate(document).model_dump_json(indent=2) + "\n"
    except ValidationError as error:
        raise BadInput(
            f"The target of {target.rider}, {target.bike}, {target.hands} cannot be kept: "
            f"{_first_problem(error)}.",
            "Capture it again.",
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
    if head.get("format_version") not in READABLE_VERSIONS:
        readable = ", ".join(str(version) for version in READABLE_VERSIONS)
        raise BadInput(
            f"{where} has target format version {head.get('format_version')}; this program reads "
            f"{readable}.",
            "Use the program version that wrote it, or capture the target again.",
        )
    try:
        return _TargetDocument.model_validate_json(text).target()
    except ValidationError as error:
        raise BadInput(
            f"{where} cannot be used: {_first_problem(error)}.",
            "Correct that value, or capture the target again.",
        ) from error


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


def _first_problem(error: ValidationError) -> str:
    """Say in one line where the first thing wrong is, and what is wrong with it."""
    problem = error.errors(include_url=False)[0]
    place = ""
    for step in problem["loc"]:
        place += f"[{step}]" if isinstance(step, int) else f".{step}" if place else step
    if problem["type"] == "value_error":
        said = problem["msg"].removeprefix("Value error, ")
    elif problem["type"] in ("missing", "extra_forbidden"):
        said = "this key is missing" if problem["type"] == "missing" else "this key is not known"
    else:
        said = f"{problem['msg'][:1].lower()}{problem['msg'][1:]}, found {problem['input']!r:.60}"
    return f"{place}: {said}" if place else said
