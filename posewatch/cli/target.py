"""``posewatch target``: capture a position; show, change, compare and pass on saved ones."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from posewatch.cli.limits import Limits
    from posewatch.core.envelope import Target

app = typer.Typer(help="Save a fitted position as a target; show, change and compare saved ones.")

NAME = "File, or name as rider/bike/hands or rider/bike/hands/vN."
TolOption = Annotated[
    list[str] | None,
    typer.Option(
        "--tol",
        help="Outer limit, CHANNEL=NUMBER in deg or mm (nominal mm where the camera is not "
        "calibrated), e.g. torso=2.5; may be repeated.",
    ),
]
RequiredOption = Annotated[
    list[str] | None,
    typer.Option("--required", help="A channel that must be in band; may be repeated."),
]
AdvisoryOption = Annotated[
    list[str] | None,
    typer.Option("--advisory", help="A channel that is only shown; may be repeated."),
]
ForceOption = Annotated[
    bool, typer.Option("--force", help="Keep limits that are tighter than the noise.")
]


@app.command("capture")
def capture(
    clips: Annotated[
        list[str],
        typer.Argument(
            help="Clips, or recorded landmarks (*.landmarks.npz); each is a new sit, and sits "
            "inside a clip are found. A camera or stream with --end."
        ),
    ],
    hands: Annotated[str, typer.Option(help="Hand position, e.g. hoods, drops, aero.")],
    rider: Annotated[str, typer.Option(help="Rider's code (no real name needed).")] = "rider",
    bike: Annotated[str, typer.Option(help="Which bike.")] = "bike",
    kit: Annotated[str, typer.Option(help="What the rider wears, for telling it apart.")] = "",
    dots: Annotated[
        bool, typer.Option("--dots", help="The rider wears sticker dots: read those.")
    ] = False,
    camera: Annotated[
        str | None, typer.Option(help="Calibrated camera: its name, or a profile's file.")
    ] = None,
    author: Annotated[str, typer.Option(help="Who captures it.")] = "",
    note: Annotated[str, typer.Option(help="A note to keep with the target.")] = "",
    tol: TolOption = None,
    required: RequiredOption = None,
    advisory: AdvisoryOption = None,
    force: ForceOption = False,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="Also write a copy to this file.")
    ] = None,
    start: Annotated[float, typer.Option(help="Begin at this second of each clip.")] = 0.0,
    end: Annotated[float | None, typer.Option(help="End at this second of each clip.")] = None,
    model: Annotated[str | None, typer.Option(help="Pose model: lite, full or a path.")] = None,
    workers: Annotated[
        int, typer.Option(min=1, max=2, help="Pose models that take pictures in turn.")
    ] = 1,
) -> None:
    """Capture a target from clips of the rider in the fitted position."""
    from posewatch.capturing import capture_target
    from posewatch.cli.limits import read_limits
    from posewatch.cli.screen import progress_bar, say
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.cli.target_words import describe, say_saved
    from posewatch.core.capture import Subject
    from posewatch.errors import BadInput
    from posewatch.store.target_shelf import copy_target, require_names, save_target
    from posewatch.watched_source import Source, find_camera, find_source

    limits = read_limits(tol, required, advisory)
    require_new_file(output)
    require_names(rider, bike, hands)
    with begin({"model": model}) as settings:
        seen_by = None if camera is None else find_camera(camera, settings.data_folder)
        sources = [
            Source(path, settings.model, False, start, end, seen_by, kit, dots, live, workers)
            for path, live in map(find_source, clips)
        ]
        endless = next((one.name for one in sources if one.live and end is None), None)
        if endless is not None:
            raise BadInput(f"{endless} has no end by itself.", "Give --end, in seconds.")
        with progress_bar() as progress:
            task = progress.add_task("reading", total=None)
            found = capture_target(
                sources,
                Subject(rider, bike, hands, note, author),
                lambda name, done, expected: progress.update(
                    task, description=f"reading {name}", completed=done, total=expected or None
                ),
            )
    kept, path = save_target(_limited(found, limits, force), settings.data_folder)
    say_saved(kept, path)
    if output is not None:
        copy_target(kept, output)
        say(f"copied to {output}")
    if kept.chain.model_name == "lite":
        say("note: lite reads a change of the torso about a quarter too small; full is better")
    describe(kept)


def _limited(target: Target, limits: Limits, force: bool) -> Target:
    from posewatch.cli.limits import require_above_noise, with_limits

    found = with_limits(target, limits)
    if not force:
        require_above_noise(found, limits.named)
    return found


@app.command("list")
def list_saved() -> None:
    """List the saved targets."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.cli.target_words import show_list
    from posewatch.store.target_shelf import list_targets, shelf

    with begin() as settings:
        saved = list_targets(settings.data_folder)
    if saved:
        show_list(saved)
    else:
        say(f"no targets in {shelf(settings.data_folder)}")


@app.command("show")
def show(
    target: Annotated[str, typer.Argument(help=NAME)],
    figure: Annotated[
        Path | None,
        typer.Option(help="Draw the curves with their bands into this file (.png, .svg, .pdf)."),
    ] = None,
) -> None:
    """Show a target's limits, its noise, and what it can tell."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.cli.target_words import describe
    from posewatch.store.target_shelf import read_target

    require_new_file(figure)
    with begin() as settings:
        found = read_target(target, settings.data_folder)
    if figure is not None:
        from posewatch.report.target_figure import write_target_figure

        write_target_figure(found, figure)
        say(f"drew {figure}")
    describe(found)


@app.command("edit")
def edit(
    target: Annotated[str, typer.Argument(help=NAME)],
    tol: TolOption = None,
    required: RequiredOption = None,
    advisory: AdvisoryOption = None,
    note: Annotated[str | None, typer.Option(help="Another note.")] = None,
    author: Annotated[str | None, typer.Option(help="Who changes it.")] = None,
    force: ForceOption = False,
) -> None:
    """Change limits or the note of a target; this is a new version, the old one stays."""
    from dataclasses import replace

    from posewatch.cli.limits import read_limits
    from posewatch.cli.setup import begin
    from posewatch.cli.target_words import describe, say_saved
    from posewatch.errors import BadInput
    from posewatch.store.target_shelf import read_target, save_target

    limits = read_limits(tol, required, advisory)
    with begin() as settings:
        before = read_target(target, settings.data_folder)
        after = replace(
            _limited(before, limits, force),
            note=before.note if note is None else note,
            author=before.author if author is None else author,
        )
        if after == before:
            raise BadInput(
                f"Nothing would change in {target}.",
                "Give another --tol, --required, --advisory, --note or --author.",
            )
        kept, path = save_target(replace(after, created=""), settings.data_folder)
    say_saved(kept, path)
    describe(kept)


@app.command("compare")
def compare(
    first: Annotated[str, typer.Argument(help=NAME)],
    second: Annotated[str, typer.Argument(help=NAME)],
) -> None:
    """Show how the second target's curves differ from the first one's, and what of it is told."""
    from posewatch.cli.setup import begin
    from posewatch.cli.target_words import show_difference
    from posewatch.store.target_shelf import read_target

    with begin() as settings:
        before = read_target(first, settings.data_folder)
        after = read_target(second, settings.data_folder)
    show_difference((first, second), (before, after))


@app.command("export")
def export(
    target: Annotated[str, typer.Argument(help=NAME)],
    file: Annotated[Path, typer.Argument(help="New file to write.")],
) -> None:
    """Write a target to a file of its own."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.store.target_shelf import copy_target, read_target

    with begin() as settings:
        copy_target(read_target(target, settings.data_folder), file)
    say(f"wrote {file}")


@app.command("import")
def import_file(
    file: Annotated[Path, typer.Argument(help="A target's file.")],
    rider: Annotated[str | None, typer.Option(help="Another rider's code.")] = None,
    bike: Annotated[str | None, typer.Option(help="Another bike.")] = None,
    hands: Annotated[str | None, typer.Option(help="Another hand position.")] = None,
) -> None:
    """Keep a target's file as a new version under its names, or under these."""
    from dataclasses import replace

    from posewatch.cli.setup import begin
    from posewatch.cli.target_words import say_saved
    from posewatch.store.target_file import read_target_file
    from posewatch.store.target_shelf import save_target

    with begin() as settings:
        found = read_target_file(file)
        named = replace(
            found,
            rider=found.rider if rider is None else rider,
            bike=found.bike if bike is None else bike,
            hands=found.hands if hands is None else hands,
        )
        kept, path = save_target(named, settings.data_folder)
    say_saved(kept, path)


@app.command("schema")
def schema() -> None:
    """Print the JSON Schema of target files."""
    from posewatch.store.target_document import SCHEMA_FILE

    typer.echo(SCHEMA_FILE.read_text(encoding="utf-8"), nl=False)
