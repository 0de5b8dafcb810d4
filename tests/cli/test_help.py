"""Help is whole for every command and comes at once."""

from __future__ import annotations

import subprocess
import sys

import pytest
from command_runs import Run

from posewatch import __version__

COMMANDS = (
    "",
    "target",
    "target capture",
    "target list",
    "target show",
    "target edit",
    "target compare",
    "target export",
    "target import",
    "target schema",
    "camera",
    "camera board",
    "camera calibrate",
    "camera level",
    "camera check",
    "bridge",
    "watch",
    "replay",
    "session",
    "session show",
    "demo",
    "bench",
    "bench accuracy",
    "bench speed",
    "settings",
)
HEAVY = ("numpy", "pydantic", "cv2", "mediapipe", "matplotlib", "scipy", "sqlite3")


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
