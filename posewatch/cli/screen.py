"""What commands show: one console, a progress bar, and lines for what the pipeline says."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from textwrap import fill

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    SpinnerColumn,
    TextColumn,
    TimeRemainingColumn,
)
from rich.table import Table

from posewatch.core.cues import correction
from posewatch.core.envelope import Unit
from posewatch.core.outputs import (
    BriefDrift,
    CadenceDiffers,
    ChannelValue,
    CreepWarning,
    CueChanged,
    HoldGained,
    HoldLost,
    LengthsDiffer,
    Output,
    SmoothnessFlag,
    SmoothnessMean,
    StrokeJudged,
    ValidInterval,
)
from posewatch.core.steadiness import LIMIT_PCT
from posewatch.core.timebase import clock_text, to_s
from posewatch.store.consent import CAUTIONS, CAUTIONS_TITLE

# What is printed holds paths and words that people typed: no brackets of theirs are markup.
console = Console(highlight=False, markup=False)
errors = Console(stderr=True, highlight=False, markup=False)
#: How wide a table may be where there is no terminal.
TABLE_COLUMNS = 200

OTHER_CHAIN = "[other chain] "


def say(text: str) -> None:
    """Print one line as it is: a path or a name in it is neither markup nor broken in two."""
    console.print(text, soft_wrap=True)


def show_cautions() -> None:
    """Print what everybody should know before riding."""
    say_dim = partial(console.print, style="dim", soft_wrap=True)
    say_dim(CAUTIONS_TITLE)
    for caution in CAUTIONS:
        say_dim(fill(caution, 74, initial_indent="  - ", subsequent_indent="    "))


def show_table(table: Table) -> None:
    """Print a table, as wide as the terminal, or as its contents where there is none."""
    shown_on = console if console.is_terminal else Console(width=TABLE_COLUMNS, markup=False)
    shown_on.print(table)


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Show a progress bar on a terminal; elsewhere only what is printed stays."""
    with Progress(
        SpinnerColumn(),
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    ) as progress:
        yield progress


def output_line(output: Output) -> str | None:
    """Return what a person reads of one output, None where the counts say enough."""
    if isinstance(output, HoldGained):
        return f"{clock_text(output.t_ns)}  in position"
    if isinstance(output, HoldLost):
        cause = f", {output.channel}" if output.channel else ""
        way = f' ("{output.direction}")' if output.direction else ""
        return f"{clock_text(output.t_ns)}  lost: {output.reason}{cause}{way}"
    if isinstance(output, BriefDrift):
        strokes = "1 stroke" if output.n_strokes == 1 else f"{output.n_strokes} strokes"
        cause = f", {output.channel}" if output.channel else ""
        return f"{clock_text(output.start_ns)}  brief drift{cause}: {strokes} not counted"
    if isinstance(output, CueChanged):
        if output.channel is None:
            return f"{clock_text(output.t_ns)}  cue off"
        return f'{clock_text(output.t_ns)}  cue: "{output.direction}" ({output.channel})'
    if isinstance(output, CreepWarning):
        unit = "mm*" if output.unit is Unit.THIGH else str(output.unit)
        change = output.change * output.unit.nominal
        minutes = output.span_ns // 60_000_000_000
        return (
            f"{clock_text(output.t_ns)}  creeping: {output.channel} {change:+.1f} {unit} in "
            f"{minutes} min"
        )
    if isinstance(output, LengthsDiffer):
        return (
            f"{clock_text(output.t_ns)}  is this the same rider? the {output.segment} is "
            f"{100 * output.share:+.0f} % of the target's"
        )
    if isinstance(output, CadenceDiffers):
        return (
            f"{clock_text(output.t_ns)}  the sensor's cadence is {output.difference_rpm:+.0f} rpm "
            "off the pedalling that is seen: another bike's sensor?"
        )
    if isinstance(output, SmoothnessFlag):
        return (
            f"{clock_text(output.t_ns)}  unsteady: {output.measure} varied by "
            f"{output.cv_pct:.1f} % over 30 s (limit {LIMIT_PCT:g} %)"
        )
    if isinstance(output, SmoothnessMean):
        legs = "of one leg" if output.per_leg else "of both legs together"
        return (
            f"{clock_text(output.t_ns)}  {output.figure} {output.mean_pct:.1f} % over "
            f"{output.n_turns} revolutions, {legs}"
        )
    if isinstance(output, ValidInterval):
        kept = "valid interval" if output.confirmed else "too short to count"
        return (
            f"{clock_text(output.start_ns)}  {kept}: {output.n_strokes} strokes, "
            f"to {clock_text(output.end_ns)}"
        )
    assert isinstance(output, StrokeJudged)
    return None


def why_out(value: ChannelValue) -> str:
    """Return what was out in a stroke and the way back."""
    advisory = "" if value.required else ", advisory"
    return f'{value.channel} ("{correction(value)}"{advisory})'


def say_output(output: Output, mark: str = "") -> None:
    """Print what a person reads of one output, after a mark."""
    line = output_line(output)
    if line is not None:
        say(mark + line)


def closing_line(n_counted: int, counted_ns: int, watched_ns: int, n_intervals: int) -> str:
    """Return the line that always ends a watch."""
    return (
        f"counted {n_counted} strokes, {to_s(counted_ns):.1f} s of {to_s(watched_ns):.1f} s, "
        f"in {n_intervals} intervals"
    )
