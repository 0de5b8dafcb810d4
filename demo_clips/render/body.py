"""The body mesh and its joints in the rest pose, as ``body.npz`` keeps them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from demo_clips.render.body_data import BODY_FILE, POSED_BONES, VERTEX_STEP_M, WEIGHT_STEPS

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Body:
    """One body in its rest pose, facing x, standing along y, metres.

    Attributes:
        vertices_m: (V, 3) skin and eye vertices.
        triangles: (T, 3) vertex indices.
        is_eye: (V,) True for the vertices of the eyeballs.
        weights: (V, B) sparse share of each posed bone in each vertex; rows sum to one.
        bones: the B posed bones, every parent before its children.
        parents: bone name to parent name; empty for the root. Holds unposed landmarks too.
        joints_m: bone name to (3,) joint at the bone's head. Holds unposed landmarks too.
        provenance: source, licence and sha256 of the wheel the data came from.
    """

    vertices_m: Array
    triangles: NDArray[np.int32]
    is_eye: NDArray[np.bool_]
    weights: sparse.csr_matrix
    bones: tuple[str, ...]
    parents: dict[str, str]
    joints_m: dict[str, Array]
    provenance: dict[str, str]

    def length_m(self, first: str, second: str) -> float:
        """Distance between two joints in metres."""
        return float(np.linalg.norm(self.joints_m[first] - self.joints_m[second]))

    def share(self, *prefixes: str) -> Array:
        """(V,) how much of each vertex moves with the bones whose names start so, 0 to 1."""
        columns = [i for i, bone in enumerate(self.bones) if bone.startswith(prefixes)]
        summed: Array = np.asarray(self.weights[:, columns].sum(axis=1), dtype=float).ravel()
        return summed

    def on_side(self, side: str) -> NDArray[np.bool_]:
        """(V,) True for vertices of the right ("R") or left ("L") half of the body."""
        right = self.vertices_m[:, 2] > 0
        return right if side == "R" else ~right

    @property
    def floor_m(self) -> float:
        """Height of the soles in the rest pose."""
        return float(self.vertices_m[:, 1].min())


@cache
def load_body() -> Body:
    """Read ``body.npz``."""
    with np.load(BODY_FILE, allow_pickle=False) as data:
        names = [str(name) for name in data["joint_names"]]
        index, share = data["bone_index"], data["bone_weight"] / WEIGHT_STEPS
        rows = np.repeat(np.arange(len(index)), index.shape[1])
        weights = sparse.csr_matrix(
            (share.ravel(), (rows, index.ravel())), shape=(len(index), len(POSED_BONES))
        )
        weights.eliminate_zeros()
        return Body(
            vertices_m=data["vertices"] * VERTEX_STEP_M,
            triangles=data["triangles"].astype(np.int32),
            is_eye=data["is_eye"],
            weights=weights,
            bones=POSED_BONES,
            parents=dict(zip(names, (str(p) for p in data["joint_parents"]), strict=True)),
            joints_m=dict(zip(names, data["joint_m"], strict=True)),
            provenance=json.loads(str(data["provenance"])),
        )
