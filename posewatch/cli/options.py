"""Options that several commands have in common, worded once."""

from __future__ import annotations

from typing import Annotated

import typer

from posewatch.cli.lab import LSL
from posewatch.cli.video_options import AGREED_BY, BLUR_FACES, VIDEO

PowerSensor = Annotated[
    str | None, typer.Option(help="Bluetooth sensor that gives the power: name or id.")
]
CadenceSensor = Annotated[
    str | None, typer.Option(help="Bluetooth sensor that gives the cadence: name or id.")
]
CameraName = Annotated[
    str | None,
    typer.Option(help="Camera that was set up: its name, NAME/vN, or a profile's file."),
]
Kit = Annotated[str, typer.Option(help="What the rider wears, for telling it apart.")]
ModelOfTarget = Annotated[
    str | None, typer.Option(help="Pose model: lite, full or a path; else the target's.")
]
AnyChain = Annotated[
    bool, typer.Option("--any-chain", help="Watch even if the target is of another chain.")
]
Headless = Annotated[
    bool, typer.Option("--headless", help="Without windows, as where there is no display.")
]
Lsl = Annotated[bool, typer.Option("--lsl", help=LSL)]
Video = Annotated[bool, typer.Option("--video", help=VIDEO)]
VideoAgreedBy = Annotated[str | None, typer.Option(metavar="CODE", help=AGREED_BY)]
BlurFaces = Annotated[bool, typer.Option("--blur-faces", help=BLUR_FACES)]
