"""Command line: ``python -m demo_clips.render [NAME ...] [--out DIR]`` from the project root.

``boards`` is the pictures of the boards.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from demo_clips.render.board_views import picture_count, write_boards
from demo_clips.render.camera import CAMERAS
from demo_clips.render.clips import CLIPS
from demo_clips.render.filming import shoot
from demo_clips.render.truth import camera_profile

CLIP_FOLDER = Path(__file__).resolve().parents[1]


def write_camera_profile(folder: Path) -> None:
    """Write ``camera_profile.json`` into ``folder``."""
    path = folder / "camera_profile.json"
    unfinished = path.with_name(path.name + ".part")
    unfinished.write_text(json.dumps(camera_profile(CAMERAS), indent=2) + "\n", encoding="utf-8")
    os.replace(unfinished, path)


def _work(folder: Path) -> dict[str, tuple[int, Callable[[Callable[[], None]], None]]]:
    """What can be made by name: how many pictures it has, and what makes it."""
    work: dict[str, tuple[int, Callable[[Callable[[], None]], None]]] = {
        scene.name: (scene.frame_count, partial(shoot, scene, folder)) for scene in CLIPS
    }
    return {**work, "boards": (picture_count(), partial(write_boards, folder / "boards"))}


def main() -> None:
    """Make the clips named on the command line, or all of them."""
    known = [*(scene.name for scene in CLIPS), "boards"]
    parser = argparse.ArgumentParser(
        prog="python -m demo_clips.render", description="Make the demo clips and their truth."
    )
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(known)}")
    parser.add_argument("--out", type=Path, default=CLIP_FOLDER, help="folder for the files")
    wanted = parser.parse_args()
    unknown = [name for name in wanted.names if name not in known]
    if unknown:
        parser.error(f"no clip is called {', '.join(unknown)}; there are {', '.join(known)}")
    wanted.out.mkdir(parents=True, exist_ok=True)
    write_camera_profile(wanted.out)
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    work = _work(wanted.out)
    with Progress(*columns) as progress:
        for name in wanted.names or known:
            count, make = work[name]
            task = progress.add_task(name, total=count)
            make(partial(progress.advance, task))


if __name__ == "__main__":
    main()
