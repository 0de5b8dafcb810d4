"""The reset at the beginning of each trial: which step is next, and when it is due."""

from __future__ import annotations

from posewatch.core.records import NS_PER_S
from posewatch.errors import BadInput
from posewatch.trials.acts import RitualDone
from posewatch.trials.conduct_state import ConductState
from posewatch.trials.words import RITUAL, RITUAL_S, RitualMoment

#: All of it, from coasting to pedalling.
RESET_S = sum(RITUAL_S.values())


def reset_step(state: ConductState, now_ns: int) -> tuple[RitualMoment, float] | None:
    """Return the next step of the reset and in how many seconds it is due; None = there is none."""
    if state.run is None or state.is_reset:
        return None
    if not state.ritual:
        return RITUAL[0], 0.0
    last = state.ritual[-1]
    left_s = RITUAL_S[last.moment] - (now_ns - last.t_ns) / NS_PER_S
    return RITUAL[len(state.ritual)], max(0.0, left_s)


def ritual_after(done: tuple[RitualDone, ...], act: RitualDone) -> tuple[RitualDone, ...]:
    """Return the steps done; coasting begins the reset anew, every other has its one place.

    Raises:
        BadInput: it is not this step's turn, or the rider sits down too early.
    """
    if act.moment is RitualMoment.COAST:
        return (act,)
    if act.moment is not RITUAL[len(done)]:
        raise BadInput(
            f"'{act.moment}' is not the next step of the reset.",
            f"The order is {', '.join(RITUAL)}; '{RITUAL[0]}' begins it anew.",
        )
    if act.moment is RitualMoment.SIT:
        stood_s = (act.t_ns - done[-1].t_ns) / NS_PER_S
        stand_s = RITUAL_S[RitualMoment.STAND]
        if stood_s < stand_s:
            raise BadInput(
                f"The rider stood for {stood_s:.1f} s.",
                f"Stand for {stand_s:.0f} s: the foam needs it.",
            )
    return (*done, act)
