"""The user's settings: one small TOML file, checked as a whole, every value with a default."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from platformdirs import user_config_path, user_data_path
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from posewatch.errors import BadInput
from posewatch.store.atomic_file import write_new

#: Names another settings file than the user's own.
FILE_VARIABLE = "POSEWATCH_SETTINGS"
MODEL_ENDING = ".task"


class Settings(BaseModel):
    """What the user may set. Descriptions are shown in the file and in messages."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)

    data_folder: Annotated[Path, Field(strict=False)] = Field(
        default_factory=lambda: user_data_path("posewatch", appauthor=False),
        description="folder for targets and sessions: a full path, ~ is the home folder",
    )
    model: str = Field(
        default="full",
        description='pose model: "lite", "full" or the full path of a .task bundle',
    )
    sit_in_s: float = Field(
        default=30.0,
        ge=0,
        le=600,
        description="seconds of sit-in after leaving the saddle or stopping, 0 to 600",
    )
    goal_strokes: int = Field(
        default=60,
        ge=1,
        le=100_000,
        description="counted strokes at which a trial is reached, 1 to 100000",
    )
    keep_days: int = Field(
        default=0,
        ge=0,
        le=36_500,
        description="days after which a session should be deleted, 0 = nothing is said, to 36500",
    )
    log_level: Literal["debug", "info", "warning", "error"] = Field(
        default="info",
        description='the least that goes into the log: "debug", "info", "warning" or "error"',
    )

    @field_validator("data_folder", mode="after")
    @classmethod
    def _full_folder(cls, value: Path) -> Path:
        return _full_path(value)

    @field_validator("model", mode="after")
    @classmethod
    def _known_model(cls, value: str) -> str:
        if value in ("lite", "full"):
            return value
        if not value.endswith(MODEL_ENDING):
            raise ValueError("not a model")
        return str(_full_path(Path(value)))


def settings_path() -> Path:
    """Return the settings file in force: the one POSEWATCH_SETTINGS names, or the user's own."""
    named = os.environ.get(FILE_VARIABLE)
    if named:
        return Path(named)
    return user_config_path("posewatch", appauthor=False) / "settings.toml"


def load_settings(given: Mapping[str, object] | None = None) -> Settings:
    """Read the settings in force; a missing file of the user's own means defaults.

    Args:
        given: values that go before the file's, such as options of a command; None = not given.

    Raises:
        BadInput: the file cannot be read, an unknown key, or a value that is not allowed.
    """
    path = settings_path()
    values = _read(path)
    options = {key: value for key, value in (given or {}).items() if value is not None}
    try:
        return Settings.model_validate(values | options)
    except ValidationError as error:
        key = str(error.errors()[0]["loc"][0])
        where = "the options given" if key in options else str(path)
        field = Settings.model_fields.get(key)
        if field is None:
            raise BadInput(
                f"{where}: there is no setting {key!r}.",
                f"Remove it; the settings are {', '.join(Settings.model_fields)}.",
            ) from error
        value = options.get(key, values.get(key))
        raise BadInput(
            f"{where}: {key} cannot be {value!r}.",
            f"Allowed is: {field.description}.",
        ) from error


def render_settings(settings: Settings) -> str:
    """Return the settings as TOML, a comment before each: the file's template, and the record."""
    lines = ["# Settings of posewatch. Delete a line to get its default back."]
    for key, field in Settings.model_fields.items():
        value = getattr(settings, key)
        if isinstance(value, str | Path):
            # A JSON string is a TOML string too, once DEL is escaped (TOML 1.0, "String").
            shown = json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
        else:
            shown = repr(value)
        lines += ["", f"# {field.description}", f"{key} = {shown}"]
    return "\n".join(lines) + "\n"


def create_settings_file() -> Path:
    """Write the defaults to the settings file, for editing.

    Raises:
        BadInput: there is a file already, or it cannot be written.
    """
    path = settings_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            write_new(path, render_settings(Settings()))
        except FileExistsError as error:
            raise BadInput(
                f"{path} exists already and was left as it is.", "Edit it, or remove it first."
            ) from error
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written ({error.strerror or error}).",
            f"Name a file that can be written with {FILE_VARIABLE}.",
        ) from error
    return path


def _read(path: Path) -> dict[str, object]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        if not os.environ.get(FILE_VARIABLE):
            return {}
        raise BadInput(
            f"There is no settings file {path}.", f"Correct or unset {FILE_VARIABLE}."
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(
            f"The settings file {path} cannot be read ({error}).",
            "It must be a UTF-8 text file that you may read.",
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise BadInput(
            f"The settings file {path} is not TOML ({error}).", "Correct or remove that line."
        ) from error


def _full_path(path: Path) -> Path:
    try:
        full = path.expanduser()
    except RuntimeError as error:
        raise ValueError("no home folder") from error
    if not full.is_absolute():
        raise ValueError("not a full path")
    return full
