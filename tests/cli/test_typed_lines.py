"""Lines are taken as they are typed, and nothing waits for them."""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Iterator

import pytest

from posewatch.cli.typed_lines import TypedLines, forget_typed

pytestmark = pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals")


@pytest.fixture
def keys(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A terminal's other end, where a person types."""
    import pty

    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "r", encoding="utf-8") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        yield ours
    os.close(ours)


def taken(lines: TypedLines) -> str | None:
    """What was typed, once the terminal has passed it on."""
    for _ in range(200):
        line = lines.taken()
        if line is not None:
            return line
        time.sleep(0.005)
    return None


def test_whole_lines_only(keys: int) -> None:
    lines = TypedLines()
    assert lines.taken() is None
    os.write(keys, b"p dri")
    assert lines.taken() is None
    os.write(keys, b"nk\n")
    assert taken(lines) == "p drink"
    assert lines.taken() is None
    os.write(keys, b"\n")
    assert taken(lines) == ""


def test_what_was_typed_unasked_answers_nothing(keys: int) -> None:
    os.write(keys, b"\n\ny\n")
    time.sleep(0.05)
    forget_typed()
    lines = TypedLines()
    assert lines.taken() is None
    os.write(keys, b"now\n")
    assert taken(lines) == "now"


def test_where_there_is_no_terminal_nothing_is_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("p\n"))
    assert TypedLines().taken() is None
    forget_typed()
    assert sys.stdin.readline() == "p\n"
