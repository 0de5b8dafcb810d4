"""The shipped clips: all there, short and small enough, at a constant rate from zero."""

from pathlib import Path

import pytest

from demo_clips.render.clips import CLIPS

FOLDER = Path(__file__).parents[2] / "demo_clips"
ALL_CLIPS_S = 850
ALL_CLIPS_BYTES = 45 * 1000 * 1000


def test_every_scene_is_shipped_and_nothing_else():
    expected = {f"{scene.name}.mp4" for scene in CLIPS}
    assert {path.name for path in FOLDER.glob("*.mp4")} == expected
    assert {path.name for path in FOLDER.glob("*.truth.csv")} == {
        name.replace(".mp4", ".truth.csv") for name in expected
    }


def test_together_they_stay_within_the_agreed_length_and_size():
    assert sum(scene.duration_s for scene in CLIPS) <= ALL_CLIPS_S
    assert sum(path.stat().st_size for path in FOLDER.glob("*.mp4")) <= ALL_CLIPS_BYTES


@pytest.mark.parametrize("scene", CLIPS, ids=lambda scene: scene.name)
def test_clips_have_constant_presentation_times_from_zero(scene):
    av = pytest.importorskip("av", reason="reading packet times needs the extra 'clips'")
    with av.open(str(FOLDER / f"{scene.name}.mp4")) as container:
        stream = container.streams.video[0]
        size = (stream.width, stream.height, stream.pix_fmt)
        packets = [packet for packet in container.demux(stream) if packet.pts is not None]
        times = [float(packet.pts * stream.time_base) for packet in packets]
    assert size == (640, 480, "yuv420p")
    assert sorted(times) == pytest.approx(
        [n / scene.frames_per_s for n in range(scene.frame_count)]
    )
