"""The camera profile file: JSON text of one camera set up beside one bike, checked in and out."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from posewatch.core.bike_setup import BikeSetup, SetupMethod, SetupSpread
from posewatch.core.plane import BikeView, CameraProfile, JointDepths, Lens
from posewatch.core.records import Side
from posewatch.errors import BadInput
from posewatch.store.validated import FileKind, first_problem

FORMAT: Final = "posewatch camera profile"
FORMAT_VERSION: Final = 1
KIND = FileKind("camera profile", FORMAT, FORMAT_VERSION, "camera level", "Level the camera again.")
#: A rotation's rows are of unit length and square to each other within this.
ROTATION_TOLERANCE = 1e-6

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class SavedProfile:
    """What one profile file holds.

    name: the camera's. version: counts the times this camera was set up, 0 = not kept yet.
    created: wall time, ISO 8601. setup: how the view was found; its view is the profile's.
    """

    name: str
    bike: str
    version: int
    created: str
    note: str
    profile: CameraProfile
    setup: BikeSetup


class _Part(BaseModel):
    """No unknown keys, no NaN or infinity, no text where a number belongs."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


class _Lens(_Part):
    width_px: Annotated[int, Field(gt=0)]
    height_px: Annotated[int, Field(gt=0)]
    fx_px: Positive
    fy_px: Positive
    cx_px: float
    cy_px: float
    distortion: tuple[float, float, float, float, float]


class _View(_Part):
    position_mm: tuple[float, float, Positive]
    rotation: tuple[float, float, float, float, float, float, float, float, float]

    @model_validator(mode="after")
    def _is_a_turn_towards_the_bike(self) -> Self:
        rows = np.array(self.rotation).reshape(3, 3)
        if not np.allclose(rows @ rows.T, np.eye(3), rtol=0.0, atol=ROTATION_TOLERANCE):
            raise ValueError("the rows of rotation are not of unit length and square to each other")
        if rows[2, 2] >= 0:
            raise ValueError("rotation turns the camera away from the bike")
        side = BikeView(self.position_mm, self.rotation).side
        # z is towards the camera on either side, so that the frame is a mirror image on the left.
        if np.linalg.det(rows) * (1.0 if side is Side.RIGHT else -1.0) < 0:
            raise ValueError(f"rotation is a mirror image of one on the {side} side")
        return self


class _Depths(_Part):
    shoulder: float
    elbow: float
    wrist: float
    hip: float
    knee: float
    ankle: float
    heel: float
    toe: float


class _Spread(_Part):
    scale_mm_per_px: NotNegative
    yaw_deg: NotNegative
    pitch_deg: NotNegative
    roll_deg: NotNegative
    distance_mm: NotNegative


class _Setup(_Part):
    method: SetupMethod
    front_axle_mm: Pair
    rear_axle_mm: Pair
    scale_mm_per_px: Positive
    spread: _Spread
    rms_px: NotNegative
    known_wheelbase_mm: Positive | None

    def setup(self, view: BikeView) -> BikeSetup:
        values = dict(self) | {"spread": SetupSpread(**self.spread.model_dump()), "view": view}
        return BikeSetup(**values)


class _ProfileDocument(_Part):
    format: Literal["posewatch camera profile"] = FORMAT
    format_version: Literal[1] = FORMAT_VERSION
    name: str
    bike: str
    version: Annotated[int, Field(ge=0)]
    created: str
    note: str
    lens: _Lens
    view: _View
    depths: _Depths
    setup: _Setup
    fingerprint: str

    def profile(self) -> CameraProfile:
        return _profile(self.lens, self.view, self.depths)

    @field_validator("created")
    @classmethod
    def _is_a_moment(cls, value: str) -> str:
        try:
            zone = datetime.fromisoformat(value).tzinfo
        except ValueError:
            zone = None
        if zone is None:
            raise ValueError(f"{value!r} is no date and time with a zone (ISO 8601)")
        return value

    @model_validator(mode="after")
    def _belongs_together(self) -> Self:
        if self.fingerprint != self.profile().fingerprint():
            raise ValueError("the fingerprint does not belong to these numbers; one was altered")
        distance = self.view.position_mm[2]
        for joint, depth in dict(self.depths).items():
            if depth >= distance:
                raise ValueError(f"the {joint} at {depth:g} mm would be behind the camera")
        return self

    def saved(self) -> SavedProfile:
        profile = self.profile()
        return SavedProfile(
            self.name,
            self.bike,
            self.version,
            self.created,
            self.note,
            profile,
            self.setup.setup(profile.view),
        )


def _profile(lens: _Lens, view: _View, depths: _Depths) -> CameraProfile:
    return CameraProfile(
        Lens(**lens.model_dump()),
        BikeView(**view.model_dump()),
        JointDepths(**depths.model_dump()),
    )


def render_profile(saved: SavedProfile) -> str:
    """Return the text of a profile file.

    Raises:
        BadInput: it holds what no profile may hold (NaN, a view from nowhere ...).
    """
    parts: dict[str, Any] = asdict(saved)
    parts |= parts.pop("profile")
    parts["setup"].pop("view")
    try:
        # Whole numbers become floats here, and only then is the fingerprint the one read back.
        profile = _profile(
            _Lens.model_validate(parts["lens"]),
            _View.model_validate(parts["view"]),
            _Depths.model_validate(parts["depths"]),
        )
        parts["fingerprint"] = profile.fingerprint()
        return _ProfileDocument.model_validate(parts).model_dump_json(indent=2) + "\n"
    except ValidationError as error:
        raise BadInput(
            f"The profile of camera {saved.name} cannot be kept: {first_problem(error)}.",
            "Level the camera again.",
        ) from error


def parse_profile(text: str, where: str) -> SavedProfile:
    """Read the text of a profile file; ``where`` names its place in messages.

    Raises:
        BadInput: not JSON, not a profile, another format version, or a value that cannot be used.
    """
    KIND.require(text, where)
    try:
        return _ProfileDocument.model_validate_json(text).saved()
    except ValidationError as error:
        raise BadInput(
            f"{where} cannot be used: {first_problem(error)}.",
            "Level the camera again; a profile is not for editing.",
        ) from error


def read_profile_file(path: Path) -> SavedProfile:
    """Read one profile file.

    Raises:
        BadInput: missing, not readable, or as :func:`parse_profile` says.
    """
    return parse_profile(KIND.read(path), str(path))
