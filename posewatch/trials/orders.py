"""The order of the items: reversed pairs, Williams squares, randomised blocks.

An order is blocks; a block has every item once, by its slot (0 to n - 1), in the order of mounting.
Differences between items are taken inside blocks.

Chance comes from numpy's legacy ``RandomState``, only through ``permutation``: numpy guarantees its
values to stay those of version 1.16 on every platform, while ``Generator`` may change its stream
from version to version (numpy's "Legacy random generation" page; NEP 19). Of the standard library's
``random`` only ``random()`` itself is promised to stay.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from numpy.random import RandomState

from posewatch.trials.words import OrderKind

Block = tuple[int, ...]
Order = tuple[Block, ...]
#: What RandomState takes as a seed: 0 to this.
LARGEST_SEED = 2**32 - 1


def make_order(kind: OrderKind, n_items: int, n_blocks: int, seed: int) -> Order:
    """Return ``n_blocks`` blocks of ``n_items``; the same arguments give the same order anywhere.

    seed: 0 to LARGEST_SEED.
    """
    random = RandomState(seed)
    if kind is OrderKind.REVERSED_PAIRS:
        endless = _reversed_pairs(n_items, random)
    elif kind is OrderKind.WILLIAMS:
        endless = _williams_blocks(n_items, random)
    else:
        endless = _random_blocks(n_items, random)
    return tuple(next(endless) for _ in range(n_blocks))


def blocks_to_cancel_drift(kind: OrderKind, n_items: int) -> int | None:
    """Return after how many blocks, or a multiple, a steady drift cancels; None = only by chance.

    Every item's mean place is then the same.
    """
    return {OrderKind.REVERSED_PAIRS: 2, OrderKind.WILLIAMS: n_items}.get(kind)


def blocks_to_even_neighbours(kind: OrderKind, n_items: int) -> int | None:
    """Return after how many blocks, or a multiple, each item follows each other equally often.

    None = only by chance.
    """
    if kind is OrderKind.WILLIAMS:
        return len(williams_square(n_items))
    return 2 if kind is OrderKind.REVERSED_PAIRS and n_items == 2 else None


def williams_square(n: int) -> Order:
    """Return the rows of Williams's design for n treatments, 0 to n - 1; n rows, for odd n 2 n.

    The first row goes 1, 2, n, 3, n - 1, ...; each further row adds 1 mod n; for odd n the mirror
    image of each row follows (E. J. Williams 1949, Australian Journal of Scientific Research A 2,
    149-168; so built by the function ``williams`` of the R package crossdes). Each treatment is
    equally often at each place and directly after each other one.
    """
    first = [0]
    low, high = 1, n - 1
    while low <= high:
        first.append(low)
        if low < high:
            first.append(high)
        low, high = low + 1, high - 1
    rows = tuple(tuple((slot + row) % n for slot in first) for row in range(n))
    return rows if n % 2 == 0 else rows + tuple(row[::-1] for row in rows)


def _reversed_pairs(n_items: int, random: RandomState) -> Iterator[Block]:
    """Draw an order, then the same reversed (AB BA); then draw anew.

    Drawn anew, so that who has seen the first two mountings cannot tell the rest.
    """
    while True:
        block = _shuffled(range(n_items), random)
        yield block
        yield block[::-1]


def _williams_blocks(n_items: int, random: RandomState) -> Iterator[Block]:
    """Give the rows in a drawn order, labels drawn too; for odd n the mirrored rows come last.

    So every n blocks have each item once at each place, even where the mirrored rows are not
    reached.
    """
    labels = _shuffled(range(n_items), random)
    rows = williams_square(n_items)
    while True:
        for start in range(0, len(rows), n_items):
            for row in _shuffled(range(start, start + n_items), random):
                yield tuple(labels[slot] for slot in rows[row])


def _random_blocks(n_items: int, random: RandomState) -> Iterator[Block]:
    while True:
        yield _shuffled(range(n_items), random)


def _shuffled(values: Sequence[int], random: RandomState) -> Block:
    return tuple(values[i] for i in random.permutation(len(values)).tolist())
