"""What a target file may hold, as a pydantic model and as the published JSON Schema."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from posewatch.core.envelope import (
    ANGLE_CHANNELS,
    Envelope,
    LengthUnit,
    Segments,
    Target,
    Unit,
)
from posewatch.core.leg_chain import CURVE_ORDER as LEG_ORDER
from posewatch.core.leg_chain import N_COORDINATES, LegCurves
from posewatch.core.measuring_chain import MeasuringChain, PointSource, ViewedFrom
from posewatch.core.pedal_circle import CrankGeometry
from posewatch.core.records import BODY_CHANNELS, CONVENTION, Channel, Side
from posewatch.store.validated import Count, Moment, NotNegative, Part, Positive

FORMAT: Final = "posewatch target"
FORMAT_VERSION: Final = 2
SCHEMA_FILE = Path(__file__).with_name("target.schema.json")
_DIALECT = "https://json-schema.org/draft/2020-12/schema"


class View(Part):
    """Where a calibrated camera stands beside the bike; lens is its calibration's fingerprint."""

    lens: str
    yaw_deg: float
    pitch_deg: float
    distance_mm: Positive


class Chain(Part):
    """The measuring chain; fingerprint belongs to the values above it. view null = uncalibrated."""

    camera_profile: str
    width_px: Annotated[int, Field(gt=0)]
    height_px: Annotated[int, Field(gt=0)]
    rate_hz: Positive
    model_name: str
    model_sha256: str
    pose_library: str
    pose_workers: Annotated[int, Field(ge=1)]
    kit: str
    view: View | None
    points: PointSource
    fingerprint: str

    def chain(self) -> MeasuringChain:
        """Return it as the core has it."""
        view = None if self.view is None else ViewedFrom(**self.view.model_dump())
        return MeasuringChain(**self.model_dump(exclude={"fingerprint", "view"}), view=view)

    @model_validator(mode="after")
    def _fingerprint_fits(self) -> Self:
        if self.fingerprint != self.chain().fingerprint():
            raise ValueError("the fingerprint does not belong to this chain; it was altered")
        return self


class ChannelEnvelope(Part):
    """One channel: its limits, its scatter at capture and its centre curves over the crank angle.

    tol, stroke_sd, resit_sd and shape_limit are in unit (thigh = share of the thigh's length). A
    centre curve is a mean, then cos and sin of each harmonic. resit_sd null = too few sits.
    """

    channel: Channel
    unit: Unit
    tol: Positive
    required: bool
    stroke_sd: NotNegative
    stroke_lag1: Annotated[float, Field(ge=-1, le=1)]
    resit_sd: NotNegative | None
    shape_limit: NotNegative
    shape_required: bool
    centre: tuple[tuple[float, ...], ...]

    @field_validator("channel")
    @classmethod
    def _is_of_the_body(cls, value: Channel) -> Channel:
        if value not in BODY_CHANNELS:
            raise ValueError(f"{value} is not a body channel; effort belongs to the plan")
        return value

    @field_validator("unit")
    @classmethod
    def _unit_fits(cls, value: Unit, info: ValidationInfo) -> Unit:
        channel = info.data.get("channel")
        is_angle = channel in ANGLE_CHANNELS
        if channel is not None and is_angle != (value is Unit.DEG):
            wanted = "deg" if is_angle else "mm or thigh"
            raise ValueError(f"the unit of {channel} is {wanted}, not {value}")
        return value

    @field_validator("centre")
    @classmethod
    def _curves_are_whole(
        cls, value: tuple[tuple[float, ...], ...], info: ValidationInfo
    ) -> tuple[tuple[float, ...], ...]:
        channel = info.data.get("channel")
        n_curves = 2 if channel is Channel.HAND_PLACE else 1
        if channel is not None and len(value) != n_curves:
            raise ValueError(f"the centre of {channel} has {n_curves} curve(s), not {len(value)}")
        for curve in value:
            if len(curve) % 2 == 0:
                raise ValueError(
                    f"a centre curve has {len(curve)} coefficients; a mean and pairs of harmonics "
                    "make an odd number (13 for six harmonics)"
                )
        return value


class Crank(Part):
    """The ankle's circle (or the pedal dot's), and harmonics from its angle to the crank's."""

    centre_x: float
    centre_y: float
    radius: Positive
    angle_map: tuple[float, ...]

    @field_validator("angle_map")
    @classmethod
    def _map_has_pairs(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if len(value) % 2 or not value:
            raise ValueError(f"angle_map has {len(value)} coefficients; cos and sin come in pairs")
        return value


class Leg(Part):
    """Curves of hip, knee and ankle (x and y each) over the crank angle."""

    curves: tuple[tuple[float, ...], ...]
    thigh: Positive

    @field_validator("curves")
    @classmethod
    def _is_whole(cls, value: tuple[tuple[float, ...], ...]) -> tuple[tuple[float, ...], ...]:
        wanted = (N_COORDINATES, 1 + 2 * LEG_ORDER)
        if len(value) != wanted[0] or any(len(c) != wanted[1] for c in value):
            raise ValueError(f"curves must be {wanted[0]} lists of {wanted[1]} coefficients")
        return value


class SegmentLengths(Part):
    """The rider's near-side segments as seen, in length_unit."""

    trunk: Positive
    thigh: Positive
    shank: Positive


class TargetDocument(Part):
    """A target: one rider's position on one bike with one hand position, seen by one chain.

    length_unit (px or mm) is that of crank, leg and segments. sits: strokes used of each sit.
    """

    format: Literal["posewatch target"]
    format_version: Literal[2]
    convention: str
    created: Moment
    rider: str
    bike: str
    hands: str
    version: Count
    chain: Chain
    side: Side
    envelopes: tuple[ChannelEnvelope, ...]
    length_unit: LengthUnit
    crank: Crank
    leg: Leg
    segments: SegmentLengths
    sits: Annotated[tuple[Annotated[int, Field(ge=1)], ...], Field(min_length=1)]
    n_dropped: Count
    cadence_rpm: Positive
    author: str
    note: str

    @field_validator("convention")
    @classmethod
    def _is_ours(cls, value: str) -> str:
        if value != CONVENTION:
            raise ValueError(f"its angles follow another convention than: {CONVENTION}")
        return value

    @field_validator("envelopes")
    @classmethod
    def _are_whole(cls, value: tuple[ChannelEnvelope, ...]) -> tuple[ChannelEnvelope, ...]:
        found = [envelope.channel for envelope in value]
        for channel in BODY_CHANNELS:
            if channel not in found:
                raise ValueError(f"the channel {channel} is missing")
            if found.count(channel) > 1:
                raise ValueError(f"the channel {channel} is there {found.count(channel)} times")
        if not any(envelope.required for envelope in value):
            raise ValueError("no channel is required; every stroke would count")
        if len({len(curve) for envelope in value for curve in envelope.centre}) > 1:
            raise ValueError("the centre curves have different numbers of coefficients")
        return value

    @field_validator("length_unit")
    @classmethod
    def _fits_chain_and_places(cls, value: LengthUnit, info: ValidationInfo) -> LengthUnit:
        chain, envelopes = info.data.get("chain"), info.data.get("envelopes", ())
        is_mm = value is LengthUnit.MM
        if chain is not None and is_mm != (chain.view is not None):
            raise ValueError("it is mm where the chain is calibrated (has a view), else px")
        for envelope in envelopes:
            if envelope.unit is (Unit.THIGH if is_mm else Unit.MM):
                raise ValueError(f"{envelope.channel} in {envelope.unit} does not fit {value}")
        return value

    def target(self) -> Target:
        """Return it as the core has it, the channels in their usual order."""
        parts = {e.channel: Envelope(**e.model_dump()) for e in self.envelopes}
        return Target(
            rider=self.rider,
            bike=self.bike,
            hands=self.hands,
            version=self.version,
            chain=self.chain.chain(),
            side=self.side,
            envelopes=tuple(parts[channel] for channel in BODY_CHANNELS),
            length_unit=self.length_unit,
            crank=CrankGeometry(**self.crank.model_dump()),
            leg=LegCurves(**self.leg.model_dump()),
            segments=Segments(**self.segments.model_dump()),
            sits=self.sits,
            n_dropped=self.n_dropped,
            cadence_rpm=self.cadence_rpm,
            author=self.author,
            created=self.created,
            note=self.note,
        )


def schema_text() -> str:
    """Return the JSON Schema of target files as the text of SCHEMA_FILE.

    It states keys, types and ranges; what belongs together (fingerprint, units, channels) is
    checked when a file is read.
    """
    schema: dict[str, Any] = TargetDocument.model_json_schema()
    whole = {"$schema": _DIALECT, **schema, "title": f"{FORMAT}, format version {FORMAT_VERSION}"}
    return json.dumps(whole, indent=2) + "\n"
