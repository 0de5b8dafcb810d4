"""Solid shapes as triangle meshes with normals, colours and a material, and how to join them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

# Materials, as the shader knows them.
MATT, GLOSS, WALL, BOARDS, LIT, SKIN, CLOTH, PRINT = range(8)


def rgb(code: str) -> Array:
    """(3,) red, green, blue from 0 to 1 of a colour code such as "#1f66b0"."""
    return np.array([int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)])


@dataclass(frozen=True)
class Mesh:
    """Triangles in the bike frame.

    Attributes:
        points_m: (V, 3) vertices.
        normals: (V, 3) unit normals.
        triangles: (T, 3) vertex indices.
        colours: (V, 3) red, green, blue from 0 to 1.
        materials: (V,) material of each vertex.
        garments_m: (V, 3) distance inside the jersey, shorts and socks; negative outside.
        places_m: (V, 3) place on the surface, for patterns; zero where there is none. On a leg:
            down from the hip joint, forward and outward of the leg's axis. On a print: shares of
            its picture from the left and from the top.
    """

    points_m: Array
    normals: Array
    triangles: NDArray[np.int32]
    colours: Array
    materials: Array
    garments_m: Array
    places_m: Array

    def moved(self, rotation: Array, shift_m: Array) -> Mesh:
        """The mesh turned about the origin and then shifted."""
        return replace(
            self,
            points_m=self.points_m @ rotation.T + shift_m,
            normals=self.normals @ rotation.T,
        )

    def mirrored(self) -> Mesh:
        """The mesh with left and right exchanged."""
        flip = np.array([1.0, 1.0, -1.0])
        return replace(
            self,
            points_m=self.points_m * flip,
            normals=self.normals * flip,
            triangles=self.triangles[:, ::-1],
        )


def make_mesh(
    points_m: ArrayLike,
    normals: ArrayLike,
    triangles: ArrayLike,
    colour: ArrayLike,
    material: int = MATT,
) -> Mesh:
    """A mesh of one colour (or one colour a vertex) and one material, without garments.

    Triangles are turned so that their corners run counter-clockwise seen from outside, where the
    normals point: only those are drawn.
    """
    points, facing = np.asarray(points_m, dtype=float), np.asarray(normals, dtype=float)
    corners = np.array(triangles, dtype=np.int32)
    first, second, third = (points[corners[:, corner]] for corner in range(3))
    across = np.cross(second - first, third - first)
    inward = np.einsum("ti,ti->t", across, facing[corners].sum(axis=1)) < 0
    corners[inward] = corners[inward][:, ::-1]
    count = len(points)
    return Mesh(
        points,
        facing,
        corners,
        np.broadcast_to(np.asarray(colour, dtype=float), (count, 3)),
        np.full(count, float(material)),
        np.full((count, 3), -1.0),
        np.zeros((count, 3)),
    )


def join(meshes: Iterable[Mesh]) -> Mesh:
    """All meshes as one."""
    parts = list(meshes)
    offsets = np.cumsum([0] + [len(part.points_m) for part in parts[:-1]])
    return Mesh(
        np.concatenate([part.points_m for part in parts]),
        np.concatenate([part.normals for part in parts]),
        np.concatenate(
            [part.triangles + offset for part, offset in zip(parts, offsets, strict=True)]
        ).astype(np.int32),
        np.concatenate([part.colours for part in parts]),
        np.concatenate([part.materials for part in parts]),
        np.concatenate([part.garments_m for part in parts]),
        np.concatenate([part.places_m for part in parts]),
    )


def vertex_normals(points: Array, triangles: NDArray[np.int32]) -> Array:
    """(V, 3) unit normals: the area-weighted mean of the triangles around each vertex."""
    first, second, third = (points[triangles[:, corner]] for corner in range(3))
    facing = np.cross(second - first, third - first)
    summed = np.stack(
        [
            sum(np.bincount(triangles[:, c], facing[:, axis], len(points)) for c in range(3))
            for axis in range(3)
        ],
        axis=1,
    )
    unit: Array = summed / np.maximum(np.linalg.norm(summed, axis=1, keepdims=True), 1e-12)
    return unit


def _grid_triangles(rows: int, columns: int, wrap: bool) -> NDArray[np.int32]:
    """Two triangles for each cell of a grid of vertices numbered row by row."""
    row, column = np.meshgrid(
        np.arange(rows - 1), np.arange(columns if wrap else columns - 1), indexing="ij"
    )
    a = row * columns + column
    b = row * columns + (column + 1) % columns
    pairs = np.stack([a, b, b + columns, a, b + columns, a + columns], axis=-1)
    return pairs.reshape(-1, 3).astype(np.int32)


def tube(
    path_m: ArrayLike,
    radius_m: float | Sequence[float],
    colour: ArrayLike,
    material: int = MATT,
    segments: int = 14,
    capped: bool = True,
) -> Mesh:
    """A round tube along a path of points, with one radius or one a point."""
    path = np.asarray(path_m, dtype=float)
    radii = np.broadcast_to(np.asarray(radius_m, dtype=float), len(path))
    along = np.gradient(path, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.array([0.0, 0.0, 1.0]) if abs(along[0][2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    circle = np.linspace(0, 2 * np.pi, segments, endpoint=False)
    normals = []
    for direction in along:
        across = across - direction * (across @ direction)
        across /= np.linalg.norm(across)
        third = np.cross(direction, across)
        normals.append(np.cos(circle)[:, None] * across + np.sin(circle)[:, None] * third)
    rings = [p + r * n for p, r, n in zip(path, radii, normals, strict=True)]
    wall = make_mesh(
        np.concatenate(rings),
        np.concatenate(normals),
        _grid_triangles(len(path), segments, wrap=True),
        colour,
        material,
    )
    if not capped:
        return wall
    fan = [(0, 1 + j, 1 + (j + 1) % segments) for j in range(segments)]
    caps = [
        make_mesh(
            np.vstack([path[end], rings[end]]),
            np.tile(facing, (segments + 1, 1)),
            fan,
            colour,
            material,
        )
        for end, facing in ((0, -along[0]), (-1, along[-1]))
    ]
    return join([wall, *caps])


def ring(
    centre_m: Array, radius_m: float, thickness_m: float, colour: ArrayLike, material: int = MATT
) -> Mesh:
    """A torus in the plane of the bike."""
    angle = np.linspace(0, 2 * np.pi, 65)
    path = centre_m + radius_m * np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    return tube(path, thickness_m, colour, material, segments=10, capped=False)


def disc(
    centre_m: Array, radius_m: float, width_m: float, colour: ArrayLike, material: int = MATT
) -> Mesh:
    """A flat cylinder with its axis across the bike."""
    half = np.array([0.0, 0.0, width_m / 2])
    return tube([centre_m - half, centre_m + half], radius_m, colour, material, segments=40)


def ellipsoid(
    centre_m: ArrayLike,
    radii_m: ArrayLike,
    colour: ArrayLike,
    material: int = MATT,
    lowest: float = -1.0,
) -> Mesh:
    """An ellipsoid with upright axes, cut off below ``lowest`` (-1 whole .. 0 upper half)."""
    columns, rows = 41, 21
    around, up = np.meshgrid(
        np.linspace(0, 2 * np.pi, columns), np.linspace(np.arcsin(lowest), np.pi / 2, rows)
    )
    sphere = np.stack([np.cos(up) * np.cos(around), np.sin(up), np.cos(up) * np.sin(around)], -1)
    sphere = sphere.reshape(-1, 3)
    normals = sphere / np.asarray(radii_m)
    return make_mesh(
        sphere * radii_m + np.asarray(centre_m),
        normals / np.linalg.norm(normals, axis=1, keepdims=True),
        _grid_triangles(rows, columns, wrap=False),
        colour,
        material,
    )


def box(centre_m: ArrayLike, half_m: ArrayLike, colour: ArrayLike, material: int = MATT) -> Mesh:
    """A box along the axes, from its centre and half sizes."""
    half = np.asarray(half_m, dtype=float)
    faces = []
    for axis in range(3):
        second, third = (axis + 1) % 3, (axis + 2) % 3
        for sign in (-1.0, 1.0):
            corners = np.zeros((4, 3))
            corners[:, axis] = sign * half[axis]
            corners[:, second] = half[second] * np.array([-1, 1, 1, -1])
            corners[:, third] = half[third] * np.array([-1, -1, 1, 1])
            normal = np.zeros(3)
            normal[axis] = sign
            faces.append(
                make_mesh(
                    corners + np.asarray(centre_m),
                    np.tile(normal, (4, 1)),
                    [(0, 1, 2), (0, 2, 3)],
                    colour,
                    material,
                )
            )
    return join(faces)


def printed_sheet(middle_m: ArrayLike, right_m: ArrayLike, up_m: ArrayLike) -> Mesh:
    """A flat sheet showing the renderer's picture on the side to which right x up points.

    Args:
        middle_m: (3,) its middle.
        right_m: (3,) from the middle to the middle of its right edge.
        up_m: (3,) from the middle to the middle of its upper edge.
    """
    middle, right, up = (np.asarray(v, dtype=float) for v in (middle_m, right_m, up_m))
    facing = np.cross(right, up)
    sheet = make_mesh(
        middle + np.array([-right - up, right - up, right + up, up - right]),
        np.tile(facing / np.linalg.norm(facing), (4, 1)),
        [(0, 1, 2), (0, 2, 3)],
        np.ones(3),
        PRINT,
    )
    return replace(sheet, places_m=np.array([[0, 1, 0], [1, 1, 0], [1, 0, 0], [0, 0, 0]], float))
