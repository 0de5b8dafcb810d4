"""What a person reads of a camera set up beside a bike."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from posewatch.store.camera_profile_file import SavedProfile

_METHODS = {"boards": "boards", "typed": "typed points"}


def describe_profile(saved: SavedProfile) -> None:
    """Print a camera's set-up, how sure it is, and what to know of it."""
    from dataclasses import asdict
    from datetime import UTC, datetime

    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.core.bike_setup import cautions

    setup, lens = saved.setup, saved.profile.lens
    view, spread = setup.view, setup.spread
    age = datetime.now(UTC) - datetime.fromisoformat(saved.created)
    say(
        f"camera {saved.name}, set up beside {saved.bike} {saved.created} ({max(0, age.days)} days "
        f"ago) from {_METHODS[setup.method]}; profile {saved.profile.fingerprint()}"
    )
    if saved.note:
        say(f"note kept with it: {saved.note}")
    ahead = "right" if view.side == "right" else "left"
    say(f"sees the rider's {view.side} side; the bike points to the {ahead} in the picture")
    table = Table("of the view", "found", "one SD")
    for name, found, sd in (
        ("scale, middle plane", f"{setup.scale_mm_per_px:.3f} mm/px", spread.scale_mm_per_px),
        ("distance", f"{view.distance_mm:.0f} mm", spread.distance_mm),
        ("yaw (+ = looks forwards)", f"{view.yaw_deg:+.2f} deg", spread.yaw_deg),
        ("pitch (+ = looks up)", f"{view.pitch_deg:+.2f} deg", spread.pitch_deg),
        ("roll (+ = upright leans right)", f"{view.roll_deg:+.2f} deg", spread.roll_deg),
    ):
        table.add_row(name, found, f"{sd:.3f}" if sd < 0.1 else f"{sd:.2f}")
    show_table(table)
    known = setup.known_wheelbase_mm
    higher_mm = round(setup.front_axle_mm[1] - setup.rear_axle_mm[1])
    say(
        f"wheelbase {setup.wheelbase_mm:.0f} mm"
        + (f" ({known:.0f} told)" if known is not None else "")
        + f", front axle {higher_mm:+d} mm above the rear "
        f"one, the bike takes {100 * setup.bike_share(lens):.0f} % of the picture's width, "
        f"{setup.rms_px:.2f} px left over"
    )
    depths = ", ".join(f"{joint} {mm:g}" for joint, mm in asdict(saved.profile.depths).items())
    say(f"joints off the middle plane, mm: {depths}")
    for line in cautions(lens, setup):
        say(f"note: {line}")
