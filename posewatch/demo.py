"""The demonstration: an invented rider's clips, captured and watched as a studio would."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from posewatch.app import Watcher, WatchResult
from posewatch.capturing import capture_target
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.plane import BikeView, CameraProfile, JointDepths, Lens
from posewatch.core.records import Frame, Input
from posewatch.core.sensor_use import SensorUse
from posewatch.core.timebase import to_s
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput, ChainMismatch
from posewatch.report.watch_figure import draw_watch
from posewatch.store.derived import note_derived
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.watched_source import Camera, Source

RIDER, BIKE = "demo-rider", "demo-bike"
#: Short, so that the clips can show what comes after it; 30 s by default elsewhere.
SIT_IN_S = 2.0
#: The demo bike's meter, and the power that is planned where it was there; the clips' cadences
#: wander by more than any plan allows, so none is planned.
METER, POWER_W = "Demo crank", 200.0
#: The model runs on one core; two clips at a time use two.
AT_A_TIME = 2


@dataclass(frozen=True, slots=True)
class Reference:
    """A clip, or its first part, from which a target is captured."""

    clip: str
    hands: str
    bike: str = BIKE
    end_s: float | None = None


@dataclass(frozen=True, slots=True)
class Ride:
    """A clip watched against a reference's target, and what there is to see."""

    clip: str
    reference: str
    shows: str

    @property
    def name(self) -> str:
        """What its session and picture are called."""
        return self.clip if self.clip != self.reference else f"{self.clip}_own_target"


REFERENCES = (
    Reference("hoods_reference", "hoods"),
    Reference("drops_reference", "drops"),
    Reference("left_side_steady", "hoods", "demo-bike-left", 25.0),
    Reference("dark_kit_dim_room", "hoods", "demo-bike-dark", 25.0),
)
RIDES = (
    Ride("hoods_steady", "hoods_reference", "steady riding counts"),
    Ride("hoods_drift", "hoods_reference", "the torso sinks, later the hip slides forward"),
    Ride("hoods_interruptions", "hoods_reference", "off the saddle, a drink, coasting, backwards"),
    Ride("saddle_high", "hoods_reference", "another saddle height is out of band"),
    Ride("saddle_low", "hoods_reference", "another saddle height is out of band"),
    Ride("drops_steady", "drops_reference", "the other hand position has its own target"),
    Ride("walks_past", "hoods_reference", "a second person behind the rider"),
    Ride("empty_bike", "hoods_reference", "nobody: nothing counts"),
    Ride("left_side_steady", "hoods_reference", "a target of the other side is refused"),
    Ride("left_side_steady", "left_side_steady", "its own target, from its first 25 s"),
    Ride("dark_kit_dim_room", "dark_kit_dim_room", "dark kit, dim room; its own target"),
)


@dataclass(frozen=True, slots=True)
class RideResult:
    """One ride as it went. result is None where the target was refused; why says it then.

    session: the folder of its log.
    """

    ride: Ride
    result: WatchResult | None
    session: Path | None = None
    picture: Path | None = None
    why: str = ""


#: Where the demo rider's near joints are, mm off the bike's middle plane, as measured on him.
DEPTHS = JointDepths(
    shoulder=202.0,
    elbow=235.0,
    wrist=215.0,
    hip=110.0,
    knee=122.0,
    ankle=123.0,
    heel=132.0,
    toe=79.0,
)
#: Which of the demo's cameras saw a clip, where it was not the one on the right side.
CAMERAS = {
    "left_side_steady": "left_side",
    "yaw_5": "right_side_yaw_5",
    "yaw_10": "right_side_yaw_10",
    "yaw_15": "right_side_yaw_15",
    "three_quarter": "right_side_yaw_45",
    "half_body_above": "right_side_low",
    "half_body_below": "right_side_high",
}

#: Called with a clip's name, the frames done and the frames expected.
Progress = Callable[[str, int, int], None]


def clips_folder() -> Path:
    """Return the folder of the demo clips: in the installed package, or beside a checkout's.

    Raises:
        BadInput: the clips are not there.
    """
    package = Path(__file__).parent
    for folder in (package / "_data" / "demo_clips", package.parent / "demo_clips"):
        if (folder / "hoods_reference.mp4").is_file():
            return folder
    raise BadInput(
        f"The demo clips are not in {package / '_data'}.", "Install posewatch again, whole."
    )


def sensor_recording(clip: str) -> Path | None:
    """Return the recorded packets of the sensors on a clip's bike, None = it has none."""
    path = clips_folder() / "sensors" / f"{clip}.packets.jsonl"
    return path if path.is_file() else None


def sensors_of(clip: str) -> SensorUse:
    """Return the recorded sensors of a clip; none where nothing was recorded."""
    recording = sensor_recording(clip)
    return SensorUse() if recording is None else SensorUse(METER, METER, recording=recording)


def plan_of(clip: str) -> WatchPlan:
    """Return what is planned for a clip: the power too, where a sensor tells it."""
    return WatchPlan(POWER_W if sensors_of(clip).is_any else None, sit_in_s=SIT_IN_S)


def source(
    clip: str, recorded: bool, model: str, end_s: float | None = None, dots: bool = False
) -> Source:
    """Return a clip, or what the full model (or the dots) gave in it, as a source."""
    folder = clips_folder()
    name = f"{clip}.dots" if dots else clip
    path = folder / "landmarks" / f"{name}.landmarks.npz" if recorded else folder / f"{clip}.mp4"
    return Source(path, model, end_s=end_s, camera=Camera(clip_profile(clip), None), dots=dots)


def clip_profile(clip: str) -> CameraProfile:
    """Return the profile of the camera that saw a demo clip, exact."""
    stated = json.loads((clips_folder() / "camera_profile.json").read_text(encoding="utf-8"))
    one = stated[CAMERAS.get(clip, "right_side")]
    width_px, height_px = one["size_px"]
    fx_px, fy_px = one["focal_length_px"]
    cx_px, cy_px = one["principal_point_px"]
    lens = Lens(width_px, height_px, fx_px, fy_px, cx_px, cy_px, tuple(one["distortion"]))
    rotation = tuple(value for row in one["rotation_bike_to_camera"] for value in row)
    return CameraProfile(lens, BikeView(tuple(one["position_mm"]), rotation), DEPTHS)


def capture_reference(
    reference: Reference, recorded: bool, settings: Settings, progress: Progress
) -> Target:
    """Capture a reference's target and keep it on the shelf of settings.data_folder."""
    found = capture_target(
        [source(reference.clip, recorded, settings.model, reference.end_s)],
        Subject(RIDER, reference.bike, reference.hands),
        lambda _, done, expected: progress(reference.clip, done, expected),
    )
    return save_target(found, settings.data_folder)[0]


def watch_ride(
    ride: Ride, target: Target, recorded: bool, settings: Settings, progress: Progress
) -> RideResult:
    """Watch one clip; the log goes into settings.data_folder."""
    session = settings.data_folder / "sessions" / ride.name
    watcher = Watcher(
        source(ride.clip, recorded, settings.model),
        target,
        plan_of(ride.clip),
        settings,
        session,
        sensors=sensors_of(ride.clip),
    )
    done = 0
    expected = 0

    def opened(n_frames: int) -> None:
        nonlocal expected
        expected = n_frames

    def seen(item: Input, *_: object) -> None:
        nonlocal done
        done += isinstance(item, Frame)
        progress(ride.clip, done, expected)

    try:
        return RideResult(ride, watcher.run(seen, opened), session)
    except ChainMismatch as refusal:
        return RideResult(ride, None, why=str(refusal))


def draw_ride(one: RideResult, target: Target, folder: Path) -> RideResult:
    """Draw a ride that was watched into a folder; one that was refused has no picture."""
    if one.result is None:
        return one
    picture = folder / f"{one.ride.name}.png"
    title = f"{one.ride.clip}: {one.ride.shows}"
    draw_watch(target, one.result.outputs, to_s(one.result.totals.watched_ns), title, picture)
    if one.session is not None:
        note_derived(one.session, [picture])
    return replace(one, picture=picture)


def shown_ride(settings: Settings) -> tuple[Source, Target, WatchPlan, SensorUse]:
    """Return the ride for windows, its target, plan and sensors: torso sinks, then hip slides.

    Raises:
        PosewatchError: a clip cannot be used.
    """
    target = capture_reference(REFERENCES[0], True, settings, lambda *_: None)
    clip = "hoods_drift"
    paced_clip = replace(source(clip, False, settings.model), paced=True)
    return paced_clip, target, plan_of(clip), sensors_of(clip)


def run_demo(recorded: bool, settings: Settings, progress: Progress) -> list[RideResult]:
    """Capture the references and watch every ride, two at a time.

    recorded: use the recorded landmarks instead of running the model on the pictures.
    settings: its data_folder takes targets, sessions and pictures.

    Raises:
        PosewatchError: a clip or the model cannot be used, or a log failed. This and Ctrl+C end
            the other clips too.
    """
    ended = threading.Event()

    def on_frame(clip: str, done: int, expected: int) -> None:
        if ended.is_set():
            raise KeyboardInterrupt
        progress(clip, done, expected)

    with ThreadPoolExecutor(AT_A_TIME) as pool:
        try:
            captured = pool.map(
                lambda r: capture_reference(r, recorded, settings, on_frame), REFERENCES
            )
            targets = {r.clip: t for r, t in zip(REFERENCES, captured, strict=True)}
            watched = pool.map(
                lambda ride: watch_ride(
                    ride, targets[ride.reference], recorded, settings, on_frame
                ),
                RIDES,
            )
            # The drawing library is not made for several threads.
            return [
                draw_ride(one, targets[one.ride.reference], settings.data_folder) for one in watched
            ]
        except BaseException:
            ended.set()
            raise
