"""``posewatch replay``: compute a session's intervals anew from its logged inputs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def replay(
    session: Annotated[Path, typer.Argument(help="Folder of a session.")],
) -> None:
    """Recompute a session's valid intervals and compare them with the recorded ones."""
    from posewatch.cli.screen import progress_bar, say, say_output
    from posewatch.cli.setup import begin
    from posewatch.replaying import replay as replay_session

    with begin(), progress_bar() as progress:
        task = progress.add_task(f"replaying {session.name}", total=None)
        result = replay_session(session, lambda done: progress.update(task, completed=done))
    for interval in result.intervals:
        say_output(interval)
    n = len(result.recorded)
    if not result.finished:
        say("the session was cut off; what it holds was replayed")
    if result.same:
        say(f"{result.n_inputs} inputs, {n} recorded intervals: identical")
        return
    say(f"{result.n_inputs} inputs: the intervals DIFFER; recorded were:")
    for interval in result.recorded:
        say_output(interval)
    raise typer.Exit(1)
