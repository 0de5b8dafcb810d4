"""Landmarks of a rider in profile, by the size of a head and a trunk.

From memory of published body measures: nose to ear some 12 cm, chin to crown 23 cm, shoulder to hip
50 cm.
"""

from __future__ import annotations

import numpy as np

from posewatch.core.records import Frame

#: A profile, in cm from the ear, x to where it looks, y down: nose, eyes (three points each), ears,
#: mouth; the sides of the face lie over each other.
PROFILE_CM = [
    *((12.0, 3.0), (10.0, -1.0), (9.5, -1.0), (9.0, -1.0), (10.0, -1.0), (9.5, -1.0), (9.0, -1.0)),
    *((0.0, 0.0), (0.0, 0.0), (10.0, 7.0), (10.0, 7.0)),
]


def head_frame(
    t_ns: int = 0, ear: tuple[float, float] = (300.0, 120.0), px_per_cm: float = 2.0
) -> Frame:
    """A rider in profile whose ear is there; the hip is 50 cm from the shoulder."""
    points = np.full((33, 2), 200.0)
    points[:11] = np.asarray(ear) + px_per_cm * np.asarray(PROFILE_CM)
    points[11:13] = np.asarray(ear) + px_per_cm * np.array([-15.0, 20.0])
    points[23:25] = points[11:13] + px_per_cm * np.array([-40.0, 30.0])
    return Frame(t_ns, points, np.ones(33), np.ones(33))


def nobody(t_ns: int) -> Frame:
    return Frame(t_ns, np.full((33, 2), np.nan), np.zeros(33), np.zeros(33))
