"""The mounting check list of a design, and what may be entered on its lines."""

from __future__ import annotations

import math

from posewatch.errors import BadInput
from posewatch.trials.conduct_state import Mounted
from posewatch.trials.kinds import CheckLine, Entry, kind_defaults
from posewatch.trials.plan import Design, Plan


def check_list(design: Design) -> tuple[CheckLine, ...]:
    """Return the mounting check list of a design."""
    return kind_defaults(design.kind, design.saddle_mode).check_list


def open_lines(plan: Plan, mounting: Mounted) -> tuple[CheckLine, ...]:
    """Return the lines of the check list that are neither done nor left out."""
    said = {one.line for one in mounting.lines}
    return tuple(line for line in check_list(plan.design) if line.key not in said)


def find_line(design: Design, key: str) -> CheckLine:
    """Return the line of a key.

    Raises:
        BadInput: the check list has none.
    """
    lines = {line.key: line for line in check_list(design)}
    if key not in lines:
        raise BadInput(
            f"The check list has no line '{key}'.", f"Its lines are: {', '.join(lines)}."
        )
    return lines[key]


def require_value(line: CheckLine, value: str) -> None:
    """Refuse what cannot stand on a line of the check list.

    Raises:
        BadInput: no number where one is read off, or nothing where something is to be said.
    """
    if line.entry is Entry.NUMBER and not _is_number(value):
        unit = f" in {line.unit}" if line.unit else ""
        raise BadInput(
            f"'{value}' is no number (check list, {line.key}).", f"Give what you read{unit}."
        )
    if line.entry is Entry.TEXT and not value.strip():
        raise BadInput(f"Nothing is said (check list, {line.key}).", f"Say it: {line.text}.")


def _is_number(value: str) -> bool:
    try:
        return math.isfinite(float(value))
    except ValueError:
        return False
