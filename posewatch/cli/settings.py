"""``posewatch settings``: what is in force, and a file to edit."""

from __future__ import annotations

from typing import Annotated

import typer


def settings(
    write: Annotated[
        bool, typer.Option("--write", help="Write the defaults to the settings file, to edit.")
    ] = False,
) -> None:
    """Show the settings in force and the file they come from."""
    from posewatch.cli.screen import say
    from posewatch.store.settings import (
        create_settings_file,
        load_settings,
        render_settings,
        settings_path,
    )

    if write:
        say(f"wrote {create_settings_file()}")
        return
    shown = render_settings(load_settings())
    path = settings_path()
    say(f"# file: {path}" + ("" if path.is_file() else " (not there: all are defaults)"))
    say(shown.rstrip())
