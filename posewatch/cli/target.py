"""``posewatch target``: capture a position, list and show saved ones."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(help="Save a fitted position as a target, and look at saved ones.")


@app.command("capture")
def capture(
    clip: Annotated[Path, typer.Argument(help="Clip, or recorded landmarks (*.landmarks.npz).")],
    hands: Annotated[str, typer.Option(help="Hand position, e.g. hoods, drops, aero.")],
    rider: Annotated[str, typer.Option(help="Rider's code (no real name needed).")] = "rider",
    bike: Annotated[str, typer.Option(help="Which bike.")] = "bike",
    kit: Annotated[str, typer.Option(help="What the rider wears, for telling it apart.")] = "",
    note: Annotated[str, typer.Option(help="A note to keep with the target.")] = "",
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="Also write a copy to this file.")
    ] = None,
    start: Annotated[float, typer.Option(help="Begin at this second of the clip.")] = 0.0,
    end: Annotated[float | None, typer.Option(help="End at this second of the clip.")] = None,
    model: Annotated[str | None, typer.Option(help="Pose model: lite, full or a path.")] = None,
) -> None:
    """Capture a target from a clip of the rider in the fitted position."""
    from posewatch.app import capture_target
    from posewatch.cli.screen import progress_bar, say
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.core.capture import Subject
    from posewatch.opening import Source
    from posewatch.store.target_shelf import copy_target, save_target

    require_new_file(output)
    with begin({"model": model}) as settings, progress_bar() as progress:
        task = progress.add_task(f"reading {clip.name}", total=None)
        found = capture_target(
            Source(clip, settings.model, start_s=start, end_s=end),
            Subject(rider, bike, hands, note),
            kit,
            lambda done, expected: progress.update(task, completed=done, total=expected or None),
        )
    kept, path = save_target(found, settings.data_folder)
    say(f"saved {kept.rider}/{kept.bike}/{kept.hands}/v{kept.version} as {path}")
    if output is not None:
        copy_target(kept, output)
        say(f"copied to {output}")
    if kept.chain.model_name == "lite":
        say("note: lite reads a change of the torso about a quarter too small; full is better")
    _describe(kept)


@app.command("list")
def list_saved() -> None:
    """List the saved targets."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.store.target_shelf import list_targets, shelf

    with begin() as settings:
        saved = list_targets(settings.data_folder)
    for one in saved:
        say(one.name)
    if not saved:
        say(f"no targets in {shelf(settings.data_folder)}")


@app.command("show")
def show(
    target: Annotated[
        str, typer.Argument(help="File, or name as rider/bike/hands or rider/bike/hands/vN.")
    ],
) -> None:
    """Show a target's bands and what they can resolve."""
    from posewatch.cli.setup import begin
    from posewatch.store.target_shelf import read_target

    with begin() as settings:
        _describe(read_target(target, settings.data_folder))


def _describe(target: "Target") -> None:  # type: ignore[name-defined] # noqa: F821, UP037
    from rich.table import Table

    from posewatch.cli.screen import say, show_table

    say(
        f"{target.side} side, {target.n_strokes} strokes used, {target.n_dropped} dropped as "
        f"unlike the others, {target.cadence_rpm:.0f} rpm; chain {target.chain.fingerprint()} "
        f"({target.chain.model_name}, {target.chain.camera_profile})"
    )
    table = Table("channel", "centre (mean)", "outer limit", "inner limit", "stroke SD", "held")
    for one in target.envelopes:
        scale, unit = (1.0, "deg") if one.unit == "deg" else (100.0, "% thigh")
        centre = f"{one.centre[0][0]:.1f} {unit}" if one.unit == "deg" else "-"
        table.add_row(
            one.channel,
            centre,
            f"{scale * one.tol:.1f} {unit}",
            f"{scale * one.inner:.1f} {unit}",
            f"{scale * one.stroke_sd:.2f} {unit}",
            "required" if one.required else "advisory",
        )
    show_table(table)
