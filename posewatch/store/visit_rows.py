"""Acts of a visit as rows of its record, in both directions."""

from __future__ import annotations

import json
import re
from typing import Any, get_args

from posewatch.store.rows import from_document, to_document, to_json
from posewatch.trials.acts import Act

Row = tuple[Any, ...]


def _kind(act: type[Any]) -> str:
    """Return the name of an act in the record: "trial begun"."""
    return re.sub(r"(?<!^)(?=[A-Z])", " ", act.__name__).lower()


KINDS: dict[str, type[Any]] = {_kind(one): one for one in get_args(Act)}
_NAMES = {one: name for name, one in KINDS.items()}


def act_row(act: Act, wall_ns: int) -> Row:
    """Return the row of an act. wall_ns: the wall clock at that moment, since 1970 UTC."""
    document = to_document(act)
    del document["t_ns"]  # has a column of its own
    return act.t_ns, wall_ns, _NAMES[type(act)], to_json(document)


def act_from_row(t_ns: int, kind: str, payload: str) -> Act:
    """Return the act of a row.

    Raises:
        ValueError: the row holds no act.
    """
    if kind not in KINDS:
        raise ValueError(f"an act is of the unknown kind {kind!r}")
    found: Act = from_document(KINDS[kind], json.loads(payload) | {"t_ns": t_ns})
    return found
