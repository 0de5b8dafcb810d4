"""The lens file: one calibrated camera, as JSON text, checked on the way in and on the way out.

A camera's newest calibration is ``cameras/NAME/lens.json`` in the data folder; earlier ones stay
beside it as ``lens-v1.json``, ``lens-v2.json`` and so on.
"""

from __future__ import annotations

import os
import re
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from posewatch.core.lens_calibration import (
    LensCalibration,
    LensSpread,
    Refusal,
    RejectedView,
)
from posewatch.core.plane import Lens
from posewatch.errors import BadInput
from posewatch.store.atomic_file import write_new
from posewatch.store.target_shelf import name_problem
from posewatch.store.validated import FileKind, first_problem

FORMAT: Final = "posewatch lens"
FORMAT_VERSION: Final = 1
KIND = FileKind("lens", FORMAT, FORMAT_VERSION, "camera calibrate", "Calibrate the camera again.")
#: Said in every file, for other programs that read it.
CONVENTION: Final = (
    "image px: x right, y down, (0, 0) at the outer corner of the top left pixel (OpenCV's cx, cy "
    "are half a pixel less); distortion k1 k2 p1 p2 k3 of Brown's model"
)
NEWEST = "lens.json"
_EARLIER = re.compile(r"lens-v([1-9][0-9]{0,5})\.json")

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Count = Annotated[int, Field(ge=0)]


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


class _Spread(_Part):
    fx_px: NotNegative
    fy_px: NotNegative
    cx_px: NotNegative
    cy_px: NotNegative


class _Rejected(_Part):
    name: str
    refusal: Annotated[Refusal, Field(strict=False)]
    detail: str


class _LensDocument(_Part):
    format: Literal["posewatch lens"] = FORMAT
    format_version: Literal[1] = FORMAT_VERSION
    convention: str
    created: str
    camera: str
    fingerprint: str
    lens: _Lens
    rms_px: NotNegative
    spread: _Spread
    n_views: Count
    n_corners: Count
    coverage: Annotated[float, Field(ge=0, le=1)]
    tilt_range_deg: tuple[float, float]
    lean_range_deg: tuple[float, float]
    rejected: tuple[_Rejected, ...]
    board: str
    bar_mm: Positive

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        if self.convention != CONVENTION:
            raise ValueError(f"its numbers follow another convention than: {CONVENTION}")
        if self.fingerprint != Lens(**self.lens.model_dump()).fingerprint():
            raise ValueError("the fingerprint does not belong to this lens; it was altered")
        return self

    def calibration(self) -> LensCalibration:
        own = ("format", "format_version", "convention", "created", "camera", "fingerprint")
        parts = self.model_dump(exclude=set(own))
        parts["lens"] = Lens(**parts["lens"])
        parts["spread"] = LensSpread(**parts["spread"])
        parts["rejected"] = tuple(RejectedView(**one) for one in parts["rejected"])
        return LensCalibration(**parts)


def render_lens(camera: str, found: LensCalibration) -> str:
    """Return a calibration as the text of a lens file, stamped with the wall time of now.

    Raises:
        BadInput: it holds what no calibration may hold (NaN, a negative focal length ...).
    """
    document: dict[str, Any] = asdict(found)
    document["convention"] = CONVENTION
    document["created"] = datetime.now(UTC).astimezone().isoformat(timespec="seconds")
    document["camera"] = camera
    document["fingerprint"] = found.lens.fingerprint()
    try:
        return _LensDocument.model_validate(document).model_dump_json(indent=2) + "\n"
    except ValidationError as error:
        raise BadInput(
            f"The calibration of {camera} cannot be kept: {first_problem(error)}.",
            "Calibrate it again.",
        ) from error


def parse_lens(text: str, where: str) -> LensCalibration:
    """Read the text of a lens file; ``where`` names its place in messages.

    Raises:
        BadInput: not JSON, no lens file, another format version, or a value that cannot be used.
    """
    KIND.require(text, where)
    try:
        return _LensDocument.model_validate_json(text).calibration()
    except ValidationError as error:
        raise BadInput(f"{where} cannot be used: {first_problem(error)}.", KIND.again) from error


def camera_folder(camera: str, data_folder: Path) -> Path:
    """Return the folder that holds all that is known of a camera.

    Raises:
        BadInput: a name that cannot be a folder's name.
    """
    problem = name_problem(camera)
    if problem is not None:
        raise BadInput(f"The camera cannot be called {camera!r}: {problem}.", "Choose another.")
    return data_folder / "cameras" / camera


def read_lens(path_or_name: str | Path, data_folder: Path) -> LensCalibration:
    """Read a camera's calibration by the path of its file, or the newest by the camera's name.

    Raises:
        BadInput: there is none, or its file cannot be used.
    """
    path = Path(path_or_name)
    if not path.is_file():
        path = camera_folder(str(path_or_name), data_folder) / NEWEST
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise BadInput(
            f"The camera {path_or_name} is not calibrated: there is no {path}.",
            "Calibrate it with `posewatch camera calibrate`, or name another.",
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(
            f"{path} cannot be read as a lens file ({error}).",
            "Name a file that `posewatch camera calibrate` wrote.",
        ) from error
    return parse_lens(text, str(path))


def save_lens(camera: str, found: LensCalibration, data_folder: Path) -> tuple[Path, Path | None]:
    """Keep a camera's calibration as its newest; returns its file, and where the one before went.

    Raises:
        BadInput: a name that cannot be a folder's name, a value that no calibration may hold, or a
            data folder that cannot be written to.
    """
    folder = camera_folder(camera, data_folder)
    text = render_lens(camera, found)
    newest = folder / NEWEST
    try:
        folder.mkdir(parents=True, exist_ok=True)
        earlier = _put_aside(newest)
        # Written beside it and moved over: whoever reads meanwhile finds the old one or the new.
        fresh = folder / f".{NEWEST}.{os.getpid()}.new"
        write_new(fresh, text)
        os.replace(fresh, newest)
    except OSError as error:
        raise BadInput(
            f"The calibration cannot be saved in {folder} ({error.strerror or error}).",
            "Choose a data folder that can be written to, with data_folder in the settings.",
        ) from error
    return newest, earlier


def _put_aside(newest: Path) -> Path | None:
    """Copy the newest calibration under the next free number; None = there is none."""
    if not newest.exists():
        return None
    numbers = (_EARLIER.fullmatch(path.name) for path in newest.parent.glob("lens-v*.json"))
    number = max((int(n[1]) for n in numbers if n), default=0) + 1
    earlier = newest.with_name(f"lens-v{number}.json")
    write_new(earlier, newest.read_text(encoding="utf-8", errors="replace"))
    return earlier
