"""What a person reads of targets: one, a list of them, and how two differ."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from posewatch.core.envelope import Envelope, Target, Unit
    from posewatch.core.resolution import Resolution
    from posewatch.store.target_shelf import SavedTarget

NOT_KNOWN = "not known"


def describe(target: Target) -> None:
    """Print a target: what it was made of, its limits, and what it can tell."""
    from rich.table import Table

    from posewatch.cli.screen import show_table
    from posewatch.core.resolution import MINUTES, STROKES, resolution

    _say_origin(target)
    found = [resolution(target, held.channel) for held in target.envelopes]
    table = Table(
        "channel",
        "held",
        "centre (mean)",
        "outer limit",
        "inner limit",
        "SD of a stroke,\nwithin a sit",
        "SD of a stroke,\nfresh sit",
        f"smallest offset\ntold, {STROKES} strokes",
        f"false cues\nin {MINUTES:g} min",
    )
    for held, told in zip(target.envelopes, found, strict=True):
        table.add_row(
            held.channel,
            "required" if held.required else "advisory",
            _centre(held),
            amount(held.tol, held.unit, 1),
            amount(held.inner, held.unit, 1),
            amount(told.stroke_sd, held.unit, 2),
            NOT_KNOWN if told.fresh_sd is None else amount(told.fresh_sd, held.unit, 2),
            amount(told.smallest, held.unit, 2)
            + ("" if told.fresh_sd is not None else ", one sit"),
            cues_text(told.false_cues),
        )
    show_table(table)
    _say_what_to_know(target, found)


def _say_origin(target: Target) -> None:
    from posewatch.cli.screen import say

    by = f" by {target.author}" if target.author else ""
    say(
        f"{target.rider}/{target.bike}/{target.hands} v{target.version}, "
        f"{target.created or 'not kept yet'}{by}"
    )
    if target.note:
        say(f"note: {target.note}")
    sits = " + ".join(str(n) for n in target.sits)
    say(
        f"{target.side} side, {target.n_strokes} strokes used in {len(target.sits)} "
        f"{'sit' if len(target.sits) == 1 else 'sits'} ({sits}), {target.n_dropped} dropped as "
        f"unlike the others, {target.cadence_rpm:.0f} rpm"
    )
    chain = target.chain
    kit = f", kit {chain.kit}" if chain.kit else ""
    say(
        f"chain {chain.fingerprint()} ({chain.model_name}, {chain.width_px} x {chain.height_px}, "
        f"{chain.rate_hz:.0f} Hz, {chain.view or 'uncalibrated'}{kit})"
    )


def _say_what_to_know(target: Target, found: Sequence[Resolution]) -> None:
    from posewatch.cli.screen import say
    from posewatch.core.resolution import joint_share, sidak_z, sits_caution

    if any(held.unit == "thigh" for held in target.envelopes):
        say(nominal_words())
    if caution := sits_caution(target):
        say(caution)
    held = [one for one in found if target.envelope(one.channel).required]
    joint = joint_share(held)
    say(
        f"a stroke ridden in position is in all {len(held)} required bands with probability "
        f"{'over 0.9999' if joint > 0.9999 else f'{joint:.4f}'} if they scatter independently; "
        f"for 0.95 each limit must be {sidak_z(len(held)):.2f} SD"
    )
    for one in found:
        if one.too_tight:
            say(f"tighter than the noise: {one.channel}: {one.too_tight}")


def nominal_words() -> str:
    """Say what mm* means."""
    from posewatch.core.envelope import NOMINAL_THIGH_MM

    return (
        f"mm*: nominal, for a thigh of {NOMINAL_THIGH_MM:.0f} mm; the camera is not calibrated and "
        "places mean something only while it stays where it was"
    )


def amount(value: float, unit: Unit, digits: int, sign: str = "") -> str:
    """Return a value with its unit as people read it, nominal mm with a star."""
    words = {"deg": "deg", "mm": "mm", "thigh": "mm*"}
    return f"{value * unit.nominal:{sign}.{digits}f} {words[unit]}"


def cues_text(cues: float) -> str:
    """Return an expected number of cues; no more digits than it has."""
    return "under 0.1" if cues < 0.1 else f"{cues:.1f}"


def _centre(held: Envelope) -> str:
    if held.unit == "thigh":
        return "-"
    parts = ", ".join(f"{curve[0]:.1f}" for curve in held.centre)
    return f"{parts} {held.unit}"


def show_list(saved: Sequence[SavedTarget]) -> None:
    """Print saved targets, one a row; a file that cannot be used says so in its row."""
    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.core.envelope import LengthUnit
    from posewatch.errors import BadInput
    from posewatch.store.target_file import read_target_file

    table = Table("target", "kept", "by", "sits", "strokes", "camera", box=None, pad_edge=False)
    broken = []
    for one in saved:
        try:
            target = read_target_file(one.path)
        except BadInput as error:
            broken.append(str(error))
            table.add_row(one.name, "cannot be used")
            continue
        table.add_row(
            one.name,
            target.created[:16].replace("T", " "),
            target.author or "-",
            str(len(target.sits)),
            str(target.n_strokes),
            "calibrated" if target.length_unit is LengthUnit.MM else "not calibrated",
        )
    show_table(table)
    for words in broken:
        say(words)


def show_difference(names: tuple[str, str], targets: tuple[Target, Target]) -> None:
    """Print how the second target differs from the first."""
    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.core.resolution import sits_caution
    from posewatch.core.target_difference import difference

    found = difference(*targets)
    say(f"{names[1]} less {names[0]}")
    table = Table("channel", "mean", "told from", "mean / told", "largest", "at crank angle")
    for one in found.curves:
        name = f"{one.channel}, {one.part}" if one.part else str(one.channel)
        table.add_row(
            name,
            amount(one.mean, one.unit, 2, "+"),
            amount(one.told, one.unit, 2),
            f"{one.ratio:.1f}" + ("" if one.ratio >= 1 else " (not told)"),
            amount(one.largest, one.unit, 2, "+"),
            f"{one.largest_deg:.0f} deg",
        )
    show_table(table)
    if found.obstacles:
        say(
            f"No mm claims: they differ in {'; '.join(found.obstacles)}. The angles' differences "
            "are the rider's and the measurement's together."
        )
    elif any(one.unit == "thigh" for one in found.curves):
        say(nominal_words())
    for name, target in zip(names, targets, strict=True):
        if caution := sits_caution(target):
            say(f"{name} was {caution}")


def say_saved(target: Target, path: Path) -> None:
    """Print where a target is kept from now on."""
    from posewatch.cli.screen import say

    say(f"saved {target.rider}/{target.bike}/{target.hands}/v{target.version} as {path}")
