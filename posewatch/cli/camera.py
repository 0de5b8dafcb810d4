"""``posewatch camera``: boards to print, and calibrating a lens with them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from posewatch.camera.lens_views import Sighted
    from posewatch.camera.locks import CameraSetting, Lock
    from posewatch.core.boards import Board
    from posewatch.core.lens_calibration import LensCalibration

camera_app = typer.Typer(help="List cameras, print boards, calibrate a camera's lens.")

#: A camera is watched until so many views are taken, or until Ctrl-C.
LIVE_VIEWS = 25


@camera_app.command("list")
def list_cameras() -> None:
    """List the cameras of this machine, and the set-ups that are saved."""
    from posewatch.camera.webcams import list_webcams
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.store.camera_shelf import list_profiles

    with begin() as settings:
        webcams, saved = list_webcams(), list_profiles(settings.data_folder)
    for one in webcams:
        say(f"{one.index}  {one.name}  {one.stable_id}")
    if not webcams:
        say("no camera is plugged in, or this system does not let one be seen")
    newest = {name: version for name, version, _ in saved}
    for name, version in newest.items():
        say(f"set-up {name}/v{version}")


@camera_app.command("board")
def board(
    board: Annotated[
        list[str] | None,
        typer.Option("--board", help="bike-a4, bike-a3, lens-a4 or lens-a3; by default all."),
    ] = None,
    output: Annotated[
        Path, typer.Option("-o", "--output", help="Folder for the PDF files.")
    ] = Path("."),
) -> None:
    """Write the boards as PDF files to print at 100 %."""
    from posewatch.camera.boards import black_mm
    from posewatch.cli.screen import say
    from posewatch.cli.setup import require_new_file
    from posewatch.core.boards import BAR_MM, BOARDS, board_named
    from posewatch.report.board_pdf import write_board

    chosen = BOARDS if not board else tuple(board_named(name) for name in dict.fromkeys(board))
    paths = [output / f"{one.name}.pdf" for one in chosen]
    for path in paths:
        require_new_file(path)
    for one, path in zip(chosen, paths, strict=True):
        write_board(one, black_mm(one), path)
        say(f"wrote {path} ({one.paper.name}, {_use(one)})")
    say(
        "Print at 100 % (not fitted to the page), measure the black bar: it must be "
        f"{BAR_MM:.0f} mm long, or give its length with --bar-mm. Glue it flat on stiff board."
    )


@camera_app.command("calibrate")
def calibrate(
    source: Annotated[
        str,
        typer.Argument(help="Folder of pictures, clip, camera (number or name), or its address."),
    ],
    name: Annotated[str, typer.Option(help="What this camera is called from now on.")],
    board: Annotated[
        str | None, typer.Option(help="Look for this board only, e.g. lens-a3.")
    ] = None,
    bar_mm: Annotated[
        float, typer.Option("--bar-mm", help="Measured length of the printed 100 mm bar.")
    ] = 100.0,
    lock: Annotated[
        list[str] | None,
        typer.Option(
            help="Of a camera: exposure, gain, white-balance, focus or zoom, kept as it is, or "
            "set, e.g. exposure=-7. May be given several times."
        ),
    ] = None,
) -> None:
    """Calibrate a camera's lens from views of a printed board."""
    from posewatch.camera.lens_calibration import calibrate_lens
    from posewatch.camera.lens_views import gather
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.core.boards import BOARDS, board_named
    from posewatch.core.filming import filming_advice
    from posewatch.core.lens_calibration import lens_advice
    from posewatch.errors import BadInput
    from posewatch.store.lens_file import camera_folder, save_lens
    from posewatch.watched_source import find_source

    choice = BOARDS if board is None else (board_named(board),)
    printed = tuple(one.printed(bar_mm) for one in choice)
    wishes = _wishes(lock or [])
    folder = Path(source).is_dir()
    path, live = (Path(source), "") if folder else find_source(source)
    if wishes and not live:
        raise BadInput(
            f"--lock is for cameras, and {source} is none.",
            "Leave it out, or give the number or name of a camera.",
        )
    with begin() as settings:
        camera_folder(name, settings.data_folder)
        rate_hz: float | None = None
        if live:
            seen = _from_camera(live, printed, wishes)
        else:
            seen, rate_hz = _from_files(path, printed)
        found = gather(seen)
        result = calibrate_lens(
            found.views, found.size_px, found.board.name, bar_mm, found.rejected
        )
        path, earlier = save_lens(name, result, settings.data_folder)
    _describe(result)
    for sentence in (*lens_advice(result), *filming_advice(None, rate_hz)):
        say(f"note: {sentence}")
    if earlier is not None:
        say(f"the calibration before is kept as {earlier}")
    say(f"saved {name} as {path}")


def _use(board: Board) -> str:
    return "held on the bike" if board.held_on_bike else "held in front of the camera"


def _wishes(given: list[str]) -> dict[CameraSetting, float | None]:
    """Read name or name=value, as often as given."""
    from posewatch.camera.locks import CameraSetting
    from posewatch.errors import BadInput

    names = {str(setting).replace(" ", "-"): setting for setting in CameraSetting}
    wishes: dict[CameraSetting, float | None] = {}
    for text in given:
        name, equals, value = text.partition("=")
        try:
            wishes[names[name]] = float(value) if equals else None
        except (KeyError, ValueError) as error:
            raise BadInput(
                f"{text!r} cannot be locked.", f"Give {', '.join(names)}, alone or with =NUMBER."
            ) from error
    return wishes


def _from_files(path: Path, boards: tuple[Board, ...]) -> tuple[list[Sighted], float | None]:
    """Look through a folder of pictures, or a clip; also returns a clip's rate in Hz."""
    from posewatch.camera.clip import Clip
    from posewatch.camera.lens_views import look_through_folder, look_through_stream
    from posewatch.cli.screen import progress_bar

    with progress_bar() as progress:
        task = progress.add_task(f"looking for boards in {path.name}", total=None)

        def looked(n: int, what: str) -> None:
            progress.update(task, completed=n, description=what)

        if path.is_dir():
            return look_through_folder(path, boards, looked), None
        clip = Clip(path)
        return list(look_through_stream(clip, boards, looked)), clip.info.rate_hz


def _from_camera(
    word: str, boards: tuple[Board, ...], wishes: dict[CameraSetting, float | None]
) -> list[Sighted]:
    """Watch a camera until it has seen views enough, or until Ctrl-C."""
    import signal
    import threading

    from posewatch.camera.lens_views import look_through_stream
    from posewatch.camera.live_camera import open_live
    from posewatch.camera.live_pictures import live_pictures
    from posewatch.camera.locks import lock, still_held
    from posewatch.cli.screen import progress_bar, say
    from posewatch.runtime.clock import monotonic_ns

    stop = threading.Event()
    camera = open_live(word, monotonic_ns)
    before = signal.signal(signal.SIGINT, lambda *_: stop.set())
    try:
        locks = lock(camera.controls, wishes)
        say(f"hold the board still for a second in {LIVE_VIEWS} ways; Ctrl-C when it is enough")
        seen: list[Sighted] = []
        with progress_bar() as progress:
            task = progress.add_task("looking for a board", total=LIVE_VIEWS)

            def looked(n: int, what: str) -> None:
                progress.update(task, completed=n, description=what)

            for one in look_through_stream(live_pictures(camera, stop), boards, looked):
                seen.append(one)
                if len(seen) == LIVE_VIEWS:
                    stop.set()
        _describe_locks(still_held(camera.controls, locks))
    finally:
        signal.signal(signal.SIGINT, before)
        camera.close()
    return seen


def _describe_locks(locks: tuple[Lock, ...]) -> None:
    from posewatch.cli.screen import say

    for one in locks:
        state = f"held at {one.read_back:g}" if one.held else f"NOT held: {one.note}"
        say(f"{one.setting}: {state}")


def _describe(found: LensCalibration) -> None:
    from posewatch.cli.screen import say
    from posewatch.core.lens_calibration import field_of_view_deg

    for view in found.rejected:
        say(f"left out {view.name}: {view.reason}")
    lens, spread = found.lens, found.spread
    across, up = field_of_view_deg(lens)
    say(
        f"{found.board}, bar {found.bar_mm:g} mm: {found.n_views} views used, "
        f"{len(found.rejected)} left out, {found.n_corners} corners, "
        f"{100 * found.coverage:.0f} % of the picture covered"
    )
    (tilt_low, tilt_high), (lean_low, lean_high) = found.tilt_range_deg, found.lean_range_deg
    say(
        f"board turned {tilt_low:+.0f} to {tilt_high:+.0f} degrees about the upright, "
        f"{lean_low:+.0f} to {lean_high:+.0f} about the level"
    )
    say(f"corners left {found.rms_px:.2f} px off (RMS)")
    say(
        f"focal length {lens.fx_px:.1f} +- {spread.fx_px:.1f} by {lens.fy_px:.1f} +- "
        f"{spread.fy_px:.1f} px, middle {lens.cx_px:.1f} +- {spread.cx_px:.1f}, {lens.cy_px:.1f} "
        f"+- {spread.cy_px:.1f} px (one SD), sees {across:.0f} by {up:.0f} degrees"
    )
    say("distortion " + ", ".join(f"{v:+.4f}" for v in lens.distortion) + " (k1 k2 p1 p2 k3)")
    say(
        f"holds for {lens.width_px} x {lens.height_px} px, this zoom and this focus; calibrate "
        "again when one of them changes"
    )
