"""What set-up knows of all that a trial needs, for the list of ``core.readiness``. Without Qt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from posewatch.core.needs import Facts
from posewatch.runtime.engine import EngineState
from posewatch.studio import Doing
from posewatch.ui import sensor_plan
from posewatch.ui.looking import sight
from posewatch.ui.scene import Scene

if TYPE_CHECKING:
    from posewatch.ui.setup_desk import Desk


def facts(desk: Desk, scene: Scene) -> Facts:
    """Return what readiness is told from."""
    setup, post = desk.setup, desk.studio.post
    is_open = scene.doing is Doing.PREVIEW and scene.state is EngineState.RUNNING
    seen = sight(desk.looking, scene.monotonic_ns, scene.health.rate_hz)
    trouble = scene.camera if is_open else desk.why_ended(scene)
    return Facts(
        setup.consent_of,
        "" if setup.camera is None else setup.camera.name,
        is_open,
        desk.viewfinder.is_wanted and not is_open,
        "" if trouble == seen.light else trouble,
        seen,
        None if desk.profile is None else desk.profile.profile,
        setup.profile is not None,
        desk.target,
        post.chain if is_open else None,
        desk.studio.chosen.any_chain,
        setup.asked,
        scene.health.disk_free_bytes,
        scene.switches.no_sound,
        scene.switches.sound,
        desk.clock_step_s(scene),
        sensor_plan.facts(setup.sensors, desk.sensors.live()),
        setup.sensors.no_power,
    )
