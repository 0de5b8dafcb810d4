"""Help is whole for every command and comes at once."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest
import typer
from command_runs import Run
from typer.core import TyperGroup

from posewatch import __version__
from posewatch.cli import app


def every_command(command: Any, words: tuple[str, ...] = ()) -> Iterator[str]:
    """Give the words of a command and of all below it."""
    yield " ".join(words)
    if isinstance(command, TyperGroup):
        for name, one in command.commands.items():
            yield from every_command(one, (*words, name))


COMMANDS = tuple(every_command(typer.main.get_command(app)))
HEAVY = ("numpy", "pydantic", "cv2", "mediapipe", "matplotlib", "scipy", "sqlite3", "cryptography")


def test_the_commands_of_the_job_are_there() -> None:
    wanted = {"target capture", "watch", "replay", "session show", "plan new", "codes seal", "demo"}
    assert wanted <= set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("flag", ["--help", "-h"])
def test_every_command_explains_itself(run: Run, command: str, flag: str) -> None:
    ran = run(*command.split(), flag)
    assert (ran.status, ran.err) == (0, "")
    assert f"Usage: posewatch {command}".strip() in ran.out


def test_no_option_loses_words_of_its_help(run: Run) -> None:
    """Square brackets would be taken for markup."""
    assert "rider/bike/hands/vN" in " ".join(run("target", "show", "--help").out.split())
    assert "posewatch-demo" in run("demo", "--help").out


@pytest.mark.parametrize("command", ["", "target", "camera", "session", "bench"])
def test_a_group_without_a_command_shows_its_help(run: Run, command: str) -> None:
    ran = run(*command.split())
    assert ran.status == 2
    assert "Usage: posewatch" in ran.out + ran.err


def test_the_version_is_told(run: Run) -> None:
    assert run("--version").out == f"posewatch {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "allowed"),
    [
        (["--help"], []),
        (["--version"], []),
        # The command library itself loads pydantic to describe a command's options.
        (["watch", "--help"], ["pydantic"]),
    ],
)
def test_help_loads_no_heavy_library(arguments: list[str], allowed: list[str]) -> None:
    program = f"""
import sys
from posewatch.cli import main
sys.argv = ["posewatch", *{arguments!r}]
try:
    main()
finally:
    loaded = sorted(set({HEAVY!r}) & set(sys.modules) - set({allowed!r}))
    print("loaded:", loaded)
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.endswith("loaded: []\n")
