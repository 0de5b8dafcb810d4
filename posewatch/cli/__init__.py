"""The commands: parse, call, print. Heavy libraries load only inside the commands that use them."""

from __future__ import annotations

import sys

import typer

from posewatch import __version__
from posewatch.cli import (
    bench,
    bridge,
    camera,
    camera_level,
    codes,
    codes_reveal,
    demo,
    plan,
    replay,
    sensors,
    session,
    session_export,
    settings,
    target,
    trial,
    watch,
)

app = typer.Typer(
    name="posewatch",
    help="Watch a cyclist's position during comparisons of contact-point gear, and count only the "
    "strokes ridden in position.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.add_typer(camera.camera_app, name="camera")
camera.camera_app.command("level")(camera_level.level)
camera.camera_app.command("check")(camera_level.check)
app.add_typer(target.app, name="target")
app.command("watch")(watch.watch)
app.command("bridge")(bridge.bridge)
app.command("replay")(replay.replay)
session.app.command("export")(session_export.export)
app.add_typer(session.app, name="session")
codes.app.command("lock")(codes_reveal.lock)
codes.app.command("reveal")(codes_reveal.reveal)
app.add_typer(codes.app, name="codes")
app.add_typer(sensors.app, name="sensors")
app.add_typer(plan.app, name="plan")
app.add_typer(trial.app, name="trial")
app.command("demo")(demo.demo)
app.add_typer(bench.app, name="bench")
app.command("settings")(settings.settings)


def _show_version(value: bool) -> None:
    if value:
        typer.echo(f"posewatch {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: bool = typer.Option(
        False, "--version", callback=_show_version, is_eager=True, help="Show the version."
    ),
) -> None:
    pass


def main() -> None:
    """Run a command; an error that the program explains itself is one line and an exit status."""
    import logging

    from posewatch.errors import PosewatchError

    logger = logging.getLogger("posewatch")
    # Before the log is open, logging would print on the terminal for want of another place.
    logger.addHandler(logging.NullHandler())
    try:
        app(prog_name="posewatch")
    except PosewatchError as error:
        logger.error("%s", error, exc_info=error)
        typer.echo(f"posewatch: {error}", err=True)
        sys.exit(error.exit_status)
