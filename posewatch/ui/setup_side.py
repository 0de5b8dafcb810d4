"""What stands beside set-up's pages: the camera's picture, its state, and drawings of places."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QVBoxLayout, QWidget

from posewatch.runtime.engine import Shown
from posewatch.ui import keys
from posewatch.ui.keys import Act
from posewatch.ui.live_picture import LivePicture
from posewatch.ui.place_pictures import PlacePictures, camera_places, screen_places
from posewatch.ui.scene import Scene
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_parts import label
from posewatch.ui.setup_view import Step
from posewatch.ui.viewfinder import camera_words


class SetupSide(QWidget):
    """The picture with its state, and the drawings under it.

    painted: is called at the end of the paint that shows a picture for the first time.
    """

    def __init__(self, desk: Desk, painted: Callable[[Shown], None]) -> None:
        super().__init__()
        self._desk = desk
        self._picture = LivePicture(painted)
        self._line = label("", "faint")
        self._places: dict[Step, PlacePictures] = {
            Step.CAMERA: camera_places(),
            Step.READY: screen_places(),
        }
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._picture, 3)
        column.addWidget(self._line)
        for places in self._places.values():
            column.addWidget(places, 2)

    def tell(self, scene: Scene, step: Step) -> None:
        """Show what belongs to a step."""
        for at, places in self._places.items():
            places.setVisible(at is step)
            places.tell(scene.switches.theme)
        self._line.setText(self._camera_words(scene)[1])

    def show_picture(self, scene: Scene) -> None:
        """Show the newest picture, or why there is none."""
        chain = self._desk.studio.post.chain
        size_px = (640, 480) if chain is None else (chain.width_px, chain.height_px)
        curtain, _ = self._camera_words(scene)
        self._picture.show_moment(scene.shown, curtain, "", size_px, scene.switches.theme)

    def _camera_words(self, scene: Scene) -> tuple[str, str]:
        desk = self._desk
        key = keys.first_key(Act.CAMERA)
        return camera_words(scene, desk.setup, desk.viewfinder.is_wanted, key)
