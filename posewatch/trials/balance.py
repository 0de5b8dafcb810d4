"""How even an order is: places, neighbours, and what a steady drift leaves behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from posewatch.trials.plan import Plan

IntArray = npt.NDArray[np.int_]
Blocks = Sequence[Sequence[int]]


@dataclass(frozen=True, slots=True)
class Balance:
    """Counts of an order without its discarded mounting.

    places[slot][place]: how often an item comes at each place of a block. follows[before][after]:
    how often, inside blocks, an item comes directly after another. visit_places[slot]: mean place
    among the counted mountings of its visit, 1 = first. repeats: how often, inside visits, an item
    ends one block and begins the next, and is mounted twice running.
    """

    places: tuple[tuple[int, ...], ...]
    follows: tuple[tuple[int, ...], ...]
    visit_places: tuple[float, ...]
    repeats: int

    @property
    def even_places(self) -> bool:
        """Whether every item comes equally often at every place of a block."""
        return len({n for row in self.places for n in row}) == 1

    @property
    def follow_counts(self) -> tuple[int, int]:
        """The least and the most often that one item directly follows another inside blocks."""
        others = [
            n
            for before, row in enumerate(self.follows)
            for after, n in enumerate(row)
            if before != after
        ]
        return min(others), max(others)

    @property
    def drift_cancels(self) -> bool:
        """Whether a steady drift touches all items alike."""
        return self.drift_share == 0.0

    @property
    def drift_share(self) -> float:
        """How much of a steady drift stays in the difference of two items, at worst.

        As a share of what the drift changes from one mounting to the next: the largest difference
        between the items' mean places.
        """
        # Every visit has each item equally often, so that places in blocks tell it, and sums of
        # whole numbers tell it exactly.
        sums = [sum(place * n for place, n in enumerate(row)) for row in self.places]
        return (max(sums) - min(sums)) / sum(self.places[0])


def place_counts(blocks: Blocks, n_items: int) -> IntArray:
    """Return how often each item comes at each place, (n_items, places)."""
    found = np.zeros((n_items, max(map(len, blocks))), dtype=np.int_)
    for block in blocks:
        for place, slot in enumerate(block):
            found[slot, place] += 1
    return found


def neighbour_counts(blocks: Blocks, n_items: int) -> IntArray:
    """Return how often, inside blocks, [before] is directly followed by [after]."""
    found = np.zeros((n_items, n_items), dtype=np.int_)
    for block in blocks:
        for before, after in pairwise(block):
            found[before, after] += 1
    return found


def balance(plan: Plan) -> Balance:
    """Return how even the order of a plan is."""
    n_items = plan.design.n_items
    places: list[list[int]] = [[] for _ in range(n_items)]
    repeats = 0
    for visit in plan.visits:
        for place, one in enumerate(visit.counted, 1):
            places[one.slot].append(place)
        repeats += sum(a.slot == b.slot for a, b in pairwise(visit.counted))
    return Balance(
        tuple(map(tuple, place_counts(plan.blocks, n_items).tolist())),
        tuple(map(tuple, neighbour_counts(plan.blocks, n_items).tolist())),
        tuple(sum(found) / len(found) for found in places),
        repeats,
    )
