"""``posewatch session``: look at what was recorded, check it, delete it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from posewatch.checking import SessionCheck, VisitCheck

app = typer.Typer(help="Look at recorded sessions, check and delete them.", no_args_is_help=True)


@app.callback()
def _group() -> None:
    """Look at recorded sessions, check and delete them."""


@app.command("list")
def list_(
    folder: Annotated[
        Path | None, typer.Argument(help="Folder to look through; else the data folder.")
    ] = None,
) -> None:
    """List watches and visits: how each stands, and which should have been deleted by now."""
    from datetime import datetime

    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.cli.setup import begin
    from posewatch.errors import BadInput
    from posewatch.store.session_shelf import list_recordings

    with begin() as settings:
        root = settings.data_folder if folder is None else folder
        if folder is not None and not folder.is_dir():
            raise BadInput(f"There is no folder {folder}.", "Name one that exists.")
        found = list_recordings(root)
    if not found:
        say(f"nothing is recorded in {root}")
        return
    today = datetime.now().astimezone().date()
    table = Table("begun", "of", "", "counted", "MB", "keep until", "folder")
    for one in found:
        table.add_row(
            one.created[:16].replace("T", " "),
            one.of,
            one.standing,
            str(one.n_counted),
            f"{one.n_bytes / 1e6:.1f}",
            one.keep_until + (" OVERDUE" if one.is_overdue(today) else ""),
            str(one.folder.relative_to(root)) if one.folder != root else str(root),
        )
    show_table(table)
    unfinished = sum(one.is_unfinished for one in found)
    overdue = [one for one in found if one.is_overdue(today)]
    say(f"{len(found)} in {root}, {unfinished} unfinished")
    if overdue:
        say(f"{len(overdue)} should have been deleted by now: `posewatch session delete FOLDER`")


@app.command("check")
def check(
    folder: Annotated[Path, typer.Argument(help="Folder of a watch or a visit.")],
) -> None:
    """Check a watch, or a visit with all its trials: whole, and as its inputs give it."""
    from posewatch.checking import check_session, check_visit
    from posewatch.cli.screen import progress_bar, say
    from posewatch.cli.setup import begin
    from posewatch.errors import BadInput
    from posewatch.store.session_reader import is_session
    from posewatch.store.visit_record import is_visit

    with begin(), progress_bar() as progress:
        task = progress.add_task(f"checking {folder.name}", total=None)
        if is_visit(folder):
            visit = check_visit(folder, lambda: progress.advance(task))
        elif is_session(folder):
            visit = None
            watch = check_session(folder, lambda: progress.advance(task))
        else:
            raise BadInput(
                f"{folder} is neither a watch nor a visit.",
                "`posewatch session list` shows those there are.",
            )
    wrong = watch.wrong if visit is None else visit.all_wrong
    if visit is None:
        _say_watch(watch)
    else:
        _say_visit(visit)
    if wrong:
        say("NOT as it should be:" if len(wrong) == 1 else f"{len(wrong)} things are NOT right:")
        for line in wrong:
            say(f"  {line}")
        raise typer.Exit(1)
    say("whole, and all as its inputs give it")


def _say_watch(one: SessionCheck) -> None:
    from posewatch.cli.screen import say

    if one.totals is not None:
        end = "" if one.finished else ", cut off"
        say(
            f"{one.folder.name}: {one.n_inputs} inputs, {one.n_strokes} strokes, "
            f"{one.totals.n_counted} counted in {one.totals.n_intervals} intervals{end}"
        )
    for note in one.notes:
        say(f"  {note}")


def _say_visit(visit: VisitCheck) -> None:
    from posewatch.cli.screen import say

    if visit.header is not None:
        say(f"visit of {visit.header.created}: {visit.n_acts} acts, trials:")
    for trial in visit.trials:
        _say_watch(trial)
    for note in visit.notes:
        say(f"  {note}")
    if visit.header is not None and visit.state.ended is None:
        say("the visit is not over: `posewatch trial run` goes on with it")


@app.command("delete")
def delete(
    folder: Annotated[Path, typer.Argument(help="Folder of a watch or a visit.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    video: Annotated[
        bool, typer.Option("--video", help="Only the video; all else stays as it is.")
    ] = False,
) -> None:
    """Delete a watch or a visit and every file that was made of it, wherever that lies."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.store.removal import plan_removal, plan_video_removal, remove

    with begin():
        removal = plan_video_removal(folder) if video else plan_removal(folder)
        for path in removal.files:
            say(f"  {path}")
        for path in removal.kept:
            say(f"  {path}: made of it, but gone or changed since; NOT deleted")
        n = len(removal.files)
        files = "1 file" if n == 1 else f"{n} files"
        if not yes:
            typer.confirm(f"Delete {files} for good?", abort=True)
        remove(removal)
    left = f"all else of {folder} is left" if video else f"nothing is left of {folder}"
    say(f"deleted {files}; {left}")


@app.command("show")
def show(
    folder: Annotated[Path, typer.Argument(help="Folder of a watch or a visit.")],
    strokes: Annotated[bool, typer.Option("--strokes", help="Every stroke as well.")] = False,
) -> None:
    """Show a watch: what was held, what counted, and why the rest did not; or a visit's trials."""
    from collections import Counter

    from posewatch.cli.screen import OTHER_CHAIN, closing_line, say, say_output, why_out
    from posewatch.cli.setup import begin
    from posewatch.cli.smoothness_words import smoothness_lines
    from posewatch.core.timebase import clock_text
    from posewatch.store.session_reader import SessionReader
    from posewatch.store.visit_record import is_visit

    if is_visit(folder):
        _show_visit(folder)
        return
    with begin(), SessionReader(folder) as reader:
        header, ending = reader.header, reader.ending
        target = header.target
        say(f"session of {header.created}, source {header.stream.name}")
        say(
            f"target {target.rider}/{target.bike}/{target.hands}/v{target.version}, "
            f"chain {header.chain.fingerprint()}"
        )
        if header.keep_until:
            say(f"to be kept until {header.keep_until}")
        if header.video is not None:
            from posewatch.video_checking import video_words

            n_frames = None if ending is None else ending.n_frames
            say(f"{video_words(folder, header.video, n_frames)}; {header.video.agreed}")
        if header.sensors.is_any:
            recorded = header.sensors.recording
            played = "" if recorded is None else f", played from {recorded}"
            say(f"sensors: {', '.join(header.sensors.words())}{played}")
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
        events = list(reader.events())
        for event in events:
            say_output(event, mark)
        for interval in reader.intervals():
            say_output(interval, mark)
        verdicts = Counter(stroke.verdict for stroke in judged)
        say(", ".join([f"{len(judged)} strokes", *(f"{n} {v}" for v, n in verdicts.items())]))
        for line in smoothness_lines(events):
            say(line)
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


def _show_visit(folder: Path) -> None:
    from posewatch.cli.screen import say, show_table
    from posewatch.cli.setup import begin
    from posewatch.cli.trial_words import standing_lines, trials_table, visit_lines
    from posewatch.core.video_use import FOLDER
    from posewatch.store.visit_record import read_visit
    from posewatch.trials.conduct import replay

    with begin():
        header, kept = read_visit(folder)
        state = replay(header.plan, (one.act for one in kept))
    for line in visit_lines(header, state):
        say(line)
    if state.runs:
        show_table(trials_table(header, state))
    for line in standing_lines(state):
        say(line)
    filmed = [run.folder for run in state.runs if (folder / run.folder / FOLDER).is_dir()]
    if filmed:
        say(f"videos are kept of {len(filmed)} trials: `posewatch session show` of each says more")
