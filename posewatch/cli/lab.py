"""The option ``--lsl``: what happens as a stream for laboratories."""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING

from posewatch.errors import BadInput

if TYPE_CHECKING:
    from posewatch.lab_stream import LabStream

LSL = (
    "Send hold and marks as a Lab Streaming Layer stream, which any program in the local network "
    "can read; needs the extra lsl of posewatch."
)


def lab_stream(stack: ExitStack, fast: bool) -> LabStream:
    """Open the stream until the stack closes, and say who can read it.

    Raises:
        BadInput: the library is missing, or times are no times of a clock.
    """
    from posewatch.cli.screen import say
    from posewatch.lab_stream import open_lab_stream

    if fast:
        raise BadInput(
            "Where time is passed over, the times of a watch fit no other clock.",
            "Leave out --fast or --rehearse, or --lsl.",
        )
    stream = stack.enter_context(open_lab_stream())
    say("lab stream: any program in this network can read the hold and the marks")
    return stream
