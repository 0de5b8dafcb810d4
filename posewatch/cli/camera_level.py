"""``posewatch camera level`` and ``check``: how the camera stands beside the bike."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from posewatch.cli.typed_values import all_given, joint_depths, point

if TYPE_CHECKING:
    from posewatch.camera.bike_view import HeldHow
    from posewatch.camera.held_boards import HeldBoard
    from posewatch.core.bike_setup import BikeSetup
    from posewatch.core.plane import Lens
    from posewatch.core.view_motion import Background

BOARDS = "From a board held at three places"
TYPED = "From typed points and lengths, with --typed"
KNOWN = "What is known of bike and rider"


def _place(where: str) -> object:
    return typer.Option(
        metavar="FILE", help=f"Picture or clip of the board at the {where}.", rich_help_panel=BOARDS
    )


def _spot(what: str) -> object:
    return typer.Option(metavar="X,Y", help=f"{what}, image px.", rich_help_panel=TYPED)


def _offset(what: str) -> object:
    return typer.Option(
        help=f"How far the {what} is off the bike's middle plane; by default the usual one.",
        rich_help_panel=KNOWN,
    )


def level(
    name: Annotated[str, typer.Option(help="The camera's name, as it was calibrated.")],
    bike: Annotated[str, typer.Option(help="Which bike it looks at.")] = "bike",
    lens: Annotated[
        str | None,
        typer.Option(help="Lens file, or camera's name; by default that of --name."),
    ] = None,
    note: Annotated[str, typer.Option(help="A note to keep with it.")] = "",
    front: Annotated[Path | None, _place("front axle")] = None,
    crank: Annotated[Path | None, _place("crank")] = None,
    rear: Annotated[Path | None, _place("rear axle")] = None,
    still: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Picture or clip of the bike alone, by which a moved camera is told later.",
            rich_help_panel=KNOWN,
        ),
    ] = None,
    bar_mm: Annotated[
        float,
        typer.Option(help="Measured length of the bar on the sheet.", rich_help_panel=BOARDS),
    ] = 100.0,
    board_level: Annotated[
        bool,
        typer.Option(
            "--board-level",
            help="The boards were held upright with a spirit level: they tell what is level, not "
            "the axles.",
            rich_help_panel=BOARDS,
        ),
    ] = False,
    typed: Annotated[
        bool, typer.Option("--typed", help="No boards.", rich_help_panel=TYPED)
    ] = False,
    front_at: Annotated[str | None, _spot("Front axle's end")] = None,
    rear_at: Annotated[str | None, _spot("Rear axle's end")] = None,
    crank_at: Annotated[str | None, _spot("Crank axis")] = None,
    pedal_top_at: Annotated[
        str | None, _spot("Pedal spindle with the camera side's crank straight up")
    ] = None,
    pedal_bottom_at: Annotated[str | None, _spot("The same with it straight down")] = None,
    crank_length_mm: Annotated[
        float | None,
        typer.Option(help="Crank axis to pedal spindle, needed.", rich_help_panel=TYPED),
    ] = None,
    rear_to_crank_mm: Annotated[
        float | None,
        typer.Option(help="Rear axle to crank axis; makes the yaw surer.", rich_help_panel=TYPED),
    ] = None,
    point_sd_px: Annotated[
        float, typer.Option(help="How well the points were read.", rich_help_panel=TYPED)
    ] = 1.0,
    wheelbase_mm: Annotated[
        float | None,
        typer.Option(
            help="Axle to axle; a check with boards, needed with --typed.", rich_help_panel=KNOWN
        ),
    ] = None,
    front_axle_higher_mm: Annotated[
        float,
        typer.Option(
            help="Front axle above the rear one; 0 = the bike is level in its trainer.",
            rich_help_panel=KNOWN,
        ),
    ] = 0.0,
    front_offset_mm: Annotated[float | None, _offset("front board (typed: axle's end)")] = None,
    crank_offset_mm: Annotated[float | None, _offset("crank board (typed: arm's face)")] = None,
    rear_offset_mm: Annotated[float | None, _offset("rear board (typed: axle's end)")] = None,
    depths: Annotated[
        str,
        typer.Option(
            metavar="JOINT=MM,...",
            help="How far the near joints are off the middle plane, e.g. hip=95,knee=110.",
            rich_help_panel=KNOWN,
        ),
    ] = "",
) -> None:
    """Find how the camera stands beside the bike, and keep it for watching.

    Hold a bike board at front axle, crank and rear axle in turn, its middle on the axle, its print
    to the camera, parallel to the bike; film each for two seconds, or take a picture.
    """
    from datetime import UTC, datetime

    from posewatch.camera import bike_view
    from posewatch.cli.profile_words import describe_profile
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.core.plane import CameraProfile
    from posewatch.errors import BadInput
    from posewatch.store.background_file import write_background
    from posewatch.store.camera_profile_file import SavedProfile
    from posewatch.store.camera_shelf import background_path, save_profile
    from posewatch.store.lens_file import camera_folder, read_lens

    usual = bike_view.HeldHow().offsets_mm
    given = front_offset_mm, crank_offset_mm, rear_offset_mm
    offsets = [u if g is None else g for u, g in zip(usual, given, strict=True)]
    how = bike_view.HeldHow(
        (offsets[0], offsets[1], offsets[2]), front_axle_higher_mm, board_level, wheelbase_mm
    )
    near_joints = joint_depths(depths)
    places = {"--front": front, "--crank": crank, "--rear": rear}
    points = {
        "--front-at": front_at,
        "--rear-at": rear_at,
        "--crank-at": crank_at,
        "--pedal-top-at": pedal_top_at,
        "--pedal-bottom-at": pedal_bottom_at,
    }
    lengths = {"--wheelbase-mm": wheelbase_mm, "--crank-length-mm": crank_length_mm}
    if any(places.values() if typed else points.values()):
        raise BadInput(
            "Points and pictures of boards were mixed.",
            "Give pictures of the board, or --typed with points and lengths.",
        )
    with begin() as settings:
        camera_folder(name, settings.data_folder)  # a name that cannot be is told before the work
        found_lens = read_lens(lens or name, settings.data_folder).lens
        if typed:
            setup = _from_typed(found_lens, points, lengths, rear_to_crank_mm, point_sd_px, how)
        else:
            setup = _from_boards(found_lens, places, bar_mm, how)
        stamp = datetime.now(UTC).astimezone().isoformat(timespec="seconds")
        profile = CameraProfile(found_lens, setup.view, near_joints)
        background = None if still is None else _background(still)
        kept, path = save_profile(
            SavedProfile(name, bike, 0, stamp, note, profile, setup), settings.data_folder
        )
        if background is not None:
            write_background(background_path(path), background)
    say(
        "taken as off the bike's middle plane: front {:g}, crank {:g}, rear {:g} mm".format(
            *how.offsets_mm
        )
        + ("" if any(g is not None for g in given) else " (usual for road bikes)")
    )
    say(f"saved {kept.name}/v{kept.version} as {path}")
    describe_profile(kept)
    if background is None:
        say(
            "note: no picture of the bike alone (--still): a moved camera will be told against the "
            "first second of each watch"
        )


def check(
    camera: Annotated[str, typer.Argument(help="Camera's name, NAME/vN, or a profile's file.")],
    clip: Annotated[
        Path | None, typer.Argument(help="Picture or clip with a bike board in it.")
    ] = None,
    bar_mm: Annotated[float, typer.Option(help="Measured length of the bar on the sheet.")] = 100.0,
    offset_mm: Annotated[
        float | None,
        typer.Option(help="How far the board is off the bike's middle plane [default: the crank]"),
    ] = None,
) -> None:
    """Show a camera's set-up; with a clip of a bike board, how true it still measures."""
    from posewatch.camera.bike_view import CRANK_OFFSET_MM
    from posewatch.cli.profile_words import describe_profile
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.store.camera_shelf import read_profile

    with begin() as settings:
        saved = read_profile(camera, settings.data_folder)
        describe_profile(saved)
        if clip is None:
            return
        from posewatch.camera.board_check import TOLD_SHARE, check_board

        held = _read_board(clip, saved.profile.lens, bar_mm)
        offset = CRANK_OFFSET_MM if offset_mm is None else offset_mm
        found = check_board(saved.profile, held.view, held.board.square_mm, offset)
        say(
            f"{held.board.name} in {clip.name}, {offset:g} mm off the middle plane, "
            f"pictures averaged: {held.n_frames}; squares of {found.square_mm:.1f} mm measure "
            f"{found.found_mm:.2f} mm ({found.found_mm - found.square_mm:+.2f} mm, "
            f"{100 * found.share:+.2f} %), the worst of {found.n_sides} sides is "
            f"{found.worst_mm:+.2f} mm off"
        )
        if not abs(found.share) <= TOLD_SHARE:
            say(
                "note: more than 1 % off: camera or bike moved, the board was not that far off "
                "the middle plane, or its bar has another length; level the camera again"
            )


def _from_boards(
    lens: Lens, places: dict[str, Path | None], bar_mm: float, how: HeldHow
) -> BikeSetup:
    from posewatch.camera.bike_view import solve_boards
    from posewatch.cli.screen import say

    held = {}
    for option, path in all_given(places, " or --typed").items():
        one = held[option] = _read_board(path, lens, bar_mm)
        say(
            f"{option.removeprefix('--')}: {one.board.name} in {path.name}, "
            f"{len(one.view.points_px)} corners, pictures averaged: {one.n_frames}, moved by "
            f"{one.scatter_mm:.1f} mm"
        )
    views = [one.view for one in held.values()]
    return solve_boards(lens, views[0], views[1], views[2], how)


def _read_board(path: Path, lens: Lens, bar_mm: float) -> HeldBoard:
    from posewatch.camera.held_boards import read_held_board
    from posewatch.cli.screen import progress_bar

    with progress_bar() as progress:
        task = progress.add_task(f"looking for the board in {path.name}", total=None)
        return read_held_board(path, lens, bar_mm, lambda n: progress.update(task, completed=n))


def _background(path: Path) -> Background:
    from posewatch.camera.background import make_background
    from posewatch.camera.still_pictures import read_few

    return make_background(read_few(path))


def _from_typed(
    lens: Lens,
    places: dict[str, str | None],
    lengths: dict[str, float | None],
    rear_to_crank_mm: float | None,
    point_sd_px: float,
    how: HeldHow,
) -> BikeSetup:
    import numpy as np

    from posewatch.camera.typed_view import TypedBike, solve_typed

    points = all_given(places, "")
    wheelbase_mm, crank_length_mm = all_given(lengths, "").values()
    typed = TypedBike(
        np.array([point(option, text) for option, text in points.items()]),
        wheelbase_mm,
        crank_length_mm,
        rear_to_crank_mm,
        point_sd_px,
        how.offsets_mm,
        how.front_axle_higher_mm,
    )
    return solve_typed(lens, typed)
