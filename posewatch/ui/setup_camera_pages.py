"""Set-up's pages of the camera: which one, and how it is calibrated and set up."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QGridLayout, QHBoxLayout, QLabel, QWidget

from posewatch.store.target_shelf import name_problem
from posewatch.ui import setup_view
from posewatch.ui.scene import Scene
from posewatch.ui.setup_choices import CameraChoice, calibration, profile_name
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_pages import Page
from posewatch.ui.setup_parts import Choices, buddy, button, command, field, label
from posewatch.ui.setup_view import WITHOUT, Action, Do

FILES = "Clips and recordings (*.mp4 *.mov *.avi *.mkv *.landmarks.npz);;All files (*)"
DETAIL = "Boards, light and every step in detail: calibration/README.md"
MAC_PERMISSION = (
    "macOS asks once whether this program may use the camera. Its answer is kept in System "
    "Settings, under Privacy & Security, Camera."
)


class CameraPage(Page):
    """Cameras by name, an address, or a file; the picture is beside it at once."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        self._cameras = Choices("cameras")
        self._cameras.itemSelectionChanged.connect(lambda: self._pick())
        self._cameras.itemActivated.connect(lambda: self._pick())
        self._again = button("Look a&gain", lambda: self.told(desk.reload))
        self._typed = field("address or file", "rtsp://... or a path")
        self._find = button("&File", self._find_file)
        self._look = button("&Look at it", self._type)
        self._other = label("", "note")
        self.column.addWidget(label("Cameras of this machine", "head"))
        self.column.addWidget(self._cameras, 1)
        self.column.addWidget(self._again, 0, Qt.AlignmentFlag.AlignLeft)
        self.column.addWidget(buddy("&Network camera's address, clip or recording", self._typed))
        self.column.addWidget(self._typed)
        row = QHBoxLayout()
        row.addWidget(self._look)
        row.addWidget(self._find)
        row.addStretch(1)
        self.column.addLayout(row)
        self.column.addWidget(self._other)
        if sys.platform == "darwin":
            self.column.addWidget(label(MAC_PERMISSION, "faint"))

    def tell(self, scene: Scene) -> None:
        """Offer the cameras."""
        desk, chosen = self.desk, self.desk.setup.camera
        choices: list[tuple[str, str, object]] = [
            (one.name, one.detail, one) for one in desk.cameras
        ]
        if chosen is not None and chosen not in desk.cameras:
            choices.append((chosen.name, chosen.detail, chosen))
        if not choices:
            choices.append(("no camera is listed", "plug one in, then look again", None))
        self._cameras.offer(choices, chosen)
        other = setup_view.other_camera(desk.setup, desk.memory.choices)
        self._other.setText(f"{other} Look at its picture before you use it." if other else "")
        self._other.setVisible(bool(other))

    def action(self, scene: Scene) -> Action | None:
        """Use the camera that is looked at."""
        return setup_view.camera_action(self.desk.setup, self.desk.runs)

    def act(self, do: Do) -> None:
        """Go on with it."""
        self.told(self.desk.use_camera)

    def entered(self) -> bool:
        """Look at what was typed."""
        if not self._typed.hasFocus():
            return False
        self._type()
        return True

    def first(self) -> QWidget | None:
        """Return the list."""
        return self._cameras

    def _pick(self) -> None:
        picked = self._cameras.picked()
        if isinstance(picked, CameraChoice):
            self.told(self.desk.pick_camera, picked)

    def _type(self) -> None:
        self.told(self.desk.type_camera, self._typed.text())
        if not self.desk.note:
            self.setFocus()  # so that the next Return goes on instead of opening it again

    def _find_file(self) -> None:
        """Offer the files beside the window: nothing else waits for it."""
        dialog = QFileDialog(self, "Clip or recording", filter=FILES)
        dialog.setOption(QFileDialog.Option.DontUseNativeDialog)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setModal(False)
        dialog.fileSelected.connect(self._typed.setText)
        dialog.fileSelected.connect(lambda _: self._type())
        dialog.show()


class ProfilePage(Page):
    """A set-up that the camera has, none, or the commands that make one."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        self._profiles = Choices("camera profiles")
        self._profiles.itemSelectionChanged.connect(lambda: changed())
        again = button("Look a&gain", lambda: self.told(desk.reload))
        self._name = field("name of the new set-up")
        self._name.textEdited.connect(lambda: changed())
        self.column.addWidget(label("Set-ups that are there", "head"))
        self.column.addWidget(self._profiles, 1)
        self.column.addWidget(again, 0, Qt.AlignmentFlag.AlignLeft)
        row = QHBoxLayout()
        head = buddy("A new one: type these commands. The camera is &called", self._name)
        head.setObjectName("head")
        row.addWidget(head)
        row.addWidget(self._name, 1)
        self.column.addLayout(row)
        commands = QGridLayout()
        commands.setColumnStretch(0, 1)
        self._lines: list[tuple[QLabel, QLabel]] = []
        for number, one in enumerate(calibration(None, "studio", "bike")):
            line = command()
            copy = button("Copy", partial(_copy, line))
            copy.setAccessibleName(f"copy: {one.what}")
            what = label("", "faint")
            commands.addWidget(what, 2 * number, 0)
            commands.addWidget(line, 2 * number + 1, 0)
            commands.addWidget(copy, 2 * number + 1, 1)
            self._lines.append((what, line))
        self.column.addLayout(commands)
        self._hint = label("", "faint")
        self.column.addWidget(self._hint)

    def tell(self, scene: Scene) -> None:
        """Offer the set-ups, and spell the commands out for this camera."""
        desk = self.desk
        choices: list[tuple[str, str, object]] = [
            (one.name, one.problem or one.detail, None if one.problem else one.name)
            for one in desk.profiles
        ]
        without = "uncalibrated: angles as they are in the picture, places without millimetres"
        choices.append(("No profile", without, WITHOUT))
        picked = self._profiles.picked()
        if picked is None:
            last = desk.memory.choices
            same = desk.setup.camera is not None and desk.setup.camera.word == last.camera
            usual = (last.profile or WITHOUT) if same else None
            picked = usual if desk.setup.profile is None else desk.setup.profile
        self._profiles.offer(choices, picked)
        if not self._name.isModified():
            self._name.setText(profile_name(desk.setup.camera))
        name = self._name.text().strip() or "studio"
        problem = name_problem(name)
        self._hint.setText(f"The camera cannot be called so: {problem}." if problem else DETAIL)
        told = calibration(desk.setup.camera, name, desk.setup.bike)
        for one, (what, line) in zip(told, self._lines, strict=True):
            what.setText(one.what)
            line.setText(one.command)
            line.setAccessibleName(f"{one.what}: {one.command}")

    def action(self, scene: Scene) -> Action | None:
        """Use the picked set-up, or go without."""
        picked = self._profiles.picked()
        return setup_view.profile_action(picked if isinstance(picked, str) else None)

    def act(self, do: Do) -> None:
        """Tell the desk."""
        picked = self._profiles.picked()
        if isinstance(picked, str):
            self.told(self.desk.use_profile, picked)

    def first(self) -> QWidget | None:
        """Return the list."""
        return self._profiles


def _copy(line: QLabel) -> None:
    QGuiApplication.clipboard().setText(line.text())
