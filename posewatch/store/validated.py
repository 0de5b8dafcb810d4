"""What all files of ours that pydantic checks have in common."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

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
