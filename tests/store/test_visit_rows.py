"""Rows of every act hold all of it."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import get_args

import pytest
from made_acts import EVERY_ACT, WALL_NS

from posewatch.store.visit_rows import KINDS, act_from_row, act_row
from posewatch.trials.acts import Act


def test_there_is_one_of_every_act() -> None:
    assert {type(act) for act in EVERY_ACT} == set(get_args(Act)) == set(KINDS.values())


@pytest.mark.parametrize("act", EVERY_ACT, ids=lambda act: type(act).__name__)
def test_an_act_comes_back_as_it_was(act: Act) -> None:
    t_ns, wall_ns, kind, payload = act_row(act, WALL_NS)
    assert (t_ns, wall_ns) == (act.t_ns, WALL_NS)
    assert set(json.loads(payload)) == {one.name for one in fields(act)} - {"t_ns"}
    again = act_from_row(t_ns, kind, payload)
    assert again == act
    assert repr(again) == repr(act)


def test_names_in_the_record_are_words() -> None:
    assert set(KINDS) >= {"visit begun", "trial closed", "hold seen", "item fact"}
    assert len(KINDS) == len(get_args(Act))


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        ("flew away", "{}"),
        ("visit begun", "{}"),
        ("visit begun", "[]"),
        ("visit begun", "{"),
        ("hold seen", '{"phase": "asleep", "n_confirmed": 1}'),
        ("rated", '{"region": "front", "scale": "pain", "value": "much"}'),
    ],
)
def test_what_is_no_act(kind: str, payload: str) -> None:
    with pytest.raises((ValueError, TypeError)):
        act_from_row(1, kind, payload)
