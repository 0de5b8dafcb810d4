"""The operator's live picture: what is seen now, or why nothing is."""

from __future__ import annotations

from posewatch.core.records import NS_PER_S
from posewatch.core.sources import TimedPicture
from posewatch.runtime.engine import EngineState, Shown
from posewatch.studio import Doing
from posewatch.ui.key_help import with_keys
from posewatch.ui.live_picture import LivePicture
from posewatch.ui.scene import Scene

#: A picture older than this is not shown as if it were of now.
STALE_NS = NS_PER_S
CURTAIN = "camera closed: people may change clothes; key {CAMERA} opens it"


class OperatorPicture(LivePicture):
    """Shows a scene's picture with small crosses at the believed joints."""

    _newest: tuple[TimedPicture | Shown | None, int] = (None, 0)

    def show_scene(self, scene: Scene) -> None:
        """Take over what is seen now."""
        shown = scene.shown
        picture = None if shown is None else shown.picture or shown
        if picture is not self._newest[0]:
            self._newest = (picture, scene.monotonic_ns)
        age_ns = scene.monotonic_ns - self._newest[1]
        curtain = veil = ""
        if scene.doing is Doing.NOTHING:
            curtain = with_keys(CURTAIN)
        elif shown is None or scene.state is EngineState.STARTING:
            curtain = "the camera opens"
        elif age_ns >= STALE_NS:
            veil = f"no new picture since {age_ns // NS_PER_S} s"
        chain = None if scene.target is None else scene.target.chain
        size_px = (640, 480) if chain is None else (chain.width_px, chain.height_px)
        self.show_moment(shown, curtain, veil, size_px, scene.switches.theme)
