"""``posewatch watch``: hold a clip against a target and log the valid intervals."""

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
    from rich.progress import Progress

    from posewatch.app import WatchResult
    from posewatch.core.pipeline import PipelineState
    from posewatch.held_power import Operator
    from posewatch.store.settings import Settings
    from posewatch.studio import Chosen, Studio


def watch(
    source: Annotated[
        str | None,
        typer.Option(
            help="Clip, recorded landmarks (*.landmarks.npz), a camera's number or name, or a "
            "network camera's address; without it the windows ask."
        ),
    ] = None,
    target: Annotated[
        str | None,
        typer.Option(help="File, or name as rider/bike/hands or rider/bike/hands/vN."),
    ] = None,
    session: Annotated[
        Path | None,
        typer.Option(help="New folder for the log; without it one in the data folder."),
    ] = None,
    power: Annotated[
        float | None, typer.Option(help="Planned power in W; needs --power-sensor.")
    ] = None,
    cadence: Annotated[
        float | None,
        typer.Option(help="Planned cadence in rpm; from --cadence-sensor, else the pedalling."),
    ] = None,
    power_sensor: PowerSensor = None,
    cadence_sensor: CadenceSensor = None,
    trainer_holds: Annotated[
        str | None,
        typer.Option(
            metavar="TRAINER",
            help="Let this trainer hold the planned power: name or id. Off unless given; asks "
            "before it sets the power, and lets go at the end and on any fault.",
        ),
    ] = None,
    sensors: Annotated[
        Path | None,
        typer.Option(help="Play this recording of sensors instead of hearing live ones."),
    ] = None,
    sit_in: Annotated[
        float | None, typer.Option(help="Sit-in in s after leaving the saddle or stopping.")
    ] = None,
    fast: Annotated[
        bool, typer.Option("--fast", help="Handle every picture, as fast as it goes; no windows.")
    ] = False,
    headless: Headless = False,
    any_chain: AnyChain = False,
    camera: CameraName = None,
    kit: Kit = "",
    start: Annotated[float, typer.Option(help="Begin at this second of the source.")] = 0.0,
    end: Annotated[float | None, typer.Option(help="End at this second of the source.")] = None,
    model: ModelOfTarget = None,
    lsl: Lsl = False,
    video: Video = False,
    video_agreed_by: VideoAgreedBy = None,
    blur_faces: BlurFaces = False,
) -> None:
    """Watch a rider against a target: cues, counted strokes, and a log of the valid intervals."""
    from contextlib import ExitStack

    from posewatch.cli.effort_options import (
        require_cadence,
        require_power,
        require_trainer,
        require_used,
    )
    from posewatch.cli.lab import lab_stream
    from posewatch.cli.setup import begin
    from posewatch.cli.sources import can_show_windows, source_for
    from posewatch.cli.video_options import agreed_video, video_asked
    from posewatch.core.sensor_use import SensorUse
    from posewatch.core.watch_plan import WatchPlan
    from posewatch.errors import BadInput
    from posewatch.store.target_shelf import read_target
    from posewatch.studio import Chosen

    require_cadence(cadence)
    require_power(power, power_sensor)
    require_used(sensors, power_sensor, cadence_sensor)
    require_trainer(trainer_holds, power, sensors)
    use = SensorUse(
        power_sensor or "", cadence_sensor or "", recording=sensors, trainer=trainer_holds or ""
    )
    asked = video_asked(video, video_agreed_by, blur_faces)
    windows = not headless and not fast and can_show_windows()
    if not windows and (source is None or target is None):
        raise BadInput(
            "Without windows there is nobody to ask what to watch.",
            "Give --source and --target; `posewatch target list` shows the targets.",
        )
    if session is not None and session.exists():
        raise BadInput(f"{session} exists already and was left as it is.", "Name a new folder.")
    with begin({"model": model, "sit_in_s": sit_in}) as settings, ExitStack() as stack:
        held = None if target is None else read_target(target, settings.data_folder)
        plan = WatchPlan(
            power,
            cadence,
            settings.sit_in_s,
            settings.goal_strokes,
            trainer_holds_power=trainer_holds is not None,
        )
        read = None
        if source is not None and held is not None:
            read = source_for(held, source, settings, model, not fast, start, end, camera, kit)
        trainer = use.choice(trainer_holds) if trainer_holds else None
        kept = agreed_video(asked, held, read)
        told = lab_stream(stack, fast).seen if lsl else None
        chosen = Chosen(
            read,
            held,
            plan,
            any_chain=any_chain,
            sensors=use,
            trainer=trainer,
            told=told,
            video=kept,
        )
        if windows:
            _in_windows(settings, chosen, session)
        else:
            _headless(settings, chosen, session)


def _in_windows(settings: Settings, chosen: Chosen, session: Path | None) -> None:
    """Open the windows; what was watched there is told as a headless watch tells it."""
    from posewatch.studio import Studio
    from posewatch.ui.application import run_windows

    studio = Studio(settings, chosen, named=session)
    run_windows(studio)
    tell_watches(studio)


def tell_watches(studio: Studio) -> None:
    """Say what each watch of a sitting came to."""
    from posewatch.cli.screen import say

    for folder, result in studio.done:
        _tell_end(result, folder, [])
    if not studio.done:
        say("nothing was watched")


def _headless(settings: Settings, chosen: Chosen, session: Path | None) -> None:
    from posewatch.app import Watcher, new_session_folder
    from posewatch.cli.screen import OTHER_CHAIN, progress_bar, say, say_output, show_cautions
    from posewatch.cli.sensors_control import say_trainer_cautions, stoppable
    from posewatch.core.outputs import Output
    from posewatch.core.records import Frame, Input, SourceState
    from posewatch.core.timebase import clock_text
    from posewatch.held_power import open_holding
    from posewatch.runtime.read_ahead import GaveUp

    assert chosen.source is not None
    assert chosen.target is not None
    folder = session if session is not None else new_session_folder(settings)
    show_cautions()
    with stoppable() as stop, progress_bar() as progress:
        watcher = Watcher(
            chosen.source,
            chosen.target,
            chosen.plan,
            settings,
            folder,
            chosen.any_chain,
            chosen.sensors,
            stop=stop,
            told=chosen.told,
            video=chosen.video,
        )
        if chosen.plan.trainer_holds_power:
            say_trainer_cautions()
            operator = _operator(progress)
            watcher.open_sensors = lambda use: open_holding(use, chosen.plan, operator, stop)
        task = progress.add_task("opening", total=None)

        def opened(n_expected: int) -> None:
            progress.update(task, total=n_expected or None)

        def heard(said: tuple[Output, ...]) -> None:
            for output in said:
                say_output(output, OTHER_CHAIN * bool(watcher.differences))

        def seen(item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
            if isinstance(item, SourceState):
                say(f"{clock_text(item.t_ns)}  {item.text or item.condition}")
            heard(said)
            tally = state.judge.tally
            progress.update(
                task,
                advance=isinstance(item, Frame),
                description=f"{state.judge.hold.phase}, {tally.n_strokes} of "
                f"{chosen.plan.goal_strokes} strokes{why_not_seen(state)}",
            )

        try:
            result = watcher.run(seen, opened)
        except GaveUp:
            say("stopped before anything was watched")
            return
        heard(result.last)
    _tell_end(result, folder, watcher.differences)


def _operator(progress: Progress) -> Operator:
    """Return whoever sits at the terminal; Ctrl-C at a question is a no."""
    import signal

    from posewatch.cli.screen import say
    from posewatch.held_power import Operator

    def confirm(question: str) -> bool:
        progress.stop()
        before = signal.signal(signal.SIGINT, signal.default_int_handler)
        try:
            return typer.confirm(f"{question} Raise it now?")
        except (typer.Abort, KeyboardInterrupt):
            return False
        finally:
            signal.signal(signal.SIGINT, before)
            progress.start()

    return Operator(confirm, say)


def _tell_end(result: WatchResult, folder: Path, differences: list[str]) -> None:
    """Say what a watch came to; the closing line is the last."""
    from posewatch.cli.screen import OTHER_CHAIN, closing_line, say
    from posewatch.cli.smoothness_words import smoothness_lines
    from posewatch.store.session_reader import SessionReader
    from posewatch.video_checking import video_words

    for cause, n in result.lost.items():
        say(f"pictures not used, {cause}: {n}")
    for difference in differences:
        say(f"other chain: {difference} (target / here)")
    with SessionReader(folder) as reader:
        for line in smoothness_lines(reader.events()):
            say(line)
        if reader.header.video is not None:
            say(video_words(folder, reader.header.video, result.totals.n_frames))
    say(f"logged in {folder}")
    totals = result.totals
    say(
        OTHER_CHAIN * bool(differences)
        + closing_line(totals.n_counted, totals.counted_ns, totals.watched_ns, totals.n_intervals)
    )


def why_not_seen(state: PipelineState) -> str:
    """Return, for the progress line, which joint is not believed and why; empty = all are."""
    doubt = None if state.last is None else state.last.body.doubt()
    return "" if doubt is None else f"; {doubt[0]} {doubt[1].words}"
