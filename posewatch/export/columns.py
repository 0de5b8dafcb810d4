"""A table that is given out: its columns, what each means, and its rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

#: Text, number, whole number, truth; a moment is ns since 1970 UTC; None = not known, or none.
Cell = str | float | int | bool | None
Row = tuple[Cell, ...]


class Kind(StrEnum):
    """What a column holds, in the words of the description."""

    TEXT = "text"
    NUMBER = "number"
    COUNT = "whole number"
    TRUTH = "true or false"
    MOMENT = "date and time, UTC"


@dataclass(frozen=True, slots=True)
class Column:
    """One column. name: with its unit at the end where it has one."""

    name: str
    kind: Kind
    meaning: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table. about: what a row is."""

    name: str
    about: str
    columns: tuple[Column, ...]
    rows: Sequence[Row]


def text(name: str, meaning: str) -> Column:
    """Return a column of words."""
    return Column(name, Kind.TEXT, meaning)


def number(name: str, meaning: str) -> Column:
    """Return a column of numbers."""
    return Column(name, Kind.NUMBER, meaning)


def count(name: str, meaning: str) -> Column:
    """Return a column of whole numbers."""
    return Column(name, Kind.COUNT, meaning)


def truth(name: str, meaning: str) -> Column:
    """Return a column of true and false."""
    return Column(name, Kind.TRUTH, meaning)


def moment(name: str, meaning: str) -> Column:
    """Return a column of wall times."""
    return Column(name, Kind.MOMENT, meaning)
