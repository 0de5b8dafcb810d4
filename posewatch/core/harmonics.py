"""Curves over the crank circle as a mean and a few harmonics."""

from __future__ import annotations

import numpy as np

from posewatch.core.records import FloatArray


def basis(angle_rad: FloatArray, order: int) -> FloatArray:
    """Return the columns 1, cos t, sin t, cos 2t, sin 2t ... as (n, 1 + 2 order) float64."""
    angle_rad = np.asarray(angle_rad, np.float64)
    columns = np.empty((angle_rad.shape[0], 1 + 2 * order))
    columns[:, 0] = 1.0
    turns = np.outer(angle_rad, np.arange(1, order + 1))
    columns[:, 1::2] = np.cos(turns)
    columns[:, 2::2] = np.sin(turns)
    return columns


def fit(angle_rad: FloatArray, values: FloatArray, order: int) -> FloatArray:
    """Return least-squares coefficients in the order of :func:`basis`.

    values: (n,) or (n, m) float64, finite. The result is (1 + 2 order,) or (1 + 2 order, m).

    Raises:
        ValueError: fewer samples than coefficients.
    """
    if len(angle_rad) < 1 + 2 * order:
        raise ValueError(f"{len(angle_rad)} samples cannot carry {order} harmonics")
    coefficients, *_ = np.linalg.lstsq(basis(angle_rad, order), values, rcond=None)
    return np.asarray(coefficients, np.float64)


def evaluate(coefficients: FloatArray, angle_rad: FloatArray) -> FloatArray:
    """Return the curve at the given angles: (n,) or (n, m) as the coefficients are."""
    order = (len(coefficients) - 1) // 2
    return basis(np.atleast_1d(angle_rad), order) @ coefficients
