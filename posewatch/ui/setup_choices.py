"""What can be chosen at set-up: cameras, their set-ups, targets. Without Qt."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import PointSource
from posewatch.errors import BadInput
from posewatch.pose.bundles import SHIPPED_MODELS
from posewatch.store.camera_profile_file import SavedProfile, read_profile_file
from posewatch.store.camera_shelf import list_profiles
from posewatch.store.target_shelf import list_targets
from posewatch.watched_source import Camera, Source, find_source

#: Addresses that a network camera may have.
SCHEMES = ("http://", "https://", "rtsp://", "rtsps://")


@dataclass(frozen=True, slots=True)
class CameraChoice:
    """A camera, stream, clip or recording.

    word: by which it is opened, the same after a reboot. name, detail: for people. number: what
    the system calls it now, None = it has none.
    """

    word: str
    name: str
    detail: str = ""
    number: int | None = None


@dataclass(frozen=True, slots=True)
class ProfileChoice:
    """A camera's newest set-up. name: NAME/vN. problem: why it cannot be used, empty = it can."""

    name: str
    detail: str
    problem: str = ""


@dataclass(frozen=True, slots=True)
class TargetChoice:
    """A saved target. name: rider/bike/hands/vN."""

    name: str
    rider: str
    bike: str
    hands: str


@dataclass(frozen=True, slots=True)
class Instruction:
    """A command to type, and what it is for."""

    what: str
    command: str


def typed_camera(text: str) -> CameraChoice:
    """Return the network camera, clip or recording that a person typed.

    Raises:
        BadInput: it is neither an address nor a file.
    """
    word = text.strip()
    if "://" in word:
        if not word.lower().startswith(SCHEMES):
            raise BadInput(
                f"{word} is not an address of a camera.",
                f"It begins with {', '.join(SCHEMES)}.",
            )
        return CameraChoice(word, _without_password(word), "network camera")
    path = Path(word).expanduser()
    if not word or not path.is_file():
        raise BadInput(
            f"There is no file {word}." if word else "Nothing was typed.",
            "Type a camera's address, or the path of a clip or recording.",
        )
    return CameraChoice(str(path.absolute()), path.name, "clip or recording")


def is_there(word: str, cameras: tuple[CameraChoice, ...]) -> bool:
    """Tell whether a remembered camera can be tried: it is listed, an address, or a file."""
    if any(one.word == word for one in cameras):
        return True
    path, live = find_source(word)
    return "://" in live or (not live and path.is_file())


def saved_profiles(data_folder: Path) -> tuple[ProfileChoice, ...]:
    """Return every camera's newest set-up, by name."""
    newest = {name: (version, path) for name, version, path in list_profiles(data_folder)}
    choices = []
    for name, (version, path) in newest.items():
        full_name = f"{name}/v{version}"
        try:
            choices.append(ProfileChoice(full_name, describe(read_profile_file(path))))
        except BadInput as error:
            choices.append(ProfileChoice(full_name, "", str(error)))
    return tuple(choices)


def describe(saved: SavedProfile) -> str:
    """Say in a line what a set-up is of."""
    view, lens = saved.profile.view, saved.profile.lens
    return (
        f"beside {saved.bike}, {saved.created[:10]}; the {view.side} side, "
        f"{view.distance_mm / 1000:.1f} m away, {view.yaw_deg:+.0f} degrees off square; "
        f"{lens.width_px} x {lens.height_px} px"
    )


def saved_targets(data_folder: Path) -> tuple[TargetChoice, ...]:
    """Return the saved targets, of each the newest version first."""
    found = list_targets(data_folder)
    found.sort(key=lambda one: (one.rider, one.bike, one.hands, -one.version))
    return tuple(TargetChoice(one.name, one.rider, one.bike, one.hands) for one in found)


def profile_name(camera: CameraChoice | None) -> str:
    """Suggest what a camera is called in its files: letters, digits and hyphens."""
    words = re.findall(r"[a-z0-9]+", "" if camera is None else camera.name.lower())
    return "-".join(words)[:40].strip("-") or "studio"


def calibration(camera: CameraChoice | None, name: str, bike: str) -> tuple[Instruction, ...]:
    """Return the commands that make a set-up of a camera, in order.

    camera: a numbered one calibrates itself, else pictures of it are taken. name: what it is to be
    called. bike: beside which it stands.
    """
    live = camera is not None and camera.number is not None
    pictures = f"{camera.number} --lock focus --lock zoom" if live and camera else "views"
    called, beside = _quoted(name), _quoted(bike or "bike")
    return (
        Instruction("Print the boards at 100 % (once)", "posewatch camera board"),
        Instruction(
            "Lens, with the lens board held in 25 ways (once a camera)"
            if live
            else "Lens, from 15 to 25 pictures of the lens board in the folder views (once)",
            f"posewatch camera calibrate {pictures} --name {called}",
        ),
        Instruction(
            "Place, with the bike board filmed at both axles and the crank (each session)",
            f"posewatch camera level --name {called} --bike {beside} --front front.mp4 "
            "--crank crank.mp4 --rear rear.mp4 --still bike.mp4",
        ),
    )


def _quoted(name: str) -> str:
    """Return a name as one word of a command, in any system's shell."""
    return name if re.fullmatch(r"[\w.-]+", name) else f'"{name}"'


def _without_password(address: str) -> str:
    return re.sub(r"//[^/@]*@", "//", address)


def source_of(
    camera: CameraChoice | None, profile: Camera | None, target: Target | None, model: str
) -> Source | None:
    """Return what is to be watched, None = no camera is chosen.

    A target's own model, and its dots, are the ones to use; model: where it names none that is
    there.
    """
    if camera is None:
        return None
    path, live = find_source(camera.word)
    if target is not None and target.chain.model_name in SHIPPED_MODELS:
        model = target.chain.model_name
    dots = points_of(target) is PointSource.DOTS
    return Source(path, model, True, camera=profile, dots=dots, live=live)


def points_of(target: Target | None) -> PointSource:
    """Return what a target's joints were read from."""
    return PointSource.LANDMARKS if target is None else target.chain.points
