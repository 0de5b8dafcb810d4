"""The plan of a comparison: visits, mountings in their order, trials in theirs.

Visit > mounting (one item put on or fitted afresh) > trial (one hand position). Items are slots,
0 to n - 1; what they are called stands in no plan. A plan follows from its design, seed included:
:func:`make_plan` gives the same one everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count, pairwise

from posewatch.core.watch_plan import FASTEST_RPM, LARGEST_W, SLOWEST_RPM
from posewatch.errors import BadInput
from posewatch.trials.orders import LARGEST_SEED, Block, make_order
from posewatch.trials.words import (
    FEWEST_ITEMS,
    MOST_ITEMS,
    ComparisonKind,
    ConcealmentLevel,
    OrderKind,
    SaddleMode,
    Stamp,
)

#: A first look has so many pairs; the exact sign-flip test can reach p = .05 from six on.
FIRST_LOOK_PAIRS = 3
FULL_ANSWER_PAIRS = 6
FULL_ANSWER_VISITS = 2
MOST_MOUNTINGS = 100
MOST_STROKES = 100_000
LONGEST_S = 86_400.0


@dataclass(frozen=True, slots=True)
class Design:
    """What is asked of a plan.

    kind: what is compared. saddle_mode: stated for saddles, else None. n_items: how many.
    mountings: of each item, those counted; also the number of blocks, and of pairs for two items.
    hands: hand positions ridden in each mounting; rider, bike and one of them name a target.
    familiarisation: whether a mounting goes first that is discarded. goal_strokes: counted strokes
    a trial. warm_up_s: on the rider's own gear, each visit. sit_in_s: after a mounting.
    hand_change_s: sit-in after a change of hands inside a mounting. item_rest_s: how long an item
    is off load before it is ridden again. power_w, cadence_rpm: None = not held.
    """

    kind: ComparisonKind
    saddle_mode: SaddleMode | None
    concealment: ConcealmentLevel
    rider: str
    bike: str
    n_items: int
    mountings: int
    n_visits: int
    hands: tuple[str, ...]
    order: OrderKind
    seed: int
    familiarisation: bool = True
    goal_strokes: int = 60
    warm_up_s: float = 600.0
    sit_in_s: float = 180.0
    hand_change_s: float = 45.0
    item_rest_s: float = 600.0
    power_w: float | None = None
    cadence_rpm: float | None = None

    @property
    def stamp(self) -> Stamp:
        """What an answer may be called; one visit shares one day's luck, however many pairs."""
        enough = self.mountings >= FULL_ANSWER_PAIRS and self.n_visits >= FULL_ANSWER_VISITS
        return Stamp.FULL_ANSWER if enough else Stamp.INDICATION_ONLY


@dataclass(frozen=True, slots=True)
class PlannedTrial:
    """One run in one hand position; number counts from 1 inside its mounting."""

    number: int
    hands: str


@dataclass(frozen=True, slots=True)
class PlannedMounting:
    """One item, put on or fitted afresh.

    number: from 1 through the whole plan. slot: which item. block: from 1; None = for getting used
    to it, discarded.
    """

    number: int
    slot: int
    block: int | None
    trials: tuple[PlannedTrial, ...]

    @property
    def familiarisation(self) -> bool:
        """Whether it is discarded."""
        return self.block is None


@dataclass(frozen=True, slots=True)
class PlannedVisit:
    """What is ridden in one visit; number counts from 1."""

    number: int
    mountings: tuple[PlannedMounting, ...]

    @property
    def counted(self) -> tuple[PlannedMounting, ...]:
        """The mountings that are not discarded."""
        return tuple(one for one in self.mountings if not one.familiarisation)


@dataclass(frozen=True, slots=True)
class Plan:
    """A design and what follows from it; created is empty until the plan is kept."""

    design: Design
    visits: tuple[PlannedVisit, ...]
    created: str = ""

    @property
    def mountings(self) -> tuple[PlannedMounting, ...]:
        """All mountings, in the order in which they are ridden."""
        return tuple(one for visit in self.visits for one in visit.mountings)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """The slots of each block in the order of mounting, without what is discarded."""
        found: dict[int, list[int]] = {}
        for one in self.mountings:
            if one.block is not None:
                found.setdefault(one.block, []).append(one.slot)
        return tuple(tuple(found[block]) for block in sorted(found))


def default_order(n_items: int) -> OrderKind:
    """Return the usual order: reversed pairs for two items, Williams squares for more."""
    return OrderKind.REVERSED_PAIRS if n_items == 2 else OrderKind.WILLIAMS


def make_plan(design: Design) -> Plan:
    """Return the plan of a design.

    Visits have whole blocks, earlier ones the more. All mountings of a block have their hand
    positions in the same order, so that items are compared at the same place in the mounting; the
    order is reversed from one block to the next, hence from one mounting of an item to its next.

    The discarded mounting is of the item that comes last in the first block: it rests longest
    until it counts.

    Raises:
        BadInput: no comparison can be ridden so; says why.
    """
    require_sound(design)
    order = make_order(design.order, design.n_items, design.mountings, design.seed)
    numbers = count(1)
    visits = []
    for visit, blocks in enumerate(_shares(design.mountings, design.n_visits), 1):
        mountings = []
        if visit == 1 and design.familiarisation:
            mountings.append(
                PlannedMounting(next(numbers), order[0][-1], None, _trials(design.hands))
            )
        for block in blocks:
            hands = design.hands if block % 2 == 1 else design.hands[::-1]
            mountings += [
                PlannedMounting(next(numbers), slot, block, _trials(hands))
                for slot in order[block - 1]
            ]
        visits.append(PlannedVisit(visit, tuple(mountings)))
    return Plan(design, tuple(visits))


def _shares(n_blocks: int, n_visits: int) -> list[range]:
    """Return the blocks, counted from 1, of each visit."""
    each, more = divmod(n_blocks, n_visits)
    starts = [1 + visit * each + min(visit, more) for visit in range(n_visits + 1)]
    return [range(a, b) for a, b in pairwise(starts)]


def _trials(hands: Sequence[str]) -> tuple[PlannedTrial, ...]:
    return tuple(PlannedTrial(number, held) for number, held in enumerate(hands, 1))


def require_sound(design: Design) -> None:
    """Refuse a design that cannot be ridden; nothing is refused for being small.

    Raises:
        BadInput: says what cannot be, and what can.
    """
    _within("number of items", design.n_items, FEWEST_ITEMS, MOST_ITEMS)
    _within("number of mountings of each item", design.mountings, 1, MOST_MOUNTINGS)
    _within("number of counted strokes a trial", design.goal_strokes, 1, MOST_STROKES)
    _within("seed", design.seed, 0, LARGEST_SEED)
    for what, seconds in (
        ("warm-up in seconds", design.warm_up_s),
        ("sit-in in seconds", design.sit_in_s),
        ("sit-in after a change of hands in seconds", design.hand_change_s),
        ("rest of an item in seconds", design.item_rest_s),
    ):
        _within(what, seconds, 0.0, LONGEST_S)
    if design.power_w is not None:
        _within("power in W", design.power_w, 1.0, LARGEST_W)
    if design.cadence_rpm is not None:
        _within("cadence in rpm", design.cadence_rpm, SLOWEST_RPM, FASTEST_RPM)
    if not 1 <= design.n_visits <= design.mountings:
        raise BadInput(
            f"{design.mountings} mountings of each item cannot be ridden in {design.n_visits} "
            "visits.",
            "Each visit mounts every item at least once: plan no more visits than mountings.",
        )
    _require_hands(design.hands)
    if (design.kind is ComparisonKind.SADDLE) != (design.saddle_mode is not None):
        raise BadInput(
            "Saddles are compared in one of two ways, and it is not said which."
            if design.saddle_mode is None
            else f"'{design.saddle_mode}' is said of saddles, and {design.kind} is compared.",
            f"For saddles choose '{SaddleMode.RESET}' or '{SaddleMode.SWAP}'; else leave it out.",
        )


def _require_hands(hands: Sequence[str]) -> None:
    if not hands:
        raise BadInput("No hand position is planned.", "Give at least one, e.g. hoods.")
    if any(not one.strip() for one in hands):
        raise BadInput(
            "A hand position has no name.", "Give names as the targets have, e.g. hoods."
        )
    if len({one.casefold() for one in hands}) < len(hands):
        raise BadInput(
            f"A hand position is there twice: {', '.join(hands)}.", "Name each one once."
        )


def _within(what: str, value: float, least: float, most: float) -> None:
    # NaN fails both comparisons.
    if not least <= value <= most or math.isinf(value):
        raise BadInput(f"The {what} cannot be {value:.10g}.", f"Give {least:g} to {most:.10g}.")
