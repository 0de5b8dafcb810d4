"""Orders against published squares, worked arithmetic, and a Mersenne Twister of the test's own."""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.trials.balance import neighbour_counts, place_counts
from posewatch.trials.orders import (
    LARGEST_SEED,
    Order,
    blocks_to_cancel_drift,
    blocks_to_even_neighbours,
    make_order,
    williams_square,
)
from posewatch.trials.words import OrderKind

SOME = settings(max_examples=60, derandomize=True, deadline=None)
SEEDS = st.integers(0, LARGEST_SEED)


def letters(rows: Sequence[Sequence[int]]) -> str:
    return " ".join("".join("ABCDEFGHIJ"[slot] for slot in row) for row in rows)


@pytest.mark.parametrize(
    ("n", "rows"),
    [
        # The construction of Williams (1949): first row 1, 2, n, 3, n - 1 ..., then add 1 mod n;
        # worked by hand. For n = 3 the rows as the R package crossdes prints williams(3):
        # 123 231 312 321 132 213.
        (2, "AB BA"),
        (3, "ABC BCA CAB CBA ACB BAC"),
        (4, "ABDC BCAD CDBA DACB"),
        (5, "ABECD BCADE CDBEA DECAB EADBC DCEBA EDACB AEBDC BACED CBDAE"),
        (6, "ABFCED BCADFE CDBEAF DECFBA EFDACB FAEBDC"),
    ],
)
def test_williams_squares_as_published(n: int, rows: str) -> None:
    assert letters(williams_square(n)) == rows


def test_first_row_for_ten_as_crossdes_prints_it() -> None:
    # R package crossdes, williams(10): 1 2 10 3 9 4 8 5 7 6.
    assert [slot + 1 for slot in williams_square(10)[0]] == [1, 2, 10, 3, 9, 4, 8, 5, 7, 6]


def is_williams(rows: Order, n: int) -> bool:
    """Each once a row; each place equally often; each ordered pair of neighbours equally often."""
    times = len(rows) // n
    apart = ~np.eye(n, dtype=bool)
    return (
        all(sorted(row) == list(range(n)) for row in rows)
        and bool(np.all(place_counts(rows, n) == times))
        and bool(np.all(neighbour_counts(rows, n)[apart] == times))
    )


@pytest.mark.parametrize("n", range(2, 11))
def test_williams_squares_are_balanced(n: int) -> None:
    rows = williams_square(n)
    assert len(rows) == (n if n % 2 == 0 else 2 * n)
    assert is_williams(rows, n)


def test_the_cyclic_square_is_not() -> None:
    """It has each at each place, but only four kinds of neighbours, three times each."""
    cyclic = tuple(tuple((row + place) % 4 for place in range(4)) for row in range(4))
    assert np.all(place_counts(cyclic, 4) == 1)
    counts = neighbour_counts(cyclic, 4)
    assert sorted(counts[counts > 0].tolist()) == [3, 3, 3, 3]
    assert not is_williams(cyclic, 4)


def difference(order: Order) -> float:
    """B less A where A is 20, B is 22, and each trial adds a drift of 0.5."""
    sequence = [slot for block in order for slot in block]
    values = [(20.0, 22.0)[slot] + 0.5 * trial for trial, slot in enumerate(sequence)]
    of_a, of_b = (
        [value for value, found in zip(values, sequence, strict=True) if found == slot]
        for slot in (0, 1)
    )
    return sum(of_b) / len(of_b) - sum(of_a) / len(of_a)


def test_reversed_pairs_cancel_a_steady_drift() -> None:
    """ABBA gives 20, 22.5, 23, 21.5: 2.0, which is true; ABAB gives 2.5 (worked by hand)."""
    abba = make_order(OrderKind.REVERSED_PAIRS, 2, 2, 1)
    assert letters(abba) == "AB BA"
    assert difference(abba) == 2.0
    assert difference(((0, 1), (0, 1))) == 2.5


@SOME
@given(st.integers(1, 4), SEEDS)
def test_any_even_number_of_reversed_pairs_cancels_it(n_units: int, seed: int) -> None:
    assert difference(make_order(OrderKind.REVERSED_PAIRS, 2, 2 * n_units, seed)) == 2.0


@SOME
@given(st.sampled_from(OrderKind), st.integers(2, 8), st.integers(1, 20), SEEDS)
def test_every_block_has_every_item_once(kind: OrderKind, n: int, blocks: int, seed: int) -> None:
    order = make_order(kind, n, blocks, seed)
    assert len(order) == blocks
    assert all(sorted(block) == list(range(n)) for block in order)


@SOME
@given(st.sampled_from(OrderKind), st.integers(2, 8), st.integers(1, 3), SEEDS)
def test_orders_are_even_after_as_many_blocks_as_said(
    kind: OrderKind, n: int, times: int, seed: int
) -> None:
    cancels, even = blocks_to_cancel_drift(kind, n), blocks_to_even_neighbours(kind, n)
    if cancels is not None:
        counts = place_counts(make_order(kind, n, times * cancels, seed), n)
        assert len(set((counts @ np.arange(n)).tolist())) == 1
    if even is not None:
        counts = neighbour_counts(make_order(kind, n, times * even, seed), n)
        assert len(set(counts[~np.eye(n, dtype=bool)].tolist())) == 1
    assert (cancels is None) == (kind is OrderKind.RANDOMISED_BLOCKS)


@pytest.mark.parametrize(
    ("kind", "n", "blocks", "seed", "order"),
    [
        # What these seeds gave when the program first made them, with numpy 1.26, 2.0 and 2.4.
        (OrderKind.REVERSED_PAIRS, 2, 6, 1, "AB BA AB BA BA AB"),
        (OrderKind.WILLIAMS, 3, 6, 1, "CBA BAC ACB BCA CAB ABC"),
        (OrderKind.WILLIAMS, 4, 4, 20260301, "ACBD DBCA CDAB BADC"),
        (OrderKind.RANDOMISED_BLOCKS, 5, 3, LARGEST_SEED, "EBACD BDCAE DECAB"),
    ],
)
def test_a_seed_gives_the_same_order_for_ever(
    kind: OrderKind, n: int, blocks: int, seed: int, order: str
) -> None:
    assert letters(make_order(kind, n, blocks, seed)) == order


def reference_shuffles(seed: int, n: int, times: int) -> list[list[int]]:
    """Shuffles by the published generator, without numpy.

    MT19937 with its seeding by one number (Matsumoto and Nishimura 1998, init_genrand of the
    2002 code), a number below n by masking and rejecting, and Fisher and Yates from the end.
    """
    key = [seed]
    for i in range(1, 624):
        key.append((1812433253 * (key[-1] ^ (key[-1] >> 30)) + i) % 2**32)
    twister = random.Random()
    twister.setstate((3, (*key, 624), None))

    def up_to(most: int) -> int:
        while True:
            value = twister.getrandbits(32) & ((1 << most.bit_length()) - 1)
            if value <= most:
                return value

    found = []
    for _ in range(times):
        values = list(range(n))
        for i in range(n - 1, 0, -1):
            j = up_to(i)
            values[i], values[j] = values[j], values[i]
        found.append(values)
    return found


@SOME
@given(st.integers(2, 8), SEEDS)
def test_chance_is_the_published_generator(n: int, seed: int) -> None:
    order = make_order(OrderKind.RANDOMISED_BLOCKS, n, 5, seed)
    assert [list(block) for block in order] == reference_shuffles(seed, n, 5)


def test_chance_reaches_every_order_about_equally_often() -> None:
    """Chi-squared with 5 degrees of freedom is under 20.5 with probability 0.999 (scipy)."""
    n_seeds = 3000
    firsts = [make_order(OrderKind.RANDOMISED_BLOCKS, 3, 1, seed)[0] for seed in range(n_seeds)]
    counts = [firsts.count(order) for order in set(firsts)]
    assert len(counts) == 6
    assert sum((n - n_seeds / 6) ** 2 / (n_seeds / 6) for n in counts) < 20.5


def test_the_first_pair_does_not_tell_the_rest() -> None:
    """Each pair that is not another's mirror is drawn anew."""
    orders = {make_order(OrderKind.REVERSED_PAIRS, 2, 6, seed) for seed in range(100)}
    assert len(orders) == 8
