"""Rows beside their goals."""

from __future__ import annotations

import pytest
from rich.console import Console

from posewatch.bench.accuracy import all_reached
from posewatch.bench.tables import Row, as_markdown, as_table, at_least, at_most, between

NAN = float("nan")


@pytest.mark.parametrize(
    ("row", "reached"),
    [
        (at_most("a", 0.3, 0.3, "deg"), True),
        (at_most("a", 0.31, 0.3, "deg"), False),
        (at_most("a", NAN, 0.3, "deg"), False),
        (at_least("a", 0.85, 0.85), True),
        (at_least("a", 0.84, 0.85), False),
        (at_least("a", NAN, 0.85), False),
        (between("a", 1.0, 0.85, 1.15), True),
        (between("a", 1.16, 0.85, 1.15), False),
        (between("a", NAN, 0.85, 1.15), False),
        (Row("a", "1"), None),
    ],
)
def test_whether_a_goal_is_reached(row: Row, reached: bool | None) -> None:
    assert row.reached is reached
    assert all_reached([Row("b", "2"), row]) is (reached is not False)


def test_both_tables_show_every_row() -> None:
    rows = [at_most("torso", 0.2, 0.3, "deg"), at_least("yield", 0.5, 0.85), Row("rate", "41 Hz")]
    assert as_markdown(rows) == (
        "| what | figure | goal | |\n"
        "| --- | --- | --- | --- |\n"
        "| torso | 0.20 deg | at most 0.3 deg | reached |\n"
        "| yield | 0.50 | at least 0.85 | NOT reached |\n"
        "| rate | 41 Hz |  |  |\n"
    )
    console = Console(width=120, record=True, quiet=False, file=None)
    with console.capture() as shown:
        console.print(as_table(rows))
    for words in ("torso", "0.20 deg", "at most 0.3 deg", "NOT reached", "41 Hz"):
        assert words in shown.get()
