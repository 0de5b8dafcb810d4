"""``posewatch session``: look at what was recorded."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(help="Look at recorded sessions.", no_args_is_help=True)


@app.callback()
def _group() -> None:
    """Look at recorded sessions."""


@app.command("show")
def show(
    folder: Annotated[Path, typer.Argument(help="Folder of a session.")],
    strokes: Annotated[bool, typer.Option("--strokes", help="Every stroke as well.")] = False,
) -> None:
    """Show a session: what was held, what counted, and why the rest did not."""
    from collections import Counter

    from posewatch.cli.screen import OTHER_CHAIN, closing_line, say, say_output, why_out
    from posewatch.cli.setup import begin
    from posewatch.core.timebase import clock_text
    from posewatch.store.session_reader import SessionReader

    with begin(), SessionReader(folder) as reader:
        header, ending = reader.header, reader.ending
        target = header.target
        say(f"session of {header.created}, source {header.stream.name}")
        say(
            f"target {target.rider}/{target.bike}/{target.hands}/v{target.version}, "
            f"chain {header.chain.fingerprint()}"
        )
        differences = target.chain.differences(header.chain)
        watched_other = ending is not None and ending.message.startswith("other chain")
        mark = OTHER_CHAIN if differences or watched_other else ""
        for difference in differences:
            say(f"other chain: {difference} (target / here)")
        judged = list(reader.strokes())
        if strokes:
            for stroke in judged:
                out = ", ".join(why_out(c) for c in stroke.channels if c.verdict == "out")
                say(
                    f"{clock_text(stroke.start_ns)}  {stroke.cadence_rpm:3.0f} rpm  "
                    f"{stroke.verdict:7}  {'counted' if stroke.counted else stroke.phase:11}"
                    f"  {stroke.reason or out}".rstrip()
                )
        for event in reader.events():
            say_output(event, mark)
        for interval in reader.intervals():
            say_output(interval, mark)
        verdicts = Counter(stroke.verdict for stroke in judged)
        say(", ".join([f"{len(judged)} strokes", *(f"{n} {v}" for v, n in verdicts.items())]))
        if ending is None:
            say("the session was cut off; `posewatch replay` recomputes what it holds")
            return
        for cause, n in ending.dropped.items():
            say(f"pictures not used, {cause}: {n}")
        say(f"ended: {ending.how}" + (f" ({ending.message})" if ending.message else ""))
        say(
            mark
            + closing_line(
                ending.n_counted, ending.counted_ns, ending.watched_ns, ending.n_intervals
            )
        )
