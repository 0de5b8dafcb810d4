"""A first look, made in one go: plan, code list and passphrase, for the targets that are there."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from posewatch.errors import BadInput
from posewatch.store.passphrase import new_passphrase
from posewatch.store.plan_file import write_plan
from posewatch.store.sealed_codes import SCRYPT_N, seal, write_sealed
from posewatch.store.sealed_document import sha256_of
from posewatch.trials.code_list import CARD_LETTERS, Item, make_code_list
from posewatch.trials.concealment import require_nothing_named
from posewatch.trials.orders import LARGEST_SEED
from posewatch.trials.plan import FIRST_LOOK_PAIRS, Design, default_order, make_plan
from posewatch.trials.words import ComparisonKind, ConcealmentLevel, SaddleMode

N_ITEMS = 2
#: What an item is called in the code list where it was given no name: whose card has it, knows.
ON_THE_CARD = "as on the rider's card"


@dataclass(frozen=True, slots=True)
class FirstLook:
    """What was made.

    passphrase: of the code list; it is nowhere on disk. labels: (code, letter of the card), in the
    order in which the items were named.
    """

    plan_path: Path
    codes_path: Path
    sha256: str
    passphrase: str = field(repr=False)
    labels: tuple[tuple[str, str], ...] = field(repr=False)


def first_look_design(
    kind: ComparisonKind,
    saddle_mode: SaddleMode | None,
    rider: str,
    bike: str,
    hands: tuple[str, ...],
    power_w: float | None = None,
    cadence_rpm: float | None = None,
) -> Design:
    """Return the design of a first look at two covered items: three pairs, one visit.

    hands: the positions that have a target. power_w, cadence_rpm: None = not held.
    """
    return Design(
        kind=kind,
        saddle_mode=saddle_mode,
        concealment=ConcealmentLevel.ITEM_COVERED,
        rider=rider,
        bike=bike,
        n_items=N_ITEMS,
        mountings=FIRST_LOOK_PAIRS,
        n_visits=1,
        hands=hands,
        order=default_order(N_ITEMS),
        seed=secrets.randbelow(LARGEST_SEED + 1),
        power_w=power_w,
        cadence_rpm=cadence_rpm,
    )


def make_first_look(
    folder: Path, design: Design, names: Sequence[str] = ("", ""), cost: int = SCRYPT_N
) -> FirstLook:
    """Write a plan and its sealed code list into a folder, under names that are free.

    names: of the items; an empty one is known by its letter on the rider's card alone. cost: of
    scrypt, for each try at the passphrase.

    Raises:
        BadInput: no such plan, names that cannot be, or the folder cannot be written to; nothing is
            left behind.
    """
    plan = make_plan(design)
    items = [
        Item(name.strip() or f"{letter} {ON_THE_CARD}")
        for name, letter in zip(names, CARD_LETTERS[: design.n_items], strict=True)
    ]
    plan_path, codes_path = _free_paths(folder)
    write_plan(plan, plan_path)
    try:
        data = plan_path.read_bytes()
        created = datetime.now(UTC).isoformat(timespec="seconds")
        made = make_code_list(items, sha256_of(data), created, secrets.SystemRandom())
        require_nothing_named(made, data.decode("utf-8"))
        passphrase = new_passphrase()
        sealed = seal(made, passphrase, cost)
        write_sealed(sealed, codes_path)
    except BaseException:
        plan_path.unlink(missing_ok=True)
        raise
    labels = tuple((one.code, one.card) for one in made.as_named)
    return FirstLook(plan_path, codes_path, sha256_of(sealed), passphrase, labels)


def _free_paths(folder: Path) -> tuple[Path, Path]:
    """Return new names for a plan and its code list: the moment in UTC."""
    stamp = datetime.now(UTC).strftime("%Y-%m-%d_%H-%M-%S")
    names = (stamp if n == 1 else f"{stamp}_{n}" for n in count(1))
    pairs = ((folder / f"{name}.plan.json", folder / f"{name}.codes.json") for name in names)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(
            f"The folder {folder} cannot be made ({error.strerror or error}).",
            "Check your rights there.",
        ) from error
    return next(pair for pair in pairs if not any(path.exists() for path in pair))
