"""Questions at the terminal."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import typer

from posewatch.cli.screen import say
from posewatch.errors import BadInput

T = TypeVar("T")


def ask(question: str) -> str:
    """Return what is typed, without spaces around it, empty = Enter alone.

    Raises:
        KeyboardInterrupt: Ctrl+C, or no more input.
    """
    try:
        answer = typer.prompt(question, default="", show_default=False)
    except typer.Abort as error:
        raise KeyboardInterrupt from error
    assert isinstance(answer, str)
    return answer.strip()


def ask_until(question: str, read: Callable[[str], T]) -> T:
    """Ask until the answer can be used; read raises BadInput where it cannot."""
    while True:
        try:
            return read(ask(question))
        except BadInput as error:
            say(str(error))


def ask_words(question: str) -> str:
    """Ask until something is said."""
    while True:
        said = ask(question)
        if said:
            return said


def number(text: str) -> float:
    """Read a number, with a decimal point or comma.

    Raises:
        BadInput: it is none.
    """
    try:
        return float(text.replace(",", "."))
    except ValueError as error:
        raise BadInput(f"'{text}' is no number.", "Type one, e.g. 12.5.") from error


def number_or_none(text: str) -> float | None:
    """Read a number; nothing typed = not known."""
    return number(text) if text else None
