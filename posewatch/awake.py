"""The machine kept awake, and its screen on, while somebody is watched."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from wakepy import keep


@contextmanager
def kept_awake() -> Iterator[bool]:
    """Ask the system not to sleep while the block runs; gives whether it agreed.

    A machine without such a service goes on as it is: a sleep is seen as a gap in the clocks.
    """
    with ExitStack() as stack:
        try:
            mode = stack.enter_context(keep.presenting(on_fail="pass"))
        except Exception:
            # Whatever the service answers, no watch may fail for it.
            yield False
            return
        yield bool(mode.active)
