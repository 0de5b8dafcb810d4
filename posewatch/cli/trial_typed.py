"""Answers that a person types at the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from posewatch.cli.asking import ask, ask_until, ask_words, number
from posewatch.cli.screen import say
from posewatch.cli.trial_bench import BenchQuestions
from posewatch.cli.typed_lines import TypedLines
from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.check_list import require_value
from posewatch.trials.conduct_state import Run
from posewatch.trials.kinds import CheckLine, Entry
from posewatch.trials.ratings import (
    ENDS,
    LEAST,
    MOST,
    Region,
    Scale,
    card_letters,
    require_guess,
    require_rating,
)
from posewatch.trials.start_needs import Missing
from posewatch.visits.answering import Choice, Wish
from posewatch.visits.visit import Visit

_KEYS = {
    "r": Choice.REPEAT,
    "s": Choice.SKIP,
    "m": Choice.MOUNTING,
    "l": Choice.STOP,
    "e": Choice.END,
}
_RECORD = {
    "n": "note",
    "g": "gauge reading",
    "f": "fact of an item",
    "i": "image of the mounting",
}
_WORDS = {
    Choice.REPEAT: "ride the last trial again",
    Choice.SKIP: "skip this",
    Choice.MOUNTING: "leave this mounting",
    Choice.STOP: "stop for now",
    Choice.END: "end the visit",
}


class TypedAnswers:
    """An ``answering.Answerer`` at the keys."""

    attended = True

    def __init__(self, visit: Visit) -> None:
        self._visit = visit
        self._bench = BenchQuestions(visit.header)
        self._lines = TypedLines()
        self._paused = ""

    def operator(self) -> str:
        """Ask who runs the visit."""
        return ask("Who runs the visit (Enter = not said)")

    def choose(self, what: str, choices: Sequence[Choice]) -> Wish:
        """Ask what is to be done."""
        self._paused = ""
        say(f"Next: {what}.")
        keys = {key: one for key, one in _KEYS.items() if one in choices}
        offered = [f"{key} {_WORDS[one]}" for key, one in keys.items()]
        offered += [f"{key} {word}" for key, word in _RECORD.items()]
        while True:
            typed = ask(f"Enter = go on; {', '.join(offered)}")
            key, _, rest = typed.partition(" ")
            key, rest = key.lower(), rest.strip()
            if not typed:
                return Wish(Choice.GO_ON)
            if key == "i":
                self._keep_photo(rest)
                continue
            if key in _RECORD:
                return Wish(Choice.RECORD, act=self._recorded(key, rest))
            if keys.get(key) is Choice.STOP:
                return Wish(Choice.STOP)
            if key in keys:
                return Wish(keys[key], rest or ask_words(f"Why {_WORDS[keys[key]]}"))
            say(f"'{typed}' is none of these.")

    def line(self, mounting: int, line: CheckLine) -> acts.LineDone | acts.LineSkipped:
        """Ask for a line of the check list; a hyphen and a reason leave it out."""
        how = {
            Entry.TICK: "Enter = done",
            Entry.NUMBER: f"in {line.unit}" if line.unit else "a number",
            Entry.TEXT: "in words",
        }[line.entry]

        def read(typed: str) -> acts.LineDone | acts.LineSkipped:
            value = typed.replace(",", ".") if line.entry is Entry.NUMBER else typed
            # A number may be negative; no other entry begins with a hyphen.
            if not typed.startswith("-") or (line.entry is Entry.NUMBER and typed[1:2].isdigit()):
                require_value(line, value)
                return acts.LineDone(0, line.key, value)
            reason = typed[1:].strip()
            return acts.LineSkipped(0, line.key, reason or ask_words("Why is it left out"))

        return ask_until(f"{line.text} ({how}; '- why' leaves it out)", read)

    def rate(self, run: Run) -> Iterable[acts.Rated]:
        """Ask how the trial felt, region by region."""
        say(f"Ratings of the trial on the {run.hands}, {LEAST:g} to {MOST:g}:")
        for scale, (least, most) in ENDS.items():
            say(f"  {scale}: {LEAST:g} = {least}, {MOST:g} = {most}")
        for region in Region:
            question = f"{region}: {' and '.join(Scale)} (Enter or - = not asked)"
            rated = ask_until(question, _ratings)
            for scale, value in zip(Scale, rated, strict=True):
                yield acts.Rated(0, region, scale, value)

    def guess(self, mounting: int) -> acts.Guessed | None:
        """Ask which item the rider takes it for."""
        design = self._visit.plan.design
        letters = card_letters(design)

        def letter(typed: str) -> str | None:
            if typed not in ("", "?"):
                require_guess(design, typed.upper(), 0)
            return typed.upper()

        def sure(typed: str) -> int:
            if not typed.isdecimal():
                raise BadInput(f"'{typed}' is no whole number.", "Type 0 to 10.")
            require_guess(design, None, int(typed))
            return int(typed)

        question = f"Which item was mounting {mounting}, on the rider's card"
        said = ask_until(
            f"{question} ({', '.join(letters)}; ? = does not know; Enter = not asked)", letter
        )
        if not said:
            return None
        confidence = ask_until("How sure, 0 (not at all) to 10 (certain)", sure)
        why = ask("Why, in the rider's words")
        return acts.Guessed(0, None if said == "?" else said, confidence, why)

    def why(self, missing: Missing) -> str:
        """Ask why something is passed over."""
        return ask(f"{missing.text}: passed over, because (Enter = it is not)")

    def broken_off(self) -> str:
        """Ask why the trial was broken off; Ctrl+C again is an answer."""
        try:
            return ask("Broken off. Why") or "not said"
        except KeyboardInterrupt:
            return "not said"

    def pause(self) -> str:
        """A "p" pauses the trial, and why may follow; any line goes on."""
        typed = self._lines.taken()
        key, _, why = (typed or "").strip().partition(" ")
        if typed is not None and self._paused:
            self._paused = ""
            say("going on")
        elif key.lower() == "p":
            self._paused = f"paused: {why.strip() or 'not said why'}"
            say("paused; Enter goes on, Ctrl+C breaks the trial off")
        return self._paused

    def _keep_photo(self, path: str) -> None:
        try:
            self._visit.keep_photo(Path(path or ask_words("File of the picture")).expanduser())
        except BadInput as error:
            say(str(error))

    def _recorded(self, key: str, text: str) -> acts.Act:
        if key == "n":
            return acts.Noted(0, text or ask_words("Note"))
        return self._bench.gauged() if key == "g" else self._bench.fact()


def _ratings(typed: str) -> tuple[float | None, ...]:
    """Read one value a scale, spaces between; those at the end may be left out."""
    words = typed.split()
    if len(words) > len(Scale):
        raise BadInput("That is too much.", f"Give {' and '.join(Scale)}, a space between.")
    words += ["-"] * (len(Scale) - len(words))
    values = tuple(None if word == "-" else number(word) for word in words)
    for value in values:
        require_rating(Region.FRONT, Scale.PAIN, value)
    return values
