"""A whole small visit in the windows, by its keys alone; and what the rider never gets to see."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from conducted import new_visit
from made_codes import NAMES
from made_plans import made_design
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from posewatch import opening
from posewatch.core.envelope import Target
from posewatch.core.records import Seen
from posewatch.store.remembered import Memory
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.store.visit_record import read_visit
from posewatch.studio import Chosen, Doing, Studio
from posewatch.trials import acts
from posewatch.trials.code_list import folded
from posewatch.trials.kinds import Entry
from posewatch.trials.words import RITUAL, ConcealmentLevel
from posewatch.ui import operator_acts, visit_desk
from posewatch.ui.application import Windows
from posewatch.ui.visit_desk import VisitDesk
from posewatch.ui.visit_ride import Visiting
from posewatch.ui.visit_view import Next, step_of
from posewatch.ui.voice import Voice
from posewatch.visits.visit import Visit
from posewatch.watched_source import Source

NO = Qt.KeyboardModifier.NoModifier
LIMIT_MS = 20_000
FASTER = 25
GOAL = 10


def no_library() -> None:
    raise OSError("PortAudio library not found")


def faster(frames: Iterable[Seen], stop: threading.Event) -> Iterator[Seen]:
    """Pace frames as the program does, in less time."""
    last_ns = 0
    for item in frames:
        if stop.wait((item.t_ns - last_ns) / 1e9 / FASTER):
            return
        last_ns = item.t_ns
        yield item


class Operator:
    """Hands on the keys of the operator's window."""

    def __init__(self, qtbot: QtBot, windows: Windows) -> None:
        self.qtbot, self.windows = qtbot, windows
        self.rider_saw: set[str] = set()
        self.seen: set[str] = set()
        desk = windows.operator.visit.desk
        assert desk is not None
        self.desk: VisitDesk = desk

    def look(self) -> None:
        """Read all windows."""
        self.rider_saw |= texts_of(self.windows.rider)
        self.seen |= self.rider_saw | texts_of(self.windows.operator)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = NO) -> None:
        window = self.windows.operator
        if not window.isActiveWindow():
            window.activateWindow()
            self.until(window.isActiveWindow)
        QTest.keyClick(window.focusWidget() or window, key, modifier)

    def type(self, text: str) -> None:
        line = self.windows.operator.focusWidget()
        assert line is not None
        line.setText("")  # type: ignore[attr-defined]
        QTest.keyClicks(line, text)

    def step(self) -> Next:
        return step_of(self.desk.now).next

    def until(self, what: Callable[[], bool]) -> None:
        def looked() -> bool:
            self.look()
            return what()

        self.qtbot.waitUntil(looked, timeout=LIMIT_MS)

    def next(self, expected: Next) -> None:
        self.until(lambda: self.step() is expected)
        self.press(Qt.Key.Key_Return)


def texts_of(window: QWidget) -> set[str]:
    """All that a window says, painted texts included."""
    told = {window.windowTitle(), window.accessibleDescription(), window.toolTip()}
    for part in window.findChildren(QWidget):
        told |= {part.accessibleName(), part.accessibleDescription(), part.toolTip()}
        told.add(str(getattr(part, "_shown", "")))
        if isinstance(part, QLabel | QAbstractButton | QLineEdit):
            told.add(part.text())
        if isinstance(part, QLineEdit):
            told.add(part.placeholderText())
        if isinstance(part, QListWidget):
            told |= {part.item(row).text() for row in range(part.count())}
    return told


@pytest.fixture
def settings(tmp_path: Path, ridden_target: Target) -> Settings:
    made = Settings(data_folder=tmp_path / "data")
    for hands in ("hoods", "drops"):
        save_target(replace(ridden_target, hands=hands), made.data_folder)
    return made


@pytest.fixture
def windows(
    qtbot: QtBot,
    tmp_path: Path,
    settings: Settings,
    reference_recording: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Windows]:
    """Windows that conduct two items, two mountings each, two hand positions."""
    monkeypatch.setattr(opening, "paced", faster)
    monkeypatch.setattr(operator_acts, "BOUNCE_NS", 0)
    monkeypatch.setattr(visit_desk, "SETTLED_NS", 0)
    design = made_design(
        rider="rider",
        bike="bike",
        mountings=2,
        familiarisation=False,
        goal_strokes=GOAL,
        warm_up_s=600.0,
        sit_in_s=1.0,
        hand_change_s=1.0,
        concealment=ConcealmentLevel.ITEM_COVERED,
    )
    visit = Visit.begin(tmp_path / "visit", new_visit(tmp_path, design, fast=True), settings)
    source = Source(reference_recording, "full", paced=True)
    studio = Studio(settings, Chosen(source))
    made = Windows(studio, Memory(tmp_path / "remembered.json"), Voice(no_library), Visiting(visit))
    for window in (made.operator, made.rider, made.setup, made.fitter):
        qtbot.addWidget(window)
    made.start(lambda: None)
    yield made
    made.end()
    visit.close()
    assert not made.studio.engine.is_busy


def test_a_whole_visit_by_its_keys(qtbot: QtBot, windows: Windows, tmp_path: Path) -> None:
    assert windows.operator.isVisible()
    assert windows.studio.doing is Doing.NOTHING
    qtbot.waitUntil(windows.operator.isActiveWindow, timeout=LIMIT_MS)
    windows.rider.show()
    at = Operator(qtbot, windows)
    at.next(Next.BEGIN_VISIT)
    at.type("op3")
    at.press(Qt.Key.Key_Return)
    at.next(Next.BEGIN_WARM_UP)
    at.next(Next.WARM_UP)
    at.next(Next.END_WARM_UP)
    for mounting in range(4):
        at.next(Next.MOUNT)
        while at.step() is Next.LINE:
            _do_line(at)
        if at.step() is Next.REST:
            at.next(Next.REST)
        for trial in range(2):
            at.next(Next.BEGIN_TRIAL)
            at.until(lambda: at.step() is Next.RIDE)
            at.next(Next.REACHED)
            assert windows.studio.doing in (Doing.WATCH, Doing.NOTHING)
            at.next(Next.RATE)
            _rate(at, 2 * mounting + trial)
            assert windows.studio.doing is Doing.NOTHING, "the curtain is drawn between trials"
        at.next(Next.END_MOUNTING)
        at.next(Next.GUESS)
        _guess(at)
    at.next(Next.END_VISIT)
    assert at.step() is Next.OVER
    assert at.desk.fault == ""
    _check_record(tmp_path / "visit")
    rider_saw = "\n".join(at.rider_saw)
    assert "goal reached" in rider_saw
    assert not [code for code in read_visit(tmp_path / "visit")[0].codes if code in rider_saw]
    assert "op3" not in rider_saw
    _require_concealed(at, tmp_path)


def _do_line(at: Operator) -> None:
    line = at.desk.now.marked
    if line.key == "straps_untwisted":
        at.press(Qt.Key.Key_K)
        at.press(Qt.Key.Key_Return)
        at.type("has none")
        at.press(Qt.Key.Key_Return)
        return
    at.press(Qt.Key.Key_Return)
    if line.entry is not Entry.TICK:
        at.type("12,5")
        at.press(Qt.Key.Key_Return)


def _rate(at: Operator, n: int) -> None:
    at.type(str(n))
    for _ in range(16):
        at.press(Qt.Key.Key_Return)


def _guess(at: Operator) -> None:
    for text in ("A", "4", "felt soft"):
        at.type(text)
        at.press(Qt.Key.Key_Return)


def _require_concealed(at: Operator, folder: Path) -> None:
    """Until the reveal no window has said an item's name, and no file holds one."""
    said = "\n".join(at.seen)
    assert read_visit(folder / "visit")[0].codes[0] in said
    texts = [said, *(path.read_bytes().decode("utf-8", "replace") for path in _files(folder))]
    for text in texts:
        assert not [name for name in NAMES if folded(name) in folded(text)]


def _files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def _check_record(folder: Path) -> None:
    header, kept = read_visit(folder)
    done = [one.act for one in kept]
    assert done[0] == acts.VisitBegun(done[0].t_ns, 1, "op3")
    closed = [one for one in done if isinstance(one, acts.TrialClosed)]
    assert len(closed) == 8
    assert all(one.reason == "" and one.n_confirmed >= GOAL for one in closed)
    values = [one.value for one in done if isinstance(one, acts.Rated)]
    assert [value for value in values if value is not None] == [float(n) for n in range(8)]
    assert len(values) == 8 * 16
    begun = [one for one in done if isinstance(one, acts.TrialBegun)]
    hands = [trial.hands for one in header.plan.mountings for trial in one.trials]
    for one, held in zip(begun, hands, strict=True):
        with SessionReader(folder / one.folder) as session:
            assert session.header.target.hands == held
    resets = [one for one in done if isinstance(one, acts.RitualDone)]
    assert [one.moment for one in resets] == list(RITUAL) * 8
    phases = [one for one in done if isinstance(one, acts.HoldSeen)]
    assert phases[-1].n_confirmed >= GOAL
    skipped = [one for one in done if isinstance(one, acts.LineSkipped)]
    assert [one.reason for one in skipped] == ["has none"] * 4


def test_closing_in_a_trial_leaves_a_visit_that_can_be_gone_on_with(
    qtbot: QtBot, windows: Windows, tmp_path: Path, settings: Settings
) -> None:
    qtbot.waitUntil(windows.operator.isActiveWindow, timeout=LIMIT_MS)
    at = Operator(qtbot, windows)
    at.next(Next.BEGIN_VISIT)
    at.press(Qt.Key.Key_Return)
    _leave_out(at, "warm")
    at.next(Next.MOUNT)
    at.press(Qt.Key.Key_K)
    at.type("2")
    at.press(Qt.Key.Key_Return)
    at.type("quick")
    at.press(Qt.Key.Key_Return)
    at.next(Next.BEGIN_TRIAL)
    at.until(lambda: at.step() is Next.RIDE)
    at.press(Qt.Key.Key_Q, Qt.KeyboardModifier.ControlModifier)
    assert windows.studio.doing is Doing.WATCH, "it asks before it ends a watch"
    at.press(Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not windows.operator.isVisible(), timeout=LIMIT_MS)
    ended = [one.act for one in read_visit(tmp_path / "visit")[1]][-1]
    assert isinstance(ended, acts.TrialClosed)
    assert ended.reason in ("ended at the keys", "the program was closed")
    visit = Visit.go_on(tmp_path / "visit", settings)
    assert visit.state.run is None
    visit.close()


def _leave_out(at: Operator, why: str) -> None:
    at.press(Qt.Key.Key_K)
    at.press(Qt.Key.Key_Return)
    at.type(why)
    at.press(Qt.Key.Key_Return)


def test_set_up_leads_to_the_visit_without_watching_anything(
    qtbot: QtBot, tmp_path: Path, settings: Settings, reference_recording: Path
) -> None:
    """Everything chosen as by its pages; begun from the readiness list."""
    windows = Windows(Studio(settings), Memory(tmp_path / "remembered.json"), Voice(no_library))
    for window in (windows.operator, windows.rider, windows.setup, windows.fitter):
        qtbot.addWidget(window)
    try:
        windows.start(lambda: None)
        desk = windows.setup.desk
        desk.begin_new()
        desk.agree("rider")
        desk.type_camera(str(reference_recording))
        desk.use_profile("")
        desk.use_target(next(one for one in desk.targets if one.hands == "hoods"))
        desk.visits.make_first_look("shorts", ("", ""), desk.setup, desk.targets, False)
        desk.visits.written_down()
        desk.use_sensors()
        main = windows.setup.findChild(QPushButton, "main")
        qtbot.waitUntil(lambda: main.text().startswith("Begin"), timeout=LIMIT_MS)
        qtbot.waitUntil(main.isEnabled, timeout=LIMIT_MS)
        main.click()
        qtbot.waitUntil(windows.operator.isVisible, timeout=LIMIT_MS)
        assert windows.operator.visit.desk is not None
        assert windows.studio.doing is Doing.NOTHING
        visit = windows.operator.visit.desk.visit
        assert visit.header.consent.startswith("consent")
        assert visit.plan.design.hands == ("hoods", "drops")
    finally:
        windows.end()
    assert not windows.studio.engine.is_busy
