"""A screen whose libraries are missing is told of in words."""

from __future__ import annotations

import pytest

from posewatch.errors import BadInput
from posewatch.ui import display
from posewatch.ui.display import require_display


@pytest.fixture
def x11(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(display.sys, "platform", "linux")
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setenv("DISPLAY", ":0")


def test_the_library_that_is_missing_is_named_with_what_to_do(
    x11: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def misses(path: str) -> None:
        assert path.endswith("libqxcb.so")
        raise OSError("libxcb-cursor.so.0: cannot open shared object file")

    monkeypatch.setattr(display.ctypes, "CDLL", misses)
    with pytest.raises(BadInput, match=r"libxcb-cursor\.so\.0.*libxcb-cursor0.*--headless"):
        require_display()


@pytest.mark.parametrize("name", ["QT_QPA_PLATFORM", "WAYLAND_DISPLAY"])
def test_another_platform_is_not_asked_for_x11(
    x11: None, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setenv(name, "offscreen")
    monkeypatch.setattr(display.ctypes, "CDLL", lambda path: pytest.fail("looked at"))
    require_display()
