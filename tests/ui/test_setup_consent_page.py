"""Set-up's page of consent: what is read there, and a video only where it is ticked."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_setup_scenes import scene_of, still_studio
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QCheckBox, QLabel
from pytestqt.qtbot import QtBot

from posewatch.store.consent import video_text
from posewatch.store.remembered import Memory
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_view import Do, Step
from posewatch.ui.setup_window import SetupWindow


class Page:
    """The page of an open set-up window."""

    def __init__(self, qtbot: QtBot, folder: Path) -> None:
        self.studio, _ = still_studio(folder / "data")
        self.desk = Desk(self.studio, Memory(folder / "remembered.json"), lambda: ())
        self.window = SetupWindow(self.desk)
        qtbot.addWidget(self.window)
        self.window.resize(1280, 720)
        self.window.show()
        self.window.activateWindow()
        qtbot.waitUntil(self.window.isActiveWindow)
        self.desk.begin_new()
        self.poll()

    def poll(self) -> None:
        self.window.show_scene(scene_of(self.studio, 10**12))

    @property
    def tick(self) -> QCheckBox:
        return next(one for one in self.window.findChildren(QCheckBox) if "video" in one.text())

    def agree(self, rider: str) -> None:
        page = self.window._pages[Step.CONSENT]
        page._code.setText(rider)  # type: ignore[attr-defined]
        page.act(Do.AGREE)
        self.poll()

    def again(self) -> None:
        """Another rider comes."""
        self.desk.begin_new()
        self.poll()


@pytest.fixture
def page(qtbot: QtBot, tmp_path: Path) -> Page:
    return Page(qtbot, tmp_path)


def test_what_is_agreed_to_can_be_read_and_a_video_is_off(page: Page) -> None:
    texts = "\n".join(one.text() for one in page.window.findChildren(QLabel) if one.isVisible())
    assert "Stop at pain" in texts
    assert "A video, only if it is ticked below" in texts
    assert "every picture that is watched" in texts
    assert page.tick.accessibleDescription() == video_text(blur_faces=True)
    assert not page.tick.isChecked()
    page.agree("r17")
    assert page.studio.chosen.consent.startswith("consent v3 given by r17")
    assert page.studio.chosen.video is None
    assert page.studio.chosen.agreements == page.studio.chosen.consent


def test_a_tick_by_its_key_keeps_one_with_a_blurred_face(page: Page, qtbot: QtBot) -> None:
    QTest.keyClick(page.window.focusWidget(), Qt.Key.Key_V, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(page.tick.isChecked)
    page.agree("r17")
    kept = page.studio.chosen.video
    assert kept is not None
    assert kept.blur_faces
    assert kept.agreed.startswith("video v1 agreed to by r17")
    assert page.studio.chosen.agreements.endswith(kept.agreed)
    page.desk.go(Step.CONSENT)
    page.poll()
    assert page.tick.isChecked()  # the same rider looks at it once more
    page.tick.setChecked(False)
    page.agree("r17")
    assert page.studio.chosen.video is None


def test_another_rider_has_ticked_nothing(page: Page) -> None:
    page.tick.setChecked(True)
    page.agree("r17")
    page.again()
    assert not page.tick.isChecked()
    page.agree("r2")
    assert page.studio.chosen.video is None
