"""What was chosen the last time: one small JSON file in the user's state folder.

It makes the next set-up shorter and is worth nothing else: a file that is damaged or not known is
left out with a note, and one that cannot be written is told and forgotten.
"""

from __future__ import annotations

import os
import uuid
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from platformdirs import user_state_path
from pydantic import Field, ValidationError

from posewatch.errors import BadInput
from posewatch.store.validated import FileKind, Part, Positive, first_problem

FORMAT: Final = "posewatch remembered choices"
FORMAT_VERSION: Final = 1
KIND = FileKind("remembered choices", FORMAT, FORMAT_VERSION, "watch", "Choose anew.")


class RememberedSensor(Part):
    """A sensor. name: for people. platform_id: by which it is known to this computer."""

    name: str = ""
    platform_id: str = ""


class Remembered(Part):
    """The last choices; empty = none yet.

    camera: the word by which it is opened (a stable name, an address, a file); camera_name: for
    people. profile: its set-up, None = uncalibrated. target: rider/bike/hands/vN. screen: the one
    that the rider's window was on. brightness: of the rider's window. power_sensor,
    power_other_side, cadence_sensor: None = no sensor gave it. power_w, cadence_rpm: planned, None
    = not held.
    """

    format: Literal["posewatch remembered choices"] = FORMAT
    format_version: Literal[1] = FORMAT_VERSION
    camera: str = ""
    camera_name: str = ""
    profile: str | None = None
    target: str = ""
    screen: str = ""
    theme: Literal["dark", "light"] = "dark"
    brightness: Annotated[float, Field(ge=0.2, le=1.0)] = 1.0
    power_sensor: RememberedSensor | None = None
    power_other_side: RememberedSensor | None = None
    cadence_sensor: RememberedSensor | None = None
    power_w: Positive | None = None
    cadence_rpm: Positive | None = None


class Memory:
    """The remembered choices of the program that runs, shared by its windows; one thread.

    note: what to tell the person of the file, empty = nothing.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or remembered_path()
        self.choices, self.note = read_remembered(self.path)

    def keep(self, **changes: Any) -> None:
        """Change some of the choices, and write them all."""
        self.choices = Remembered.model_validate(self.choices.model_dump() | changes)
        try:
            _write(self.path, self.choices.model_dump_json(indent=2) + "\n")
        except OSError as error:
            self.note = f"{self.path} cannot be written ({error.strerror or error}): the choices "
            self.note += "of this time will not be known the next time."


def remembered_path() -> Path:
    """Return the file of the last choices."""
    return user_state_path("posewatch", appauthor=False) / "remembered.json"


def read_remembered(path: Path) -> tuple[Remembered, str]:
    """Return the last choices and a note; whatever is wrong with the file, there are choices."""
    if not path.exists():
        return Remembered(), ""
    try:
        text = KIND.read(path)
        KIND.require(text, str(path))
        return Remembered.model_validate_json(text), ""
    except BadInput as error:
        said = error.what
    except ValidationError as error:
        said = f"{path} cannot be used: {first_problem(error)}."
    return Remembered(), f"{said} The choices of last time are not known."


def _write(path: Path, text: str) -> None:
    """Replace a file whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex}.part")
    try:
        with part.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
