"""What all files of ours that pydantic checks have in common."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from posewatch.errors import BadInput
from posewatch.store.atomic_file import write_new

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Count = Annotated[int, Field(ge=0)]


class Part(BaseModel):
    """No unknown keys, no NaN or infinity, no text where a number belongs."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


def _is_a_moment(value: str) -> str:
    try:
        zone = datetime.fromisoformat(value).tzinfo
    except ValueError:
        zone = None
    if value and zone is None:
        raise ValueError(f"{value!r} is no date and time with a zone (ISO 8601)")
    return value


#: Wall time, ISO 8601 with its zone; empty before the thing is kept.
Moment = Annotated[str, AfterValidator(_is_a_moment)]


def first_problem(error: ValidationError) -> str:
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


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of JSON file of ours, told by the first things in it.

    name: in messages ("lens"). format, version: what it says of itself. made_by: the command that
    writes it. again: what to do where the file is of no use. former: versions that were once
    written and are of no use now, and why.
    """

    name: str
    format: str
    version: int
    made_by: str
    again: str
    former: Mapping[int, str] = field(default_factory=dict)

    @property
    def advice(self) -> str:
        """What to do with a file of another kind."""
        return f"Name a file that `posewatch {self.made_by}` wrote."

    def read(self, path: Path) -> str:
        """Return the text of a file.

        Raises:
            BadInput: missing, or not readable.
        """
        try:
            return path.read_text(encoding="utf-8-sig")
        except FileNotFoundError as error:
            raise BadInput(f"There is no {self.name} file {path}.", self.advice) from error
        except (OSError, UnicodeDecodeError) as error:
            raise BadInput(
                f"{path} cannot be read as a {self.name} file ({error}).", self.advice
            ) from error

    def require(self, text: str, where: str) -> None:
        """Refuse a text that is not of this kind; ``where`` names its place in messages.

        Raises:
            BadInput: not JSON, not of this kind, or of a version that is not read.
        """
        try:
            head = json.loads(text)
        except (ValueError, RecursionError) as error:
            raise BadInput(
                f"{where} is not a {self.name} file: it is not JSON ({error}).", self.advice
            ) from error
        if not isinstance(head, dict) or head.get("format") != self.format:
            raise BadInput(
                f'{where} is not a {self.name} file: it does not say "format": "{self.format}".',
                self.advice,
            )
        version = head.get("format_version")
        # True == 1, and 2.0 == 2: only whole numbers are versions.
        number = version if type(version) is int else 0
        if number == self.version:
            return
        said = f"{where} has {self.name} format version {json.dumps(version)}"
        if number in self.former:
            raise BadInput(f"{said}, {self.former[number]}.", self.again)
        raise BadInput(
            f"{said}; this program reads {self.version}.",
            "Use the newer program that wrote it." if number > self.version else self.again,
        )


def write_named(path: Path, text: str) -> None:
    """Write a text to a new file that a person named.

    Raises:
        BadInput: the file exists already, or cannot be written.
    """
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
