"""The invented bike on its trainer, built round where this rider sits and holds the bar."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.rider import SIDES, Posture, Rider
from demo_clips.render.shapes import GLOSS, MATT, Mesh, box, disc, join, make_mesh, rgb, ring, tube
from demo_clips.render.skeleton import pitch

Array = NDArray[np.float64]

WHEEL_RADIUS_M = 0.335
AXLE_HEIGHT_M = 0.07
FLOOR_M = AXLE_HEIGHT_M - WHEEL_RADIUS_M
REAR_AXLE = np.array([-0.405, AXLE_HEIGHT_M, 0.0])
FRONT_AXLE = np.array([0.585, AXLE_HEIGHT_M, 0.0])
SEAT_TUBE_DEG = 73.5
SEAT_CLUSTER_M = 0.52  # along the seat tube from the crank axis
HEAD_TOP = np.array([0.40, 0.565, 0.0])
HEAD_BOTTOM = np.array([0.435, 0.43, 0.0])
HIP_ABOVE_SADDLE_M = 0.092
BAR_HALF_WIDTH_M = 0.205
CRANK_OFFSET_M = 0.072  # crank arms from the middle plane

FRAME = rgb("#2e7d6b")
BLACK = rgb("#1b1c1f")
RUBBER = rgb("#111214")
TAPE = rgb("#26272b")
METAL = rgb("#9a9da3")
# Not black: black shorts on a black saddle look like one thing, and a hip is then hard to place.
SADDLE = rgb("#a5683c")
TRAINER = rgb("#3c4046")


def seat_tube_direction() -> Array:
    """(3,) unit vector from the crank axis up the seat tube."""
    slope = np.radians(SEAT_TUBE_DEG)
    return np.array([-np.cos(slope), np.sin(slope), 0.0])


def _side(z_m: float) -> Array:
    return np.array([0.0, 0.0, z_m])


def _frame(saddle_m: Array) -> list[Mesh]:
    """Tubes, fork and seat post; ``saddle_m`` is the top of the saddle under the sit bones."""
    crank = np.zeros(3)
    cluster = seat_tube_direction() * SEAT_CLUSTER_M
    parts = [
        tube([crank, cluster], 0.0165, FRAME, GLOSS),
        tube([crank, HEAD_BOTTOM], 0.021, FRAME, GLOSS),
        tube([cluster, HEAD_TOP], 0.016, FRAME, GLOSS),
        tube([HEAD_BOTTOM, HEAD_TOP], 0.021, FRAME, GLOSS),
        tube([cluster, saddle_m + [0.01, -0.045, 0.0]], 0.0135, BLACK),
    ]
    bend = 0.6 * HEAD_BOTTOM + 0.4 * FRONT_AXLE
    for z in (-0.055, 0.055):
        parts += [
            tube([_side(0.6 * z), REAR_AXLE + _side(z)], 0.009, FRAME, GLOSS),
            tube([cluster + _side(0.3 * z), REAR_AXLE + _side(z)], 0.008, FRAME, GLOSS),
            tube(
                [
                    HEAD_BOTTOM + [0.005, -0.02, 0.8 * z],
                    bend + _side(0.9 * z),
                    FRONT_AXLE + _side(z),
                ],
                [0.013, 0.012, 0.008],
                BLACK,
                GLOSS,
            ),
        ]
    return parts


def _saddle(saddle_m: Array) -> Mesh:
    """A saddle, wide behind and narrow in front."""
    along = np.linspace(0, 1, 14)
    half_width = np.interp(along, [0, 0.1, 0.35, 0.6, 1], [0.045, 0.068, 0.052, 0.026, 0.018])
    circle = np.linspace(0, 2 * np.pi, 17)
    forward = saddle_m[0] - 0.11 + 0.265 * along
    points = np.stack(
        [
            np.repeat(forward[:, None], 17, axis=1),
            saddle_m[1] - 0.018 + 0.018 * np.sin(circle) + 0.006 * np.cos(6 * along)[:, None],
            half_width[:, None] * np.cos(circle),
        ],
        axis=-1,
    ).reshape(-1, 3)
    normals = np.tile(np.stack([0 * circle, np.sin(circle), 0.6 * np.cos(circle)], 1), (14, 1))
    cell = np.arange(13 * 17).reshape(13, 17)[:, :-1].ravel()
    triangles = np.concatenate(
        [np.stack([cell, cell + 1, cell + 18], 1), np.stack([cell, cell + 18, cell + 17], 1)]
    )
    return make_mesh(points, normals, triangles, SADDLE)


def _handlebar(rider: Rider) -> list[Mesh]:
    """Stem, drop bar, hoods and levers where the rider's hands are."""
    wrist = rider.hoods_wrist_m
    clamp = np.array([wrist[0] - 0.065, wrist[1] - 0.047, 0.0])
    stem = np.array([0.392, max(clamp[1] + 0.012, 0.60), 0.0])
    half = _side(BAR_HALF_WIDTH_M)
    parts = [
        tube([HEAD_TOP, stem], 0.016, BLACK),
        tube([stem, clamp], 0.016, BLACK),
        tube([clamp - half, clamp + half], 0.0145, BLACK),
    ]
    drop = [(0, 0), (50, 2), (85, -20), (95, -60), (75, -105), (30, -130), (-50, -135)]
    hood = [(40, -5), (90, 4), (145, 20), (162, 50)]
    lever = [(152, 15), (155, -50), (130, -100)]
    for sign in SIDES.values():
        end = clamp + half * sign

        def path(profile_mm: list[tuple[int, int]], end: Array = end) -> list[Array]:
            return [end + np.array([x, y, 0.0]) / 1000 for x, y in profile_mm]

        parts += [
            tube(path(drop), 0.0155, TAPE),
            tube(path(hood), [0.016, 0.019, 0.018, 0.012], TAPE),
            tube(path(lever), [0.008, 0.007, 0.005], METAL),
        ]
    return parts


def _wheel(axle_m: Array) -> list[Mesh]:
    """Tyre, rim, hub and twenty spokes."""
    parts = [
        ring(axle_m, WHEEL_RADIUS_M - 0.013, 0.0135, RUBBER),
        ring(axle_m, WHEEL_RADIUS_M - 0.04, 0.014, rgb("#2a2b30"), GLOSS),
        disc(axle_m, 0.02, 0.10, METAL),
    ]
    for spoke in range(20):
        angle = 2 * np.pi * spoke / 20 + 0.1
        outward = np.array([np.cos(angle), np.sin(angle), 0.0])
        foot = axle_m + 0.02 * outward + _side(0.02 * (-1) ** spoke)
        rim = axle_m + (WHEEL_RADIUS_M - 0.05) * outward
        parts.append(tube([foot, rim], 0.0011, METAL, segments=4, capped=False))
    return parts


def _trainer() -> list[Mesh]:
    """A stand that holds the rear axle, its resistance unit, and a block for the front wheel."""
    foot_m = FLOOR_M + 0.02
    back, front = REAR_AXLE[0] - 0.27, REAR_AXLE[0] + 0.20
    parts = [
        tube([[back, foot_m, -0.27], [back, foot_m, 0.27]], 0.018, TRAINER),
        tube([[front, foot_m, -0.23], [front, foot_m, 0.23]], 0.018, TRAINER),
        tube([REAR_AXLE - _side(0.10), REAR_AXLE + _side(0.10)], 0.022, TRAINER),
        disc(np.array([REAR_AXLE[0] - 0.2, FLOOR_M + 0.12, 0.0]), 0.075, 0.16, rgb("#2b2d31")),
        box([FRONT_AXLE[0], foot_m, 0.0], [0.16, 0.02, 0.07], rgb("#2a2b2e")),
        disc(REAR_AXLE + _side(0.045), 0.045, 0.03, METAL),
    ]
    for sign in SIDES.values():
        hub = REAR_AXLE + _side(0.075 * sign)
        parts += [
            tube([hub, np.array([back, foot_m, 0.27 * sign])], 0.016, TRAINER),
            tube([hub, np.array([front, foot_m, 0.23 * sign])], 0.016, TRAINER),
        ]
    return parts


def still_parts(rider: Rider, saddle_shift_m: Array) -> Mesh:
    """Everything of bike and trainer that does not turn, the saddle moved from its fitted place."""
    saddle = rider.hip_m + [0.01, -HIP_ABOVE_SADDLE_M, 0.0] + saddle_shift_m
    return join(
        [
            *_frame(saddle),
            _saddle(saddle),
            *_handlebar(rider),
            *_wheel(FRONT_AXLE),
            *_wheel(REAR_AXLE),
            *_trainer(),
        ]
    )


def turning_parts(rider: Rider, right_crank_deg: float, sole_pitch_deg: dict[str, float]) -> Mesh:
    """Cranks, chain ring and pedals at a crank angle; pedals lie flat under the soles."""
    dark, bright = rgb("#2b2d31"), rgb("#b8bbc0")
    parts = [disc(_side(0.048), 0.10, 0.006, rgb("#3a3c40"))]
    for arm in range(5):
        angle = np.radians(right_crank_deg) + 2 * np.pi * arm / 5
        tip = np.array([0.085 * np.sin(angle), 0.085 * np.cos(angle), 0.053])
        parts.append(tube([_side(0.053), tip], 0.008, METAL, MATT, segments=8))
    for side, sign in SIDES.items():
        pedal = rider.pedal_m(right_crank_deg, side)
        axle = np.array([pedal[0], pedal[1], CRANK_OFFSET_M * sign])
        arm_path = [
            _side(0.75 * axle[2]),
            np.array([0.5, 0.5, 0.95]) * axle,
            axle,
        ]
        plate = box([0.0, 0.0, 0.0], [0.042, 0.008, 0.042], rgb("#1d1e20"))
        parts += [
            tube(arm_path, [0.017, 0.013, 0.012], dark, GLOSS),
            tube([axle, pedal + _side(0.03 * sign)], 0.009, bright),
            plate.moved(pitch(sole_pitch_deg[side]), pedal),
        ]
    return join(parts)


def pedal_pitches(rider: Rider, posture: Posture) -> dict[str, float]:
    """Toes-down angle of each sole in a posture, for the pedals."""
    return {
        side: rider.foot_pitch_at(
            rider.crank_angle_deg(posture.right_crank_deg, side),
            posture.foot_pitch_deg,
            posture.foot_swing_deg,
        )
        for side in SIDES
    }
