"""What holds for every test of windows: the one before has left none open; and a visit to use."""

from __future__ import annotations

from pathlib import Path

import pytest
from conducted import Conducted, Times
from PySide6.QtWidgets import QApplication


def close_open_windows() -> list[str]:
    """Close the windows that can be seen; returns their kinds."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        return []
    seen = [window for window in app.topLevelWidgets() if window.isVisible()]
    for window in seen:
        window.hide()
    return [type(window).__name__ for window in seen]


@pytest.fixture(autouse=True)
def _no_window_left() -> None:
    # pytest-qt closes a test's windows after its fixtures have ended.
    assert close_open_windows() == [], "the test before left windows open"


@pytest.fixture
def times(monkeypatch: pytest.MonkeyPatch) -> Times:
    """Clocks that go on only when told to."""
    made = Times()
    made.set_in(monkeypatch)
    return made


@pytest.fixture
def at(tmp_path: Path, times: Times) -> Conducted:
    """A visit that is to begin, of two items with one mounting each."""
    return Conducted(tmp_path, times)
