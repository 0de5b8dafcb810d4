"""What can go wrong, in words for the person at the screen.

::

    PosewatchError            every error that the program explains itself
    ├── BadInput              what was given cannot be used              (exit status 2)
    ├── ChainMismatch         the target does not fit this chain         (exit status 3)
    ├── ModelProblem          a pose model is missing or altered         (exit status 2)
    └── PacketProblem         a sensor's packet cannot be read           (counted; ends nothing)

``PacketProblem`` lives with what raises it, in ``sensors/gatt_fields``.

A message says what happened, where, and what to do; the technical cause travels as
``__cause__`` and goes into the log.
"""


class PosewatchError(Exception):
    """An error with a message for the person at the screen.

    Args:
        what: what happened, and where (a file, a device, a value).
        advice: what to do about it.
    """

    exit_status = 2

    def __init__(self, what: str, advice: str) -> None:
        super().__init__(f"{what} {advice}")
        self.what = what
        self.advice = advice


class BadInput(PosewatchError):
    """A file, folder or value that was given cannot be used."""


class ChainMismatch(PosewatchError):
    """A target was captured with another measuring chain than the one at hand."""

    exit_status = 3


class ModelProblem(PosewatchError):
    """A pose model bundle is missing, altered or not readable."""
