"""``posewatch demo``: the whole job on the invented rider's clips."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from posewatch.cli.options import (
    Headless,
)

if TYPE_CHECKING:
    from rich.table import Table

    from posewatch.demo import RideResult
    from posewatch.store.settings import Settings


def demo(
    out: Annotated[
        Path | None,
        typer.Option(
            help="New folder for pictures, targets and sessions; else posewatch-demo, here."
        ),
    ] = None,
    recorded: Annotated[
        bool,
        typer.Option(
            "--recorded", help="Use recorded landmarks instead of running the model; no windows."
        ),
    ] = False,
    fast: Annotated[
        bool, typer.Option("--fast", help="Handle every picture, as fast as it goes; no windows.")
    ] = False,
    headless: Headless = False,
    shots: Annotated[
        Path | None, typer.Option(help="Save pictures of every window in this folder, and end.")
    ] = None,
    visit: Annotated[
        bool,
        typer.Option(
            "--visit", help="A blind comparison of two items instead, on recorded landmarks."
        ),
    ] = False,
) -> None:
    """Watch an invented rider: in windows where there is a display, else all clips in a table."""
    from posewatch.cli.screen import show_cautions
    from posewatch.cli.setup import begin
    from posewatch.cli.sources import can_show_windows
    from posewatch.errors import BadInput

    if out is not None and out.exists():
        raise BadInput(f"{out} exists already and was left as it is.", "Name a new folder.")
    if shots is not None and shots.exists() and not shots.is_dir():
        raise BadInput(f"{shots} is no folder.", "Name a folder.")
    folder = (out or _new_folder()).absolute()
    show_cautions()
    with begin({"data_folder": folder}) as settings:
        if visit:
            _visit(settings)
        elif shots is not None:
            _take_shots(settings, shots)
        elif not (recorded or fast or headless) and can_show_windows():
            _in_windows(settings)
        else:
            _all_clips(settings, recorded)


def _visit(settings: "Settings") -> None:  # noqa: UP037
    """Go through a whole visit: nobody is asked, nothing is waited for."""
    from posewatch.cli.screen import say
    from posewatch.cli.trial import tell_end
    from posewatch.cli.trial_screen import TerminalScreen
    from posewatch.demo_visit import begin_demo_visit, conduct_demo_visit

    made = begin_demo_visit(settings)
    say(f"codes {', '.join(made.visit.header.codes)}, sealed in {made.codes}")
    try:
        conduct_demo_visit(made.visit, settings, TerminalScreen())
        tell_end(made.visit)
    finally:
        made.visit.close()
    say(f"Plan, code list, targets and visit are in {settings.data_folder}")
    say(f"What stood for what: posewatch codes lock --session {made.visit.folder} --who YOU, then")
    say(f"posewatch codes reveal {made.codes} --session {made.visit.folder}")
    say(f"with the passphrase {made.passphrase}")


def _in_windows(settings: "Settings") -> None:  # noqa: UP037
    """Show the drifting ride in the windows; it can be begun again as often as one likes."""
    from posewatch.cli.watch import tell_watches
    from posewatch.demo import shown_ride
    from posewatch.studio import Chosen, Studio
    from posewatch.ui.application import run_windows

    source, target, plan, sensors = shown_ride(settings)
    studio = Studio(settings, Chosen(source, target, plan, sensors=sensors))
    run_windows(studio)
    tell_watches(studio)


def _take_shots(settings: "Settings", folder: Path) -> None:  # noqa: UP037
    from posewatch.cli.screen import say
    from posewatch.demo import shown_ride
    from posewatch.studio import Chosen, Studio
    from posewatch.ui.shots import save_shots
    from posewatch.ui.unattended import use_no_display

    use_no_display()
    folder.mkdir(parents=True, exist_ok=True)
    source, target, plan, sensors = shown_ride(settings)
    studio = Studio(settings, Chosen(plan=plan, sensors=sensors))
    saved = save_shots(studio, source, target, folder, lambda name: say(f"  {name}"))
    say(f"{len(saved)} pictures are in {folder}")


def _all_clips(settings: "Settings", recorded: bool) -> None:  # noqa: UP037
    from posewatch.cli.screen import progress_bar, say, show_table
    from posewatch.demo import run_demo

    with progress_bar() as bar:
        tasks: dict[str, object] = {}

        def progress(clip: str, done: int, expected: int) -> None:
            if clip not in tasks:
                tasks[clip] = bar.add_task(clip, total=expected or None)
            bar.update(tasks[clip], completed=done, visible=done < expected)  # type: ignore[arg-type]

        results = run_demo(recorded, settings, progress)
    show_table(_table(results))
    for one in results:
        if one.result is None:
            say(f"{one.ride.clip} was refused: {one.why}")
    say(f"Pictures, targets and sessions are in {settings.data_folder}")


def _new_folder() -> Path:
    names = (f"posewatch-demo{suffix}" for suffix in ("", *(f"-{n}" for n in range(2, 1000))))
    return next(Path(name) for name in names if not Path(name).exists())


def _table(results: list["RideResult"]) -> "Table":  # noqa: UP037
    from rich.table import Table

    from posewatch.core.timebase import to_s

    table = Table("clip", "counted", "of", "drifts and losses", "what it shows")
    for one in results:
        if one.result is None:
            table.add_row(one.ride.clip, "refused", "", "", one.ride.shows)
            continue
        totals = one.result.totals
        table.add_row(
            one.ride.clip,
            f"{totals.n_counted} strokes, {to_s(totals.counted_ns):.1f} s{_too_short(one)}",
            f"{to_s(totals.watched_ns):.0f} s",
            "\n".join(_departures(one)),
            one.ride.shows,
        )
    return table


def _too_short(one: "RideResult") -> str:  # noqa: UP037
    from posewatch.core.outputs import ValidInterval

    assert one.result is not None
    runs = [o for o in one.result.outputs if isinstance(o, ValidInterval) and not o.confirmed]
    return f"\n(and {sum(r.n_strokes for r in runs)} in runs too short)" if runs else ""


def _departures(one: "RideResult") -> list[str]:  # noqa: UP037
    from posewatch.cli.screen import output_line
    from posewatch.core.outputs import BriefDrift, HoldLost

    assert one.result is not None
    lines = (output_line(o) for o in one.result.outputs if isinstance(o, BriefDrift | HoldLost))
    return [line for line in lines if line is not None]
