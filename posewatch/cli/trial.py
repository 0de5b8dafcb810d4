"""``posewatch trial``: conduct a visit of a planned comparison, and write answers for one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from posewatch.cli.options import (
    AnyChain,
    BlurFaces,
    CadenceSensor,
    CameraName,
    Headless,
    Kit,
    Lsl,
    ModelOfTarget,
    PowerSensor,
    Video,
    VideoAgreedBy,
)

if TYPE_CHECKING:
    from posewatch.cli.trial_riders import Riders
    from posewatch.cli.trial_start import Asked
    from posewatch.store.settings import Settings
    from posewatch.visits.visit import Visit

app = typer.Typer(help="Conduct a visit: mountings, trials, and what is asked.")

VISIT = "Number of the visit in the plan."


@app.command("run")
def run(
    plan: Annotated[
        Path | None, typer.Option(help="The plan's file; a visit that is gone on with has it.")
    ] = None,
    session: Annotated[
        Path | None,
        typer.Option(help="New folder for the visit, or one that was left and is gone on with."),
    ] = None,
    codes: Annotated[
        Path | None, typer.Option(help="The sealed code list; its SHA-256 is recorded first.")
    ] = None,
    answers: Annotated[
        Path | None, typer.Option(help="Answers file: nobody is asked anything.")
    ] = None,
    source: Annotated[
        list[str] | None,
        typer.Option(
            help="Camera, stream, clip or recording, as for watch; HANDS=SOURCE for one hand "
            "position, may be repeated."
        ),
    ] = None,
    visit: Annotated[int, typer.Option(help=VISIT)] = 1,
    rehearse: Annotated[
        bool, typer.Option("--rehearse", help="Keep nothing, and pass over what is waited for.")
    ] = False,
    fast: Annotated[
        bool, typer.Option("--fast", help="Clips and recordings as fast as they go, no waits.")
    ] = False,
    keep_until: Annotated[
        str | None,
        typer.Option(help="Date after which the visit should be deleted, YYYY-MM-DD."),
    ] = None,
    power_sensor: PowerSensor = None,
    cadence_sensor: CadenceSensor = None,
    sensors: Annotated[
        list[str] | None,
        typer.Option(
            help="Play this recording of sensors instead of hearing live ones; or HANDS=FILE."
        ),
    ] = None,
    camera: CameraName = None,
    kit: Kit = "",
    model: ModelOfTarget = None,
    any_chain: AnyChain = False,
    headless: Headless = False,
    lsl: Lsl = False,
    video: Video = False,
    video_agreed_by: VideoAgreedBy = None,
    blur_faces: BlurFaces = False,
) -> None:
    """Go through a visit: warm-up, mountings, trials, ratings; a visit that was left is gone on."""
    import tempfile
    from contextlib import ExitStack

    from posewatch.app import keep_until as usual_keep_until
    from posewatch.cli.lab import lab_stream
    from posewatch.cli.screen import say, show_cautions
    from posewatch.cli.setup import begin
    from posewatch.cli.sources import can_show_windows
    from posewatch.cli.trial_riders import Riders
    from posewatch.cli.trial_start import Asked, begin_visit, go_on_with, which_folder
    from posewatch.cli.video_options import agreed_video, video_asked
    from posewatch.errors import BadInput
    from posewatch.store.answers_file import read_answers

    if video and rehearse:
        raise BadInput("A rehearsal keeps nothing, and so no video.", "Leave --video out.")
    with begin({"model": model}) as settings, ExitStack() as stack:
        said = None if answers is None else read_answers(answers)
        asked = Asked(
            plan,
            codes,
            said,
            visit,
            rehearse,
            fast,
            usual_keep_until(settings) if keep_until is None else keep_until,
        )
        riders = Riders(
            settings,
            tuple(source or ()),
            tuple(sensors or ()),
            power_sensor or "",
            cadence_sensor or "",
            camera,
            kit,
            model,
            any_chain,
            video=video_asked(video, video_agreed_by, blur_faces),
        )
        windows = not (headless or fast or rehearse or answers) and can_show_windows()
        if windows and plan is None and session is None and not source:
            agreed_video(riders.video, None, None)  # it is ticked there
            _from_set_up(settings)
            return
        show_cautions()
        stream = lab_stream(stack, fast or rehearse) if lsl else None
        if stream is not None:
            riders.told = stream.seen
        if rehearse:
            with tempfile.TemporaryDirectory() as rehearsed:
                _conduct(begin_visit(Path(rehearsed) / "visit", asked, riders), asked, riders)
            say("rehearsed; nothing was kept")
            return
        folder, is_new = which_folder(session, asked, settings)
        opened = begin_visit(folder, asked, riders) if is_new else go_on_with(folder, asked, riders)
        if opened is not None:
            opened.on_act = None if stream is None else stream.acted
            (_in_windows if windows else _conduct)(opened, asked, riders)


@app.command("answers")
def answers(
    plan: Annotated[Path, typer.Argument(help="The plan's file.")],
    output: Annotated[Path, typer.Option("-o", "--output", help="New file for the answers.")],
    visit: Annotated[int, typer.Option(help=VISIT)] = 1,
) -> None:
    """Write an answers file to fill in: everything that a visit asks, nothing answered."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.cli.trial_start import require_visit
    from posewatch.store.answers_file import template, write_answers
    from posewatch.store.plan_file import read_plan

    require_new_file(output)
    with begin():
        planned = read_plan(plan)
        require_visit(planned, visit)
        write_answers(template(planned, visit), output)
    say(f"wrote {output}; what stays as it is counts as not asked, and lines as left out")


def _conduct(visit: Visit, asked: Asked, riders: Riders) -> None:
    """Go through an open visit, and say what it came to."""
    from posewatch.cli.trial_screen import TerminalScreen
    from posewatch.visits.conducting import Conductor

    try:
        answers = asked.answerer(visit)
        Conductor(visit, asked.number, answers, TerminalScreen(), riders.watcher).run()
        tell_end(visit)
    finally:
        visit.close()


def _in_windows(visit: Visit, asked: Asked, riders: Riders) -> None:
    """Go through an open visit in windows, which close it, and say what it came to."""
    from posewatch.studio import Chosen, Studio
    from posewatch.ui.application import run_windows

    chosen = Chosen(any_chain=riders.any_chain, consent=visit.header.consent, told=riders.told)
    studio = Studio(riders.settings, chosen)
    studio.choose(**riders.chosen(visit.plan.design.hands[0]))  # to look before the first trial
    run_windows(studio, visit, asked.number, lambda task: riders.chosen(task.target.hands))
    tell_end(visit)


def _from_set_up(settings: Settings) -> None:
    """Open set-up, where a visit is begun or gone on with."""
    from posewatch.cli.watch import tell_watches
    from posewatch.studio import Studio
    from posewatch.ui.application import run_windows

    studio = Studio(settings)
    run_windows(studio)
    tell_watches(studio)


def tell_end(visit: Visit) -> None:
    """Say what the visit came to; the closing line is the last."""
    from posewatch.cli.screen import say, show_table
    from posewatch.cli.trial_words import trials_table

    state = visit.state
    if state.runs:
        show_table(trials_table(visit.header, visit.state))
    if state.ended is None:
        if not visit.header.rehearsal:
            say(f"stopped for now; posewatch trial run --session {visit.folder} goes on with it")
    elif state.ended.reason:
        say(f"ended before all was ridden: {state.ended.reason}")
    n = sum(run.n_confirmed for run in state.runs if not run.repeated)
    n_trials = sum(not run.repeated for run in state.runs)
    say(f"counted {n} strokes in {n_trials} trials of {len(state.mounted)} mountings")
