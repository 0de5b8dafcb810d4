"""Pictures of every window, taken from the demo rider's clips as the program runs on them."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QPoint
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QApplication, QWidget

from posewatch.app import new_session_folder
from posewatch.core.envelope import Target
from posewatch.core.outputs import Phase
from posewatch.core.standing import Standing
from posewatch.store.sealed_document import read_sealed
from posewatch.studio import Doing, Studio
from posewatch.trials import acts
from posewatch.trials.conduct_state import StartNeed
from posewatch.trials.words import ComparisonKind
from posewatch.ui.application import Windows, opened
from posewatch.ui.setup_choices import CameraChoice
from posewatch.ui.setup_view import Step
from posewatch.ui.visit_ride import Visiting
from posewatch.visits.first_look import first_look_design, make_first_look
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import Visit
from posewatch.watched_source import Source

SIZE_PX = (1280, 720)
#: A picture that does not come by then is missing.
WAIT_S = 60.0


def save_shots(
    studio: Studio, ridden: Source, target: Target, folder: Path, told: Callable[[str], None]
) -> list[Path]:
    """Take a picture of every window and save them as PNG.

    Args:
        studio: with nothing under way.
        ridden: a clip of steady riding in which later a correction is due.
        target: of its rider.
        folder: exists.
        told: is told each picture's name.
    """
    app = QApplication.instance() or QApplication(["posewatch"])
    assert isinstance(app, QApplication)
    windows = opened(studio)
    try:
        windows.start(lambda: None)
        shots = _Shots(app, windows, folder)
        for name in (
            *shots.set_up(ridden),
            *shots.watch(replace(ridden, paced=False), target),
            *shots.conduct(target),
            *shots.fit(target),
        ):
            told(name)
        return shots.saved
    finally:
        windows.end()


class _Shots:
    """Plays a sitting and takes pictures on the way."""

    def __init__(self, app: QApplication, windows: Windows, folder: Path) -> None:
        self._app, self._windows, self._folder = app, windows, folder
        self.saved: list[Path] = []

    def set_up(self, ridden: Source) -> Iterator[str]:
        """Go through set-up as for a new rider."""
        window, desk = self._windows.setup, self._windows.setup.desk
        window.showNormal()
        window.resize(*SIZE_PX)
        yield self._take("setup_start", window)
        desk.begin_new()
        yield self._take("setup_consent", window)
        desk.agree("r17")
        desk.pick_camera(CameraChoice(str(ridden.path), "Side camera (a clip)"))
        self._until(lambda: desk.runs and self._windows.studio.post.health.read().n_handled > 30)
        yield self._take("setup_camera", window)
        desk.go(Step.READY)
        yield self._take("setup_ready", window)
        window.toggle_camera()
        self._until(lambda: self._windows.studio.doing is Doing.NOTHING)
        window.hide()

    def watch(self, ridden: Source, target: Target) -> Iterator[str]:
        """Watch the ride: each state is taken when it is first seen."""
        studio, operator, rider = self._windows.studio, self._windows.operator, self._windows.rider
        studio.choose(source=ridden, target=target)
        for window in (operator, rider):
            window.showNormal()
            window.resize(*SIZE_PX)
        studio.watch()
        wanted = {
            "steadying": lambda now: now.phase is Phase.STEADYING and now.steady == 3,
            "counting": lambda now: now.counted >= 10,
            "correction": lambda now: now.cue is not None and now.counted > 0,
        }
        for state, is_there in wanted.items():

            def seen(is_there: Callable[[Standing], bool] = is_there) -> bool:
                shown = studio.post.shown
                return shown is not None and shown.standing is not None and is_there(shown.standing)

            if self._until(seen):
                yield self._take(f"rider_{state}", rider)
                yield self._take(f"operator_{state}", operator)
        studio.end()
        self._until(lambda: studio.doing is Doing.NOTHING)
        yield self._take("operator_curtain", operator)
        operator.hide()
        rider.hide()

    def conduct(self, target: Target) -> Iterator[str]:
        """Begin a first look with the target's rider; its check list, and a trial rated."""
        studio, operator = self._windows.studio, self._windows.operator
        design = first_look_design(
            ComparisonKind.SHORTS, None, target.rider, target.bike, (target.hands,)
        )
        data_folder = studio.settings.data_folder
        made = make_first_look(data_folder / "plans", design)
        new = NewVisit(made.plan_path, read_sealed(made.codes_path), fast=True)
        folder = new_session_folder(studio.settings)
        desk = operator.visit.open(Visiting(Visit.begin(folder, new, studio.settings)))
        for act in (
            acts.VisitBegun(0, 1, "op3"),
            acts.Overridden(0, StartNeed.WARM_UP, "shown only"),
            acts.MountingBegun(0),
            acts.LineDone(0, "pad_square"),
            acts.LineSkipped(0, "straps_untwisted", "these have none"),
            acts.LineDone(0, "mat_rear_edge", "12"),
        ):
            desk.visit.do(act)
        desk.move(2)
        operator.show()
        yield self._take("operator_visit", operator)
        desk.visit.do(acts.Overridden(0, StartNeed.CHECK_LIST, "shown only"))
        desk.visit.begin_trial()
        desk.visit.end_trial_as_logged("shown only")
        desk.move(0)  # so that the desk sees it
        desk.rate()
        yield self._take("operator_ratings", operator)
        desk.leave()
        operator.hide()

    def fit(self, target: Target) -> Iterator[str]:
        """Look at the target in the fitter's window."""
        fitter = self._windows.fitter
        fitter.showNormal()
        fitter.resize(*SIZE_PX)
        fitter.desk.open(f"{target.rider}/{target.bike}/{target.hands}/v{target.version}")
        yield self._take("fitter", fitter)
        fitter.hide()

    def _take(self, name: str, window: QWidget) -> str:
        """Save a window's picture, after it has been told twice how things stand."""
        for _ in range(2):
            self._windows.poll()
            self._app.processEvents()
        path = self._folder / f"{name}.png"
        pixmap = QPixmap(window.size())
        window.render(pixmap, QPoint())
        if not pixmap.save(str(path)):
            raise OSError(f"{path} cannot be written")
        self.saved.append(path)
        return name

    def _until(self, is_so: Callable[[], bool]) -> bool:
        """Let the windows run until something is so; False = it did not come."""
        end_s = time.monotonic() + WAIT_S
        while not is_so():
            if time.monotonic() > end_s:
                return False
            self._app.processEvents()
            time.sleep(0.002)
        return True
