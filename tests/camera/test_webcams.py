"""Webcams by stable id, name and number, from what the system lists."""

from __future__ import annotations

import platform
from pathlib import Path

import cv2_enumerate_cameras
import pytest
from cv2_enumerate_cameras import CameraInfo

from posewatch.camera import webcams
from posewatch.camera.opencv import cv2
from posewatch.camera.webcams import Webcam, find_webcam, list_webcams
from posewatch.errors import BadInput

DESK = Webcam("Desk camera", "/dev/v4l/by-id/usb-desk-index0", 0, cv2.CAP_V4L2)
SIDE = Webcam("Side camera 2", "/dev/v4l/by-id/usb-side-index0", 2, cv2.CAP_V4L2)


def listing(monkeypatch: pytest.MonkeyPatch, system: str, *infos: CameraInfo) -> None:
    """Let the system list these."""

    def enumerate_cameras(backend: int) -> list[CameraInfo]:
        return [info for info in infos if info.backend == backend]

    monkeypatch.setattr(cv2_enumerate_cameras, "enumerate_cameras", enumerate_cameras)
    monkeypatch.setattr("platform.system", lambda: system)


@pytest.fixture
def devices(tmp_path: Path) -> Path:
    """Two devices: /by-id has the first, /by-path both."""
    for node in ("video0", "video2"):
        (tmp_path / node).touch()
    for kind, links in {"by-id": ["video0"], "by-path": ["video0", "video2"]}.items():
        (tmp_path / "v4l" / kind).mkdir(parents=True)
        for node in links:
            (tmp_path / "v4l" / kind / f"usb-{node}").symlink_to(tmp_path / node)
    return tmp_path


def v4l2(devices: Path, number: int, name: str, product: int = 1) -> CameraInfo:
    path = str(devices / f"video{number}")
    return CameraInfo(number, name, path, 0x1234, product, cv2.CAP_V4L2)


def test_linux_links_are_the_ids(devices: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    listing(monkeypatch, "Linux", v4l2(devices, 2, "Side", 2), v4l2(devices, 0, "Desk"))
    links = devices / "v4l"
    assert list_webcams(links) == (
        Webcam("Desk", str(links / "by-id" / "usb-video0"), 0, cv2.CAP_V4L2),
        Webcam("Side", str(links / "by-path" / "usb-video2"), 2, cv2.CAP_V4L2),
    )


def test_two_alike_are_told_apart_by_their_place(
    devices: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """They share one id, which is whichever was plugged in last."""
    listing(monkeypatch, "Linux", v4l2(devices, 0, "Twin"), v4l2(devices, 2, "Twin"))
    found = [Path(one.stable_id) for one in list_webcams(devices / "v4l")]
    assert [(path.parent.name, path.name) for path in found] == [
        ("by-path", "usb-video0"),
        ("by-path", "usb-video2"),
    ]


def test_without_links_the_device_itself_is_the_id(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    listing(monkeypatch, "Linux", v4l2(tmp_path, 0, "Desk"))
    assert list_webcams(tmp_path / "none")[0].stable_id == str(tmp_path / "video0")


def test_a_camera_of_two_back_ends_is_listed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    r"""Windows ends a device's path with the interface class, which the back-ends differ in.

    The form \\?\usb#vid_...#...#{class}\global is from memory.
    """
    path = r"\\?\usb#vid_1234&pid_0001&mi_00#7&1b2c&0&0000"
    listing(
        monkeypatch,
        "Windows",
        CameraInfo(0, "Desk", path + r"#{e5323777}\global", 0x1234, 1, cv2.CAP_MSMF),
        CameraInfo(0, "Desk", path + r"#{65e8773d}\global", 0x1234, 1, cv2.CAP_DSHOW),
        CameraInfo(1, "Virtual", "", None, None, cv2.CAP_DSHOW),
    )
    assert list_webcams() == (
        Webcam("Desk", path, 0, cv2.CAP_MSMF),
        Webcam("Virtual", "Virtual", 1, cv2.CAP_DSHOW),
    )


def test_vendor_and_product_stand_in_for_a_path(monkeypatch: pytest.MonkeyPatch) -> None:
    info = CameraInfo(0, "Desk", None, 0x1234, 0xAB, cv2.CAP_AVFOUNDATION)
    listing(monkeypatch, "Darwin", info)
    assert list_webcams()[0].stable_id == "1234:00ab"


def test_listing_never_raises(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: int) -> list[CameraInfo]:
        raise OSError("no bus")

    listing(monkeypatch, "Linux")
    monkeypatch.setattr(cv2_enumerate_cameras, "enumerate_cameras", fail)
    assert list_webcams() == ()
    monkeypatch.setattr("platform.system", lambda: "Plan 9")
    assert list_webcams() == ()


def test_this_machine_can_be_asked() -> None:
    for one in list_webcams():
        assert one.stable_id
        assert one.backend in webcams.BACKENDS[platform.system()]


@pytest.mark.parametrize(
    ("word", "found"),
    [
        ("/dev/v4l/by-id/usb-side-index0", SIDE),
        ("side CAMERA 2", SIDE),
        ("desk", DESK),
        ("0", DESK),
        ("2", SIDE),
    ],
)
def test_a_camera_is_found_by_id_name_or_number(word: str, found: Webcam) -> None:
    assert find_webcam(word, (DESK, SIDE)) == found


def test_id_goes_before_name_and_name_before_number() -> None:
    by_id = Webcam("x", "2", 5, cv2.CAP_V4L2)
    by_name = Webcam("2", "y", 6, cv2.CAP_V4L2)
    assert find_webcam("2", (SIDE, by_name, by_id)) == by_id
    assert find_webcam("2", (SIDE, by_name)) == by_name
    assert find_webcam("2", (by_name, SIDE)) == by_name


def test_another_path_to_the_same_device_is_its_id(devices: Path) -> None:
    link = devices / "v4l" / "by-id" / "usb-video0"
    one = Webcam("Desk", str(link), 0, cv2.CAP_V4L2)
    assert find_webcam(str(devices / "video0"), (one,)) == one
    with pytest.raises(BadInput):
        find_webcam(str(devices / "video2"), (one,))


def test_what_is_not_there_is_answered_with_what_is() -> None:
    with pytest.raises(BadInput) as error:
        find_webcam("7", (DESK, SIDE))
    assert "There is no camera 7." in str(error.value)
    assert "0: Desk camera (/dev/v4l/by-id/usb-desk-index0); 2: Side camera 2" in str(error.value)
    with pytest.raises(BadInput, match="No camera is plugged in"):
        find_webcam("", ())
    with pytest.raises(BadInput, match="Several cameras are called 'camera'"):
        find_webcam("camera", (DESK, SIDE))
    twin = Webcam("Desk camera", "usb-2", 4, cv2.CAP_V4L2)
    with pytest.raises(BadInput, match=r"4: Desk camera \(usb-2\)\. Give the id in brackets"):
        find_webcam("Desk camera", (DESK, twin))
