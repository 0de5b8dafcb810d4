"""``posewatch bridge``: what a new mounting does to the numbers, before anything counts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from posewatch.core.bridge import Bridge, BridgeVerdict


def bridge(
    target: Annotated[
        str, typer.Argument(help="File, or name as rider/bike/hands or rider/bike/hands/vN.")
    ],
    clip: Annotated[Path, typer.Argument(help="Clip, or recorded landmarks (*.landmarks.npz).")],
    mounting: Annotated[str, typer.Option(help="Label of the mounting, e.g. B2.")],
    kit: Annotated[str, typer.Option(help="What the rider wears, for telling it apart.")] = "",
    camera: Annotated[
        str | None, typer.Option(help="Calibrated camera: its name, or a profile's file.")
    ] = None,
    against: Annotated[
        Path | None, typer.Option(help="Another mounting's bridge file to compare with.")
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="Keep the offsets in this file.")
    ] = None,
    start: Annotated[float, typer.Option(help="Begin at this second of the clip.")] = 0.0,
    end: Annotated[float | None, typer.Option(help="End at this second of the clip.")] = None,
    model: Annotated[
        str | None, typer.Option(help="Pose model: lite, full or a path; else the target's.")
    ] = None,
) -> None:
    """Hold twenty strokes on a new mounting against a target; nothing is judged or re-centred."""
    from posewatch.bridging import bridge_mounting
    from posewatch.cli.screen import progress_bar
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.cli.sources import source_for
    from posewatch.core.bridge import compare_bridges, judge_bridge
    from posewatch.store.bridge_file import read_bridge, write_bridge
    from posewatch.store.target_shelf import read_target

    require_new_file(output)
    other = None if against is None else read_bridge(against)
    with begin({"model": model}) as settings:
        held = read_target(target, settings.data_folder)
        source = source_for(held, str(clip), settings, model, False, start, end, camera, kit)
        with progress_bar() as progress:
            task = progress.add_task(f"reading {source.name}", total=None)
            found = bridge_mounting(
                held,
                source,
                mounting,
                lambda done, expected: progress.update(
                    task, completed=done, total=expected or None
                ),
            )
    if output is not None:
        write_bridge(found, output)
    _show(found)
    _say_verdict(judge_bridge(found), "items", "this mounting and others")
    if other is not None:
        both = f"{found.mounting} and {other.mounting}"
        _say_verdict(compare_bridges(found, other), f"items {both}", both)


def _show(found: Bridge) -> None:
    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.cli.target_words import amount, nominal_words

    kit = f", kit {found.kit}" if found.kit else ""
    say(f"mounting {found.mounting}{kit}: {found.n_strokes} strokes held against {found.target}")
    table = Table("channel", "offset", "SD of a stroke", "standard error", "lag-1")
    for one in found.offsets:
        table.add_row(
            one.channel,
            amount(one.mean, one.unit, 2, "+"),
            amount(one.stroke_sd, one.unit, 2),
            amount(one.standard_error, one.unit, 2),
            f"{one.stroke_lag1:.2f}",
        )
    show_table(table)
    if any(one.unit == "thigh" for one in found.offsets):
        say(nominal_words())
    say("the target stays as it is: an offset is shown, never taken away")


def _say_verdict(verdict: BridgeVerdict, items: str, mountings: str) -> None:
    from posewatch.cli.screen import say
    from posewatch.core.bridge import Within

    for one in verdict.findings:
        say(
            f"{one.what}: {one.size:.2f} {one.unit} +- {one.uncertainty:.2f} (90 %), aim "
            f"{one.aim:g}: {one.within}"
        )
    off = ", ".join(one.what for one in verdict.findings if one.within is not Within.YES)
    why = verdict.obstacle or off
    if verdict.within is Within.YES:
        mm = "mm" if all(one.unit != "mm*" for one in verdict.findings) else "mm*"
        say(f"{Within.YES}: {mm} may be compared between {items}")
    elif verdict.within is Within.NO:
        say(f"{Within.NO}: no mm claims between {mountings} ({why})")
    else:
        say(f"{Within.UNTOLD}: no mm claims between {mountings} until more strokes tell ({why})")
