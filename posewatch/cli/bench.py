"""``posewatch bench``: measure this program on the shipped clips."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    help="Measure accuracy, speed and faults on the shipped clips.", no_args_is_help=True
)


@app.command("accuracy")
def accuracy(
    model: Annotated[
        str | None,
        typer.Option(help="Run this model on the clips; without it their recorded landmarks."),
    ] = None,
    every: Annotated[
        bool,
        typer.Option("--all", help="Run lite and full on the pictures, and --model too if given."),
    ] = False,
    markdown: Annotated[
        Path | None, typer.Option(help="Also write the table as Markdown to this file.")
    ] = None,
) -> None:
    """Compare what the chain measures with the clips' exact joints."""
    from posewatch.bench.accuracy import all_reached, measure
    from posewatch.bench.tables import as_markdown, as_table
    from posewatch.cli.screen import progress_bar, say, show_table
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.store.atomic_file import write_new

    require_new_file(markdown)
    with begin({"model": model}), progress_bar() as bar:
        tasks: dict[str, object] = {}

        def progress(clip: str, done: int, expected: int) -> None:
            if clip not in tasks:
                tasks[clip] = bar.add_task(clip, total=expected or None)
            bar.update(tasks[clip], completed=done, visible=done < expected)  # type: ignore[arg-type]

        models = list(dict.fromkeys(("lite", "full", model or "full"))) if every else [model]
        tables = {}
        for one in models:
            tasks.clear()
            tables[one or "recorded landmarks"] = measure(one, progress)
    for name, rows in tables.items():
        say(f"model: {name}")
        show_table(as_table(rows))
    if markdown is not None:
        pages = [f"## {name}\n\n{as_markdown(rows)}" for name, rows in tables.items()]
        write_new(markdown, "\n".join(pages))
        say(f"written to {markdown}")
    if not all(all_reached(rows) for rows in tables.values()):
        say("some figures are not reached")
        raise typer.Exit(1)


@app.command("endurance")
def endurance(
    model: Annotated[
        str | None, typer.Option(help="Pose model: lite, full or a path; else as set.")
    ] = None,
    minutes: Annotated[float, typer.Option(min=0.2, help="How long to watch.")] = 30.0,
) -> None:
    """Watch a clip as a camera, with windows, for a long time: does anything grow or age?"""
    from posewatch.bench.endurance import measure_endurance
    from posewatch.bench.tables import as_table
    from posewatch.cli.screen import progress_bar, show_table
    from posewatch.cli.setup import begin

    with begin({"model": model}) as settings, progress_bar() as bar:
        task = bar.add_task("watching", total=60.0 * minutes)
        rows = measure_endurance(settings, minutes, lambda s: bar.update(task, completed=s))
    show_table(as_table(rows))


@app.command("faults")
def faults(
    kills: Annotated[int, typer.Option(min=2, help="How often a recording is killed.")] = 50,
    seed: Annotated[int, typer.Option(help="Of the random moments.")] = 1,
) -> None:
    """Kill recordings at random moments, fill their drive, set the clock: is anything lost?"""
    from posewatch.bench.faults import measure_faults
    from posewatch.bench.tables import as_table
    from posewatch.cli.screen import progress_bar, say, show_table
    from posewatch.cli.setup import begin

    with begin(), progress_bar() as bar:
        task = bar.add_task("kills", total=kills)
        rows = measure_faults(kills, seed, lambda: bar.advance(task))
    show_table(as_table(rows))
    if any(row.reached is False for row in rows):
        say("some figures are not reached")
        raise typer.Exit(1)


@app.command("speed")
def speed(
    model: Annotated[
        str | None, typer.Option(help="Pose model: lite, full or a path; else as set.")
    ] = None,
    pairs: Annotated[int, typer.Option(min=2, help="Pairs of blocks of 100 frames.")] = 8,
) -> None:
    """Compare the whole chain with a bare loop of decoding and pose model."""
    from posewatch.bench.speed import measure_speed
    from posewatch.bench.tables import as_table
    from posewatch.cli.screen import progress_bar, show_table
    from posewatch.cli.setup import begin

    with begin({"model": model}) as settings, progress_bar() as bar:
        task = bar.add_task("blocks", total=2 * pairs)
        rows = measure_speed(settings, pairs, lambda: bar.advance(task))
    show_table(as_table(rows))
