"""A benchmark's rows, for the terminal and for a Markdown page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.table import Table


@dataclass(frozen=True, slots=True)
class Row:
    """One figure beside its goal; reached is None where there is no goal."""

    what: str
    figure: str
    goal: str = ""
    reached: bool | None = None


_WORDS = {True: "reached", False: "NOT reached", None: ""}


def at_most(what: str, value: float, most: float, unit: str) -> Row:
    """Return a row whose figure must not be larger."""
    return Row(what, f"{value:.2f} {unit}", f"at most {most:g} {unit}", value <= most)


def at_least(what: str, value: float, least: float, unit: str = "") -> Row:
    """Return a row whose figure must not be smaller."""
    return Row(
        what, f"{value:.2f} {unit}".strip(), f"at least {least:g} {unit}".strip(), value >= least
    )


def between(what: str, value: float, least: float, most: float) -> Row:
    """Return a row whose figure must lie between two."""
    return Row(what, f"{value:.2f}", f"{least:g} to {most:g}", least <= value <= most)


def as_table(rows: Sequence[Row]) -> Table:
    """Return the rows for the terminal."""
    table = Table("what", "figure", "goal", "")
    for row in rows:
        table.add_row(row.what, row.figure, row.goal, _WORDS[row.reached])
    return table


def as_markdown(rows: Sequence[Row]) -> str:
    """Return the rows as a Markdown table."""
    lines = ["| what | figure | goal | |", "| --- | --- | --- | --- |"]
    lines += [f"| {r.what} | {r.figure} | {r.goal} | {_WORDS[r.reached]} |" for r in rows]
    return "\n".join(lines) + "\n"
