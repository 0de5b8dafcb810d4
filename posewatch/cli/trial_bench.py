"""Questions about an item on the bench: hardness readings and plain facts."""

from __future__ import annotations

from posewatch.cli.asking import ask, ask_until, ask_words, number, number_or_none
from posewatch.cli.screen import say
from posewatch.errors import BadInput
from posewatch.store.visit_header import VisitHeader
from posewatch.trials import acts
from posewatch.trials.bench_readings import READINGS, hardness
from posewatch.trials.item_passport import UNITS, Fact, require_fact


class BenchQuestions:
    """Asks, and offers again what was said of the gauge the last time."""

    def __init__(self, header: VisitHeader) -> None:
        self._header = header
        self._last = {"Scale, as printed on the gauge": "", "Backing": "", "Dwell in s": ""}

    def gauged(self) -> acts.Gauged:
        """Ask for the readings at one place, and say what they come to."""
        while True:
            one = acts.Gauged(
                0,
                self._code(),
                self._again("Scale, as printed on the gauge"),
                ask_words("Zone"),
                ask("Side (Enter = none)"),
                number(self._again("Dwell in s")),
                self._again("Backing"),
                ask_until(f"Readings, {READINGS} of them, spaces between", _readings),
                ask_until("Thickness in mm (Enter = not known)", number_or_none),
                ask_until("Temperature in deg C (Enter = not known)", number_or_none),
            )
            try:
                found = hardness(one)
            except BadInput as error:
                say(str(error))
                continue
            spread = "" if found.sd is None else f", SD {found.sd:.1f}"
            say(f"median {found.median:g}, {found.low:g} to {found.high:g}{spread}")
            for warning in found.warnings:
                say(f"  {warning}")
            return one

    def fact(self) -> acts.ItemFact:
        """Ask for one fact of an item."""
        code = self._code()
        fact = ask_until(f"Which: {', '.join(Fact)}", _fact)

        def read(text: str) -> acts.ItemFact:
            one = acts.ItemFact(0, code, fact, number(text))
            require_fact(one)
            return one

        unit = "" if UNITS[fact] == "1" else f" in {UNITS[fact]}"
        return ask_until(f"{fact.capitalize()}{unit}", read)

    def _code(self) -> str:
        return ask_until(f"Item ({', '.join(self._header.codes)})", self._header.code_of)

    def _again(self, what: str) -> str:
        """Ask for what is mostly the same the next time."""
        last = self._last[what]

        def read(text: str) -> str:
            said = text or last
            if not said:
                raise BadInput("Nothing is said.", "Type it; it is offered again the next time.")
            if what == "Dwell in s":
                number(said)
            return said

        self._last[what] = ask_until(f"{what} (Enter = {last})" if last else what, read)
        return self._last[what]


def _readings(text: str) -> tuple[float, ...]:
    return tuple(number(word) for word in text.replace(";", " ").split())


def _fact(text: str) -> Fact:
    found = [one for one in Fact if text and one.startswith(text.casefold())]
    if len(found) != 1:
        raise BadInput(f"'{text}' is no fact of an item.", "Its first letters are enough.")
    return found[0]
