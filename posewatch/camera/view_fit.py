"""Least squares over a view of the bike: the best values, and what they leave in doubt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from posewatch.core.bike_setup import SetupSpread, scale_mm_per_px
from posewatch.core.plane import BikeView, Lens, view_from_angles
from posewatch.core.records import FloatArray, Side

#: The view's own numbers in front of all others: x, y, z in mm; yaw, pitch, roll in degrees.
N_VIEW = 6
YAW = 3
#: About how far these may have to go from where a fit begins.
VIEW_SIZES = (100.0, 100.0, 100.0, 5.0, 5.0, 5.0)
#: A fit takes ten steps or so; what is no view of a bike may never settle.
MOST_STEPS = 60
#: Steps of numerical slopes, in standard deviations.
SLOPE_STEP_SD = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class ViewFit:
    """values: (n,), the view's six numbers first. covariance: (n, n), of these values.

    half_chi2: half the sum of squared residuals. settled: no further step would have helped.
    """

    values: FloatArray
    covariance: FloatArray
    half_chi2: float
    settled: bool


def view_of(side: Side, values: FloatArray) -> BikeView:
    """Return the view of the first six values."""
    x, y, z, yaw, pitch, roll = (float(v) for v in values[:N_VIEW])
    return view_from_angles(side, (x, y, z), yaw, pitch, roll)


def start_view(
    lens: Lens, side: Side, crank_px: FloatArray, depth_mm: float, reach_mm: float
) -> list[float]:
    """Return six numbers of a square camera that sees the crank axis at that place.

    depth_mm: the seen point's distance from the bike's middle plane. reach_mm: from the camera to
    the plane through it.
    """
    ahead = 1.0 if side is Side.RIGHT else -1.0
    x = -ahead * (crank_px[0] - lens.cx_px) / lens.fx_px * reach_mm
    y = (crank_px[1] - lens.cy_px) / lens.fy_px * reach_mm
    return [float(x), float(y), depth_mm + reach_mm, 0.0, 0.0, 0.0]


def fit_view(
    residuals: Callable[[FloatArray], FloatArray], start: FloatArray, other_sizes: list[float]
) -> ViewFit:
    """Find the values with the least sum of squared residuals (each in standard deviations).

    other_sizes: about how far the values after the view's may have to go. Sizes taken from the
    slopes at a square camera would do harm: there, turning it seems to change next to nothing.

    The covariance is the inverse of the squared Jacobian, enlarged where the residuals are larger
    than their standard deviations promised, never reduced.
    """
    found = least_squares(
        residuals, start, x_scale=[*VIEW_SIZES, *other_sizes], max_nfev=MOST_STEPS
    )
    jacobian = np.asarray(found.jac, np.float64)
    size = np.linalg.norm(jacobian, axis=0)
    size[size == 0] = 1.0
    inverse = np.linalg.pinv((jacobian / size).T @ (jacobian / size)) / np.outer(size, size)
    n_free = len(found.fun) - len(found.x)
    misfit = max(1.0, 2.0 * float(found.cost) / n_free) if n_free > 0 else 1.0
    values = np.asarray(found.x, np.float64)
    return ViewFit(values, inverse * misfit, float(found.cost), found.status > 0)


def spread_of(lens: Lens, side: Side, fit: ViewFit) -> SetupSpread:
    """Return the standard deviations of a fit's scale, angles and distance."""
    steps = SLOPE_STEP_SD * np.sqrt(np.diag(fit.covariance)[:N_VIEW])

    def scale(values: FloatArray) -> float:
        return scale_mm_per_px(lens, view_of(side, values))

    slope = np.zeros(N_VIEW)
    for k, step in enumerate(steps):
        move = np.zeros(N_VIEW)
        move[k] = step
        up, down = fit.values[:N_VIEW] + move, fit.values[:N_VIEW] - move
        slope[k] = (scale(up) - scale(down)) / (2.0 * step) if step else 0.0
    block = fit.covariance[:N_VIEW, :N_VIEW]
    _, _, z, yaw, pitch, roll = np.sqrt(np.diag(block)).tolist()
    return SetupSpread(float(np.sqrt(slope @ block @ slope)), yaw, pitch, roll, z)
