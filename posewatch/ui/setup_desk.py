"""Does what set-up asks for: reads what was chosen, opens the camera, tells the studio. Without Qt.

``setup_view`` decides, this acts, the window paints.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from posewatch.core.envelope import Target
from posewatch.core.needs import Facts, Line, gaps_mark
from posewatch.core.readiness import readiness, target_name
from posewatch.core.records import NS_PER_S
from posewatch.errors import PosewatchError
from posewatch.runtime import clock
from posewatch.store.consent import consent_mark, video_agreed
from posewatch.store.remembered import Memory
from posewatch.store.target_shelf import read_target
from posewatch.studio import Doing, Studio
from posewatch.ui import setup_view
from posewatch.ui.clock_watch import ClockWatch
from posewatch.ui.looking import Looking, look
from posewatch.ui.scene import Scene
from posewatch.ui.sensor_desk import SensorDesk, Sensors, live_sensors
from posewatch.ui.sensor_plan import SensorPlan, of_chosen
from posewatch.ui.setup_choices import (
    CameraChoice,
    TargetChoice,
    points_of,
    saved_profiles,
    saved_targets,
    source_of,
    typed_camera,
)
from posewatch.ui.setup_facts import facts
from posewatch.ui.setup_view import Setup, Step
from posewatch.ui.viewfinder import Viewfinder
from posewatch.ui.visit_choice import VisitChoice
from posewatch.ui.visit_ride import Visiting
from posewatch.watched_source import Camera, Source, find_camera

#: The list changes at most so often, for people's eyes.
TOLD_NS = NS_PER_S // 2
#: Set-up's sensors are let go of while something else is at work.
IDLE = (Doing.NOTHING, Doing.PREVIEW)


class Desk:
    """One sitting's set-up, for the thread of the windows.

    note: the newest thing that a person should know, empty = nothing. lines: the readiness list.

    Args:
        studio: the sitting.
        memory: what was chosen last time.
        list_cameras: the cameras of this machine.
        open_sensors: makes the live sensors, when they are first needed.
        wall_ns: the wall clock, ns since 1970-01-01 UTC.
    """

    def __init__(
        self,
        studio: Studio,
        memory: Memory,
        list_cameras: Callable[[], Sequence[CameraChoice]],
        wall_ns: Callable[[], int] = clock.wall_ns,
        open_sensors: Callable[[], Sensors] = live_sensors,
        visit: Visiting | None = None,
    ) -> None:
        self.studio, self.memory = studio, memory
        self._list_cameras, self._wall_ns = list_cameras, wall_ns
        self._commanded = of_chosen(studio.chosen.sensors, studio.chosen.plan)
        self.setup = Setup(sensors=self._commanded)
        self.sensors = SensorDesk(open_sensors)
        self.visits = VisitChoice(studio, visit)
        self.note = memory.note
        self.cameras: tuple[CameraChoice, ...] = ()
        self.profile: Camera | None = None
        self.target: Target | None = None
        self.looking = Looking()
        self.lines: tuple[Line, ...] = readiness(Facts())
        self.viewfinder = Viewfinder(studio)
        self._told_ns: int | None = None
        self._clock = ClockWatch(wall_ns)
        self.reload()

    @property
    def runs(self) -> bool:
        """Whether the chosen camera gives pictures."""
        return self.looking.moment_ns >= 0

    def reload(self) -> None:
        """Look anew for what can be chosen."""
        folder = self.studio.settings.data_folder
        self.cameras = tuple(self._list_cameras())
        self.profiles = saved_profiles(folder)
        self.targets = saved_targets(folder)

    def begin_new(self) -> None:
        """Begin the long flow."""
        self.setup, self.note = Setup(step=Step.CONSENT, sensors=self._commanded), ""
        self._load()

    def begin_same(self) -> None:
        """Begin the short flow: all as last time."""
        self.reload()
        self.setup, self.note = setup_view.same_again(
            self.memory.choices, self.cameras, self.profiles, self.targets
        )
        if self._commanded != SensorPlan():
            self.setup = replace(self.setup, sensors=self._commanded)
        self._load()

    def go(self, step: Step) -> None:
        """Go to a step."""
        self.setup, self.note = replace(self.setup, step=step), ""
        if step is Step.CAMERA:
            self._look_at_usual_camera()

    def back(self) -> None:
        """Go to the step before; at the beginning nothing happens."""
        self.go(Step(max(self.setup.step - 1, Step.START)))

    def agree(self, rider: str, video: bool = False) -> None:
        """The rider has read the text and agrees; video: to one with a blurred face as well."""
        self.setup = setup_view.agree(self.setup, rider)
        given = datetime.fromtimestamp(self._wall_ns() // NS_PER_S, UTC).astimezone()
        kept = video_agreed(rider, given, blur_faces=True) if video else None
        self.studio.choose(consent=consent_mark(rider, given), video=kept)
        self._load()
        self.go(setup_view.onward(self.setup))

    def pick_camera(self, camera: CameraChoice) -> None:
        """Choose a camera and look at it."""
        self.setup, self.note = setup_view.choose_camera(self.setup, camera), ""
        self._load()
        self.open_camera()

    def type_camera(self, text: str) -> None:
        """Choose a network camera, clip or recording; the note says what is wrong with it."""
        try:
            self.pick_camera(typed_camera(text))
        except PosewatchError as error:
            self.note = str(error)

    def use_camera(self) -> None:
        """The camera is the right one."""
        self.go(setup_view.onward(self.setup))

    def use_profile(self, name: str) -> None:
        """Choose a set-up of the camera, WITHOUT = none."""
        self.setup = replace(self.setup, profile=name)
        self._load()
        if self.viewfinder.is_wanted:
            self.open_camera()
        if not self.note:
            self.go(setup_view.onward(self.setup))

    def place(self, bike: str, hands: str) -> None:
        """Say which bike and hand position are next."""
        self.setup = replace(self.setup, bike=bike, hands=hands)

    def use_target(self, target: TargetChoice) -> None:
        """Choose a saved target."""
        before = self.target
        self.setup = setup_view.choose_target(self.setup, target)
        self._load()
        if self.viewfinder.is_wanted and points_of(before) is not points_of(self.target):
            self.open_camera()
        if not self.note:
            self.go(setup_view.onward(self.setup))

    def plan_sensors(self, plan: SensorPlan) -> None:
        """Change which sensors give what, or what is planned."""
        self.setup, self.note = replace(self.setup, sensors=plan), ""
        self._choose_sensors()

    def scan_sensors(self) -> None:
        """Look for sensors, once the rider has agreed."""
        if self.setup.consent_of:
            self.sensors.scan()
        else:
            self.note = "Bluetooth stays off until the rider has agreed (step 1)."

    def use_sensors(self) -> None:
        """The sensors, or none, are the right ones."""
        self.sensors.pick(None)
        self.setup = replace(self.setup, sensors_known=True)
        self.go(setup_view.onward(self.setup))

    def rider_asked(self) -> None:
        """It was asked whether the rider is the target's: yes."""
        self.setup = replace(self.setup, asked=True)
        self._told_ns = None

    def open_camera(self) -> None:
        """Open the chosen camera, once the rider has agreed."""
        source = self._source()
        if source is None:
            return
        if not self.setup.consent_of:
            self.note = "The camera stays closed until the rider has agreed (step 1)."
            return
        self.viewfinder.open(source)

    def toggle_camera(self) -> None:
        """Draw the curtain, or open it."""
        if self.viewfinder.is_wanted:
            self.viewfinder.close()
        else:
            self.open_camera()

    def leave(self, then: Callable[[], None]) -> None:
        """Remember what was chosen, close camera and sensors, and then call ``then``."""
        kept = self.setup.remembered(self.memory.choices)
        if kept:
            self.memory.keep(**kept)
        self.viewfinder.close(lambda: self.sensors.close(then))

    def gaps(self) -> str:
        """Return what the record of a trial that begins now says of what was not ready."""
        return gaps_mark(self.lines)

    def follow(self, scene: Scene) -> None:
        """Take in a scene; call it at every poll."""
        self.looking = look(self.looking, scene)
        self.viewfinder.follow(scene.doing)
        may_connect = bool(self.setup.consent_of) and scene.doing in IDLE
        self.sensors.follow(self.setup.sensors, may_connect, scene.monotonic_ns)
        if scene.target is not None and scene.target is not self.target:
            self._adopt(scene.target)
        if self._told_ns is None or scene.monotonic_ns - self._told_ns >= TOLD_NS:
            self._told_ns = scene.monotonic_ns
            self.lines = readiness(facts(self, scene))

    def clock_step_s(self, scene: Scene) -> float:
        """Return by how much the wall clock has stepped, NaN = not watched for long enough."""
        return self._clock.step_s(scene.monotonic_ns)

    def why_ended(self, scene: Scene) -> str:
        """Say why the camera closed by itself, empty = it did not."""
        if not self.viewfinder.ended:
            return ""
        return scene.error or "It came to its end: open it once more to see it again."

    def _look_at_usual_camera(self) -> None:
        """Choose the camera of last time, or the only one, where none is chosen yet."""
        if self.setup.camera is None:
            last = self.memory.choices.camera
            usual = [one for one in self.cameras if one.word == last]
            usual = usual or list(self.cameras if len(self.cameras) == 1 else ())
            if usual:
                self.pick_camera(usual[0])

    def _load(self) -> None:
        """Read the profile and the target that are chosen; what cannot be read is not chosen."""
        setup, folder = self.setup, self.studio.settings.data_folder
        self._told_ns = None
        self.profile = None
        try:
            if setup.profile:
                self.profile = find_camera(setup.profile, folder)
        except PosewatchError as error:
            self.setup, self.note = replace(self.setup, profile=None), str(error)
        try:
            if not setup.target:
                self.target = None
            elif self.target is None or target_name(self.target) != setup.target:
                self.target = read_target(setup.target, folder)
        except PosewatchError as error:
            self.target = None
            self.setup, self.note = replace(self.setup, target="", asked=False), str(error)
        self.studio.choose(target=self.target, source=self._source())
        self._choose_sensors()

    def _choose_sensors(self) -> None:
        plan = self.setup.sensors
        self._told_ns = None
        self.studio.choose(
            sensors=plan.use,
            trainer=plan.held_by,
            plan=plan.watch_plan(self.studio.chosen.plan),
        )

    def _adopt(self, target: Target) -> None:
        """Take over the target that was captured or chosen elsewhere."""
        self.target = target
        self.targets = saved_targets(self.studio.settings.data_folder)
        found = TargetChoice(target_name(target), target.rider, target.bike, target.hands)
        self.setup = setup_view.choose_target(self.setup, found)
        self._told_ns = None
        if self.setup.step is Step.TARGET:
            self.go(setup_view.onward(self.setup))

    def _source(self) -> Source | None:
        """Return what is to be watched."""
        model = self.studio.settings.model
        return source_of(self.setup.camera, self.profile, self.target, model)
