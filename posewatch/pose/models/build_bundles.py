"""Make the pose model bundles from the vendor's model files. Run by hand::

    python -m posewatch.pose.models.build_bundles PACKAGE [--heavy FOLDER]

PACKAGE is the archive (.tgz) of the registry package named below, or its unpacked folder. Every
input is checked against its SHA-256, and the same input gives the same bundles, byte for byte.

The vendor ships bare networks; the Tasks library wants a bundle whose networks say how a picture
is turned into numbers. That statement (``NormalizationOptions`` in TFLite model metadata) is put
in front of each network, whose own bytes stay as they are and keep their alignment.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import struct
import sys
import tarfile
import zipfile
from dataclasses import dataclass
from pathlib import Path

import flatbuffers  # type: ignore[import-untyped]
from mediapipe.tasks.metadata import metadata_schema_py_generated as metadata_schema
from mediapipe.tasks.metadata import schema_py_generated as model_schema

SOURCE_PACKAGE = "@mediapipe/pose"
SOURCE_VERSION = "0.5.1675469404"
LICENCE = "Apache-2.0"
TABLE_NAME = "bundles.json"

#: TFLite aligns constant data to 16 bytes (schema.fbs: ``data: [ubyte] (force_align: 16)``).
NETWORK_ALIGNMENT = 16
#: Where networks start inside the bundle; a whole cache line, a multiple of what TFLite wants.
BUNDLE_ALIGNMENT = 64
#: Bytes of a zip entry's local header before its name (.ZIP file format specification, 4.3.7).
LOCAL_HEADER_LENGTH = 30
#: Zip extra field for padding, as the Android zipalign tool writes it (number from memory).
PADDING_FIELD = 0xD935


@dataclass(frozen=True, slots=True)
class Network:
    """One of the vendor's files, and how it wants a colour value: (value - mean) / std."""

    file_name: str
    sha256: str
    mean: float
    std: float


#: The detector wants -1..1. In the package it is the only content of the packed assets.
DETECTOR = Network(
    "pose_solution_packed_assets.data",
    "a63c614bef30d35947f13be361820b1e4e3bec9cfeebf4d11216a18373108e85",
    127.5,
    127.5,
)
#: The landmark networks want 0..1.
LANDMARKS = {
    "lite": Network(
        "pose_landmark_lite.tflite",
        "f17bfbecadb61c3be1baa8b8d851cc6619c870a87167b32848ad20db306b9d61",
        0.0,
        255.0,
    ),
    "full": Network(
        "pose_landmark_full.tflite",
        "e9a5c5cb17f736fafd4c2ec1da3b3d331d6edbe8a0d32395855aeb2cdfd64b9f",
        0.0,
        255.0,
    ),
    "heavy": Network(
        "pose_landmark_heavy.tflite",
        "59e42d71bcd44cbdbabc419f0ff76686595fd265419566bd4009ef703ea8e1fe",
        0.0,
        255.0,
    ),
}
SHIPPED = ("lite", "full")


def read_network(package: Path, network: Network) -> bytes:
    """Read one of the vendor's files from the package archive or folder.

    Raises:
        ValueError: the file is missing or is not the one this script was written for.
    """
    if package.is_dir():
        found = [path.read_bytes() for path in package.rglob(network.file_name)]
    else:
        with tarfile.open(package) as archive:
            member = f"package/{network.file_name}"
            stream = archive.extractfile(member) if member in archive.getnames() else None
            found = [stream.read()] if stream else []
    if not found:
        raise ValueError(f"{network.file_name} is not in {package}.")
    digest = hashlib.sha256(found[0]).hexdigest()
    if digest != network.sha256:
        raise ValueError(f"{network.file_name} has SHA-256 {digest}, not {network.sha256}.")
    return found[0]


def picture_metadata(network: Network, outputs: list[str]) -> bytes:
    """Return TFLite model metadata: one RGB picture with its normalisation, and the outputs.

    outputs: the network's own names of its output tensors.
    """
    normalization = metadata_schema.NormalizationOptionsT()
    normalization.mean, normalization.std = [network.mean], [network.std]
    step = metadata_schema.ProcessUnitT()
    step.optionsType = metadata_schema.ProcessUnitOptions.NormalizationOptions
    step.options = normalization
    colour = metadata_schema.ImagePropertiesT()
    colour.colorSpace = metadata_schema.ColorSpaceType.RGB
    content = metadata_schema.ContentT()
    content.contentPropertiesType = metadata_schema.ContentProperties.ImageProperties
    content.contentProperties = colour
    picture = metadata_schema.TensorMetadataT()
    picture.name, picture.content, picture.processUnits = "image", content, [step]
    results = []
    for name in outputs:
        result = metadata_schema.TensorMetadataT()
        result.name = name
        results.append(result)
    graph = metadata_schema.SubGraphMetadataT()
    graph.inputTensorMetadata, graph.outputTensorMetadata = [picture], results
    model = metadata_schema.ModelMetadataT()
    model.name = network.file_name
    model.subgraphMetadata = [graph]
    model.minParserVersion = "1.0.0"
    builder = flatbuffers.Builder(0)
    builder.Finish(model.Pack(builder), b"M001")
    return bytes(builder.Output())


def with_metadata(original: bytes, network: Network) -> bytes:
    """Put a new root with picture metadata in front of a TFLite model.

    A flatbuffer grows from its end, so the vendor's bytes serve as the part already built: the
    new root refers to everything in them that the old root referred to.
    """
    if len(original) % NETWORK_ALIGNMENT:
        raise ValueError("The network's length is not a multiple of its alignment.")
    old = model_schema.Model.GetRootAsModel(original, 0)
    graph = old.Subgraphs(0)
    names = [graph.Tensors(graph.Outputs(i)).Name() for i in range(graph.OutputsLength())]
    metadata = picture_metadata(network, [name.decode() for name in names])

    space = 2 * len(metadata) + 4 * old.BuffersLength() + 4096
    space += -space % NETWORK_ALIGNMENT
    builder = flatbuffers.Builder(0)
    builder.Bytes = bytearray(space) + original
    builder.head = space
    builder.minalign = NETWORK_ALIGNMENT

    def from_end(position: int) -> int:
        return len(original) - position

    def child(field: int) -> int:
        """Where the old root's table, vector or string of this vtable slot is."""
        slot = old._tab.Offset(field)
        return from_end(old._tab.Indirect(slot + old._tab.Pos)) if slot else 0

    builder.StartVector(1, len(metadata), NETWORK_ALIGNMENT)
    builder.head -= len(metadata)
    builder.Bytes[builder.head : builder.head + len(metadata)] = metadata
    data = builder.EndVector()
    model_schema.BufferStart(builder)
    model_schema.BufferAddData(builder, data)
    buffer = model_schema.BufferEnd(builder)
    name = builder.CreateString("TFLITE_METADATA")
    model_schema.MetadataStart(builder)
    model_schema.MetadataAddName(builder, name)
    model_schema.MetadataAddBuffer(builder, old.BuffersLength())
    entry = model_schema.MetadataEnd(builder)

    def vector(old_tables: list[int], new_table: int) -> int:
        builder.StartVector(4, len(old_tables) + 1, 4)
        for table in reversed([*old_tables, new_table]):
            builder.PrependUOffsetTRelative(table)
        return int(builder.EndVector())

    old_buffers = [from_end(old.Buffers(i)._tab.Pos) for i in range(old.BuffersLength())]
    old_entries = [from_end(old.Metadata(i)._tab.Pos) for i in range(old.MetadataLength())]
    buffers = vector(old_buffers, buffer)
    entries = vector(old_entries, entry)
    model_schema.ModelStart(builder)
    model_schema.ModelAddVersion(builder, old.Version())
    model_schema.ModelAddOperatorCodes(builder, child(6))
    model_schema.ModelAddSubgraphs(builder, child(8))
    model_schema.ModelAddDescription(builder, child(10))
    model_schema.ModelAddBuffers(builder, buffers)
    model_schema.ModelAddMetadataBuffer(builder, child(14))
    model_schema.ModelAddMetadata(builder, entries)
    builder.Finish(model_schema.ModelEnd(builder), b"TFL3")
    made = bytes(builder.Output())
    if made[-len(original) :] != original or (len(made) - len(original)) % NETWORK_ALIGNMENT:
        raise ValueError("The network's own bytes would have moved.")
    return made


def write_bundle(path: Path, networks: dict[str, bytes]) -> None:
    """Write an uncompressed zip with fixed dates, networks aligned so that they can be mapped."""
    unfinished = path.with_suffix(".unfinished")
    with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_STORED) as bundle:
        for name, network in networks.items():
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            used = bundle.start_dir + LOCAL_HEADER_LENGTH + len(name) + 4
            padding = -used % BUNDLE_ALIGNMENT
            entry.extra = struct.pack("<HH", PADDING_FIELD, padding) + bytes(padding)
            bundle.writestr(entry, network)
    os.replace(unfinished, path)


def build(package: Path, name: str, folder: Path) -> dict[str, object]:
    """Make one bundle in ``folder``; return its row of the table of bundles."""
    landmarks = LANDMARKS[name]
    path = folder / f"{name}.task"
    write_bundle(
        path,
        {
            "pose_detector.tflite": with_metadata(read_network(package, DETECTOR), DETECTOR),
            "pose_landmarks_detector.tflite": with_metadata(
                read_network(package, landmarks), landmarks
            ),
        },
    )
    data = path.read_bytes()
    sha256 = hashlib.sha256(data).hexdigest()
    sys.stdout.write(f"{sha256}  {len(data)}  {path.name}\n")
    inputs = {network.file_name: network.sha256 for network in (DETECTOR, landmarks)}
    return {"file": path.name, "size_bytes": len(data), "sha256": sha256, "inputs_sha256": inputs}


def main() -> None:
    """Build what was asked for; write the table of shipped bundles beside this script."""
    parser = argparse.ArgumentParser(description="Make the pose model bundles.")
    parser.add_argument("package", type=Path, help=f"{SOURCE_PACKAGE} {SOURCE_VERSION}, archive")
    parser.add_argument("--heavy", type=Path, metavar="FOLDER", help="only heavy, into FOLDER")
    asked = parser.parse_args()
    if asked.heavy:
        build(asked.package, "heavy", asked.heavy)
        return
    here = Path(__file__).parent
    table = {
        "source": {"package": SOURCE_PACKAGE, "version": SOURCE_VERSION, "licence": LICENCE},
        "bundles": {name: build(asked.package, name, here) for name in SHIPPED},
    }
    (here / TABLE_NAME).write_text(json.dumps(table, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
