"""Changes to a target on the fitter's table, with undo and redo. Pure state, without Qt.

Sizes are in degrees, or in mm (nominal before a camera is calibrated).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from posewatch.core.envelope import DEFAULT_TOLERANCE, Target
from posewatch.core.records import Channel
from posewatch.core.resolution import resolution
from posewatch.errors import BadInput
from posewatch.ui.fitter_view import PLUS_MINUS, name_of, snapped, step_of, unit_text


@dataclass(frozen=True, slots=True)
class Edit:
    """One change, in words, and the target before it."""

    words: str
    before: Target


@dataclass(frozen=True, slots=True)
class Editing:
    """A target on the fitter's table.

    kept: as it is on the shelf, None = not there yet. past: changes that can be undone, the last
    one last; future: those undone, the next one last.
    """

    target: Target
    kept: Target | None = None
    past: tuple[Edit, ...] = ()
    future: tuple[Edit, ...] = ()

    @property
    def is_kept(self) -> bool:
        """Whether all of it is on the shelf."""
        return self.kept == self.target

    def with_change(self, words: str, target: Target) -> Editing:
        """Return the table after a change; one that changes nothing leaves it alone."""
        if target == self.target:
            return self
        past = (*self.past, Edit(words, self.target))
        return replace(self, target=target, past=past, future=())


def opened(target: Target) -> Editing:
    """Return the table with a target from the shelf on it."""
    return Editing(target, target)


def captured(before: Editing | None, target: Target) -> Editing:
    """Return the table with a newly captured target on it; the one before can be had back."""
    if before is None:
        return Editing(target)
    return before.with_change(f"captured {name_of(target)}", target)


def with_tolerance(editing: Editing, channel: Channel, size: float) -> Editing:
    """Set a limit, in degrees or mm, to the nearest step."""
    held = editing.target.envelope(channel)
    wanted, was = snapped(held.unit, size), held.unit.nominal * held.tol
    if math.isclose(wanted, was, abs_tol=step_of(held.unit) / 100):
        return editing
    words = f"{channel}: {PLUS_MINUS}{was:.1f} to {PLUS_MINUS}{wanted:.1f}{unit_text(held.unit)}"
    target = editing.target.with_tolerance(channel, wanted / held.unit.nominal)
    return editing.with_change(words, target)


def with_required(editing: Editing, channel: Channel, required: bool) -> Editing:
    """Make a channel required, or advisory.

    Raises:
        BadInput: nothing would be required any more.
    """
    envelopes = tuple(
        replace(held, required=required) if held.channel is channel else held
        for held in editing.target.envelopes
    )
    if not any(held.required for held in envelopes):
        raise BadInput(
            "No channel would be required, so that every stroke would count.",
            "Leave at least one required.",
        )
    words = f"{channel}: {'required' if required else 'advisory'}"
    return editing.with_change(words, replace(editing.target, envelopes=envelopes))


def with_note(editing: Editing, note: str) -> Editing:
    """Set the note."""
    return editing.with_change("note", replace(editing.target, note=note.strip()))


def with_author(editing: Editing, author: str) -> Editing:
    """Set who answers for it."""
    return editing.with_change("author", replace(editing.target, author=author.strip()))


def undo(editing: Editing) -> Editing:
    """Take the last change back; nothing to take back leaves the table alone."""
    if not editing.past:
        return editing
    last = editing.past[-1]
    undone = Edit(last.words, editing.target)
    return replace(
        editing, target=last.before, past=editing.past[:-1], future=(*editing.future, undone)
    )


def redo(editing: Editing) -> Editing:
    """Make the last change that was undone again."""
    if not editing.future:
        return editing
    next_one = editing.future[-1]
    done = Edit(next_one.words, editing.target)
    return replace(
        editing, target=next_one.before, past=(*editing.past, done), future=editing.future[:-1]
    )


def tight(editing: Editing) -> tuple[str, ...]:
    """Return which limits are tighter than the noise and why, those that need a fitter's word.

    An advisory channel costs the rider nothing; it needs one only where its limit was set by hand.
    """
    found = []
    for held in editing.target.envelopes:
        why = resolution(editing.target, held.channel).too_tight
        size = held.unit.nominal * held.tol
        if why and (held.required or not math.isclose(size, DEFAULT_TOLERANCE[held.channel])):
            found.append(f"{held.channel} {size:.1f}{unit_text(held.unit)}: {why}")
    return tuple(found)


def why_not_kept(editing: Editing | None, all_the_same: bool) -> str:
    """Say why the target cannot be kept now; empty = it can."""
    if editing is None:
        return "There is no target yet: capture one, or open a saved one."
    if editing.is_kept:
        return "Nothing was changed since it was kept."
    if tight(editing) and not all_the_same:
        return "A limit is tighter than the noise: widen it, or tick that it is kept all the same."
    return ""
