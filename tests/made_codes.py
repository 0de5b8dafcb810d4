"""Code lists made for tests, and sealed cheaply."""

from __future__ import annotations

from random import Random

from posewatch.store.sealed_codes import seal
from posewatch.trials.code_list import CodeList, Item, make_code_list

#: Nothing else that the program writes holds these words.
NAMES = ("Quaggy Pad", "Zebu-Gel", "Yurt foam 9")
DESCRIPTIONS = ("vermilion, 12 mm", "", "with a groove")
PLAN_SHA256 = "5a" * 32
PASSPHRASE = "quick larch of 7 tins"
#: scrypt's cost where it is the file that is tested and not how long a guess takes.
CHEAP = 2**4


def made_codes(seed: int = 1) -> CodeList:
    items = [Item(*pair) for pair in zip(NAMES, DESCRIPTIONS, strict=True)]
    return make_code_list(items, PLAN_SHA256, "2026-03-01T10:11:12+00:00", Random(seed))


def sealed(passphrase: str = PASSPHRASE, n: int = CHEAP) -> bytes:
    return seal(made_codes(), passphrase, n)
