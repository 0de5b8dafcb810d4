"""The flow of set-up: its steps, what is chosen, and the one thing to do next. Without Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum, StrEnum

from posewatch.core.needs import Line, Need, Readiness, can_begin
from posewatch.store.remembered import Remembered
from posewatch.store.target_shelf import name_problem
from posewatch.ui.sensor_plan import SensorPlan, of_last_time
from posewatch.ui.sensor_view import action_words
from posewatch.ui.setup_choices import CameraChoice, ProfileChoice, TargetChoice, is_there

#: Hand positions that are offered; any other word will do.
HANDS = ("hoods", "drops", "tops", "aero")
#: The chosen profile where it was chosen to go without one.
WITHOUT = ""


class Step(IntEnum):
    """The steps, numbered as they are shown; START is before the first."""

    START = 0
    CONSENT = 1
    CAMERA = 2
    PROFILE = 3
    TARGET = 4
    SENSORS = 5
    READY = 6
    #: Beside the way: not every trial is one of a visit.
    VISIT = 7


TITLES = {
    Step.START: "Set-up",
    Step.CONSENT: "Cautions and consent",
    Step.CAMERA: "Camera",
    Step.PROFILE: "Camera profile",
    Step.TARGET: "Rider, bike, hands",
    Step.SENSORS: "Sensors",
    Step.READY: "Ready?",
    Step.VISIT: "Visit: blind trials",
}


class Do(StrEnum):
    """The one action of a step."""

    AGREE = "agree"
    USE_CAMERA = "use camera"
    USE_PROFILE = "use profile"
    USE_TARGET = "use target"
    USE_SENSORS = "use sensors"
    USE_VISIT = "use visit"
    CAPTURE = "capture"
    READ = "read"
    CHOOSE_CAMERA = "choose camera"
    OPEN = "open"
    CHOOSE_TARGET = "choose target"
    CHOOSE_SENSORS = "choose sensors"
    ASKED = "asked"
    BEGIN = "begin"


@dataclass(frozen=True, slots=True)
class Action:
    """What the step's button does and says; why not, empty = it can be pressed."""

    do: Do
    label: str
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Setup:
    """What is chosen so far.

    consent_of: the code of the rider who agreed. profile: None = not chosen, WITHOUT = none on
    purpose. target: its name, empty = none. asked: that the rider is the target's. sensors: which
    give what, none at first; sensors_known: that was seen to.
    """

    step: Step = Step.START
    consent_of: str = ""
    camera: CameraChoice | None = None
    profile: str | None = None
    rider: str = ""
    bike: str = ""
    hands: str = HANDS[0]
    target: str = ""
    asked: bool = False
    sensors: SensorPlan = SensorPlan()
    sensors_known: bool = False

    def remembered(self, last: Remembered) -> dict[str, object]:
        """Return what is to be kept for the next time, by the names of ``Remembered``."""
        if self.camera is None:
            return {}
        return {
            "camera": self.camera.word,
            "camera_name": self.camera.name,
            "profile": self.profile or None,
            "target": self.target or last.target,
            **self.sensors.remembered(),
        }


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step in the list of steps. why_not: why it is not done, empty = it is."""

    step: Step
    title: str
    is_here: bool
    why_not: str


def same_again(
    last: Remembered,
    cameras: Sequence[CameraChoice],
    profiles: Sequence[ProfileChoice],
    targets: Sequence[TargetChoice],
) -> tuple[Setup, str]:
    """Return the set-up of last time, at the readiness list, and a note.

    Where something of it is no longer there, it is left out and its step comes first.
    """
    setup, note, step = Setup(sensors=of_last_time(last), sensors_known=True), "", Step.READY
    target = next((one for one in targets if one.name == last.target), None)
    if target is None:
        step, note = Step.TARGET, f"The target of last time, {last.target}, is not there any more."
    else:
        setup = replace(
            setup, rider=target.rider, bike=target.bike, hands=target.hands, target=target.name
        )
    usable = {one.name for one in profiles if not one.problem}
    if last.profile is None or last.profile in usable:
        setup = replace(setup, profile=WITHOUT if last.profile is None else last.profile)
    else:
        step, note = Step.PROFILE, f"The set-up of last time, {last.profile}, cannot be used."
    if is_there(last.camera, tuple(cameras)):
        camera = next(
            (one for one in cameras if one.word == last.camera),
            CameraChoice(last.camera, last.camera_name or last.camera),
        )
        setup = replace(setup, camera=camera)
    else:
        name = last.camera_name or last.camera
        step, note = Step.CAMERA, f"The camera of last time, {name}, is not there: plug it in."
    return replace(setup, step=step), note


def can_be_same(last: Remembered) -> bool:
    """Tell whether there is a last time."""
    return bool(last.camera and last.target)


def agree(setup: Setup, rider: str) -> Setup:
    """Return the set-up after a rider agreed; another rider's target and effort are dropped."""
    setup = replace(setup, consent_of=rider)
    if setup.rider == rider:
        return setup
    if setup.rider:
        sensors = replace(setup.sensors, power_w=None, cadence_rpm=None, trainer=None)
        setup = replace(setup, sensors=sensors, sensors_known=False)
    return replace(setup, rider=rider, target="", asked=False)


def choose_camera(setup: Setup, camera: CameraChoice) -> Setup:
    """Return the set-up with a camera; another camera's profile is dropped."""
    other = setup.camera is None or setup.camera.word != camera.word
    return replace(setup, camera=camera, profile=None if other else setup.profile)


def choose_target(setup: Setup, target: TargetChoice) -> Setup:
    """Return the set-up with a target that was picked for the rider at hand."""
    return replace(
        setup,
        rider=target.rider,
        bike=target.bike,
        hands=target.hands,
        target=target.name,
        asked=True,
    )


def other_camera(setup: Setup, last: Remembered) -> str:
    """Say that this is not the camera of last time; empty = it is, or nobody knows."""
    if setup.camera is None or not last.camera or setup.camera.word == last.camera:
        return ""
    return f"This is not the camera you used last time ({last.camera_name or last.camera})."


def onward(setup: Setup) -> Step:
    """Return the first step in which something is still to be chosen."""
    open_steps = (
        (Step.CONSENT, not setup.consent_of),
        (Step.CAMERA, setup.camera is None),
        (Step.PROFILE, setup.profile is None),
        (Step.TARGET, not setup.target),
        (Step.SENSORS, not setup.sensors_known),
    )
    return next((step for step, is_open in open_steps if is_open), Step.READY)


def steps(setup: Setup, runs: bool, lines: Sequence[Line]) -> tuple[StepLine, ...]:
    """Return the list of steps. runs: the camera gives pictures."""
    missing = next((one for one in lines if one.level is Readiness.MISSING), None)
    camera = "it gives no pictures yet" if setup.camera and not runs else ""
    why_not = {
        Step.CONSENT: "" if setup.consent_of else "nobody has agreed yet",
        Step.CAMERA: camera if setup.camera else "none is chosen",
        Step.PROFILE: "nothing is chosen" if setup.profile is None else "",
        Step.TARGET: "" if setup.target else "no target is chosen",
        Step.SENSORS: "" if setup.sensors_known else "not seen to: none is a normal choice",
        Step.READY: "" if missing is None else f"{missing.need}: {missing.words}",
    }
    return tuple(
        StepLine(step, TITLES[step], setup.step is step, why) for step, why in why_not.items()
    )


def consent_action(rider: str) -> Action:
    """Return the action of the first step; rider: the code that was typed."""
    problem = name_problem(rider) if rider else "type the rider's code first"
    why_not = f"this code cannot be: {problem}" if rider and problem else problem or ""
    return Action(Do.AGREE, f"{rider or 'The rider'} has read this and agrees", why_not)


def camera_action(setup: Setup, runs: bool) -> Action:
    """Return the action of the second step."""
    if setup.camera is None:
        return Action(Do.USE_CAMERA, "Use this camera", "choose a camera first")
    why_not = "" if runs else "look at its picture first"
    return Action(Do.USE_CAMERA, f"Use {setup.camera.name}", why_not)


def profile_action(picked: str | None) -> Action:
    """Return the action of the third step; picked: in the list, None = nothing."""
    if picked is None:
        return Action(Do.USE_PROFILE, "Use this set-up", "choose one, or go without")
    return Action(Do.USE_PROFILE, f"Use {picked}" if picked else "Go on without a profile")


def target_action(setup: Setup, picked: TargetChoice | None) -> Action:
    """Return the action of the fourth step; picked: in the list, None = capture a new one."""
    if picked is not None:
        return Action(Do.USE_TARGET, f"Use {picked.name}")
    if not setup.rider:
        return Action(Do.CAPTURE, "Capture a target", "let the rider agree first (step 1)")
    for what, name in (("bike", setup.bike), ("hand position", setup.hands)):
        problem = name_problem(name) if name else f"type the {what} first"
        if problem:
            why_not = f"the {what} cannot be called so: {problem}" if name else problem
            return Action(Do.CAPTURE, "Capture a target", why_not)
    return Action(Do.CAPTURE, f"Capture {setup.rider}/{setup.bike}/{setup.hands}")


def sensors_action(setup: Setup, problem: str) -> Action:
    """Return the action of the fifth step; problem: of a number that was typed."""
    return Action(Do.USE_SENSORS, *action_words(setup.sensors, problem))


def ready_action(setup: Setup, is_open: bool, lines: Sequence[Line]) -> Action:
    """Return the next thing to do at the readiness list; at last, to begin."""
    if any(one.need is Need.CONSENT and one.level is Readiness.MISSING for one in lines):
        return Action(Do.READ, "Let the rider read and agree")
    if setup.camera is None:
        return Action(Do.CHOOSE_CAMERA, "Choose a camera")
    if not setup.target:
        return Action(Do.CHOOSE_TARGET, "Choose a target")
    if setup.sensors.no_power:
        return Action(Do.CHOOSE_SENSORS, "Choose a power sensor, or plan no power")
    if not is_open:
        return Action(Do.OPEN, f"Open {setup.camera.name}")
    if not setup.asked:
        return Action(Do.ASKED, f"Yes, it is {setup.rider} on {setup.bike}")
    if not can_begin(lines):
        missing = next(one for one in lines if one.level is Readiness.MISSING)
        return Action(Do.BEGIN, "Begin", f"{missing.need}: {missing.advice or missing.words}")
    gaps = sum(one.level is not Readiness.READY for one in lines)
    return Action(Do.BEGIN, "Begin" if not gaps else f"Begin, knowing of {_gaps(gaps)}")


def _gaps(n: int) -> str:
    return "1 gap" if n == 1 else f"{n} gaps"
