"""What is typed of an item on the bench: hardness readings, and its other figures. Without Qt."""

from __future__ import annotations

from collections.abc import Sequence

from posewatch.errors import BadInput
from posewatch.store.visit_header import VisitHeader
from posewatch.trials import acts
from posewatch.trials.acts import Act, Gauged
from posewatch.trials.bench_readings import READINGS, hardness
from posewatch.trials.item_passport import UNITS, Fact, require_fact
from posewatch.ui.visit_forms import Field, Form, FormRow, number, one_row


class BenchForms:
    """Makes the forms of one visit, and offers again what was said of the gauge the last time."""

    def __init__(self, header: VisitHeader) -> None:
        self._header = header
        self._scale, self._dwell, self._backing = "", "", ""

    def gauge(self, code: str) -> Form:
        """Ask for the readings at one place. code: of the item at hand, empty = none is."""
        places = tuple(Field(f"reading {place + 1}") for place in range(READINGS))
        rows = (
            one_row("item", code, ", ".join(self._header.codes)),
            one_row("scale", self._scale, "as printed on the gauge"),
            FormRow("zone, side", (Field("zone"), Field("side", hint="or nothing"))),
            one_row("dwell, s", self._dwell),
            one_row("backing", self._backing, "what lies under it"),
            FormRow("readings", places),
            one_row("thickness, mm", hint="not known"),
            one_row("temperature, deg C", hint="not known"),
        )
        return Form("hardness of an item, at one place", rows, self._gauged)

    def _gauged(self, texts: Sequence[str]) -> Sequence[Act]:
        item, scale, zone, side, dwell, backing = (text.strip() for text in texts[:6])
        *readings, thickness, temperature = texts[6:]
        one = Gauged(
            0,
            self._header.code_of(item),
            scale,
            zone,
            side,
            number(dwell, "dwell"),
            backing,
            tuple(number(text, "reading") for text in readings if text.strip()),
            _or_none(thickness, "thickness"),
            _or_none(temperature, "temperature"),
        )
        hardness(one)
        self._scale, self._dwell, self._backing = scale, dwell, backing
        return (one,)

    def facts(self, code: str) -> Form:
        """Ask for an item's other figures; an empty field was not measured."""
        rows = [one_row("item", code, ", ".join(self._header.codes))]
        for fact in Fact:
            unit = "" if UNITS[fact] == "1" else f", {UNITS[fact]}"
            rows.append(one_row(f"{fact}{unit}", hint="not measured"))
        words = ("washes and hours ridden: in all, since it was new",)
        return Form("figures of an item", tuple(rows), self._known, words)

    def _known(self, texts: Sequence[str]) -> Sequence[Act]:
        code = self._header.code_of(texts[0])
        typed = zip(Fact, texts[1:], strict=True)
        found = [
            acts.ItemFact(0, code, fact, number(text, fact)) for fact, text in typed if text.strip()
        ]
        if not found:
            raise BadInput("No figure is given.", "Type one, or leave it with Escape.")
        for one in found:
            require_fact(one)
        return found


def gauged_words(gauged: Gauged) -> str:
    """Say what readings come to."""
    found = hardness(gauged)
    spread = "" if found.sd is None else f", SD {found.sd:.1f}"
    words = f"{gauged.code}, {gauged.zone}: median {found.median:g}, "
    words += f"{found.low:g} to {found.high:g}{spread}"
    return "; ".join((words, *found.warnings))


def _or_none(text: str, what: str) -> float | None:
    return number(text, what) if text.strip() else None
