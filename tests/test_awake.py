"""The machine is asked to stay awake, and no watch fails where it cannot be asked."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from types import SimpleNamespace

import pytest

from posewatch import awake
from posewatch.awake import kept_awake


def test_it_is_asked_for_the_time_of_the_block(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[str] = []

    @contextmanager
    def presenting(on_fail: str) -> Iterator[SimpleNamespace]:
        told.append(on_fail)
        yield SimpleNamespace(active=True)
        told.append("let go")

    monkeypatch.setattr(awake, "keep", SimpleNamespace(presenting=presenting))
    with kept_awake() as agreed:
        assert agreed
        assert told == ["pass"]
    assert told == ["pass", "let go"]


def test_a_system_that_cannot_be_asked_stops_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(on_fail: str) -> None:
        raise OSError("no bus")

    monkeypatch.setattr(awake, "keep", SimpleNamespace(presenting=fails))
    with kept_awake() as agreed:
        assert not agreed


def test_what_happens_inside_comes_through() -> None:
    with pytest.raises(ZeroDivisionError), kept_awake():
        raise ZeroDivisionError
