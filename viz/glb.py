"""A GLB file (glTF 2.0, binary) of named nodes that may move and change shape.

Everything is given as the rest of the program has it, in mm with x forward, y left, z up; the file is in metres with
x left, y up, z forward.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import count
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array
from model.triangles import Faces
from viz import style
from viz.glbcontainer import (
    BYTE,
    ELEMENT_ARRAY_BUFFER,
    FLOAT,
    SHORT,
    UNSIGNED_INT,
    UNSIGNED_SHORT,
    Buffer,
    packed,
)

METRE = 1000.0
# Index 65535 is kept for a restart by the specification.
MOST_SHORT_INDICES = 65535
# Vectors in mm are rounded to this many decimals, so that equal parts are equal to the last bit and are written once.
DECIMALS = 4
SMALLEST, LARGEST = 127, 32767

# The name of a material and how it looks.
Paint = tuple[str, style.Finish]


@dataclass(frozen=True)
class Surface:
    """Triangles of one paint in the frame of their node.

    points (n, 3) in mm; faces (m, 3); unit normals (n, 3), or None for flat shading. To change shape, each of T weights
    adds its share of shifts (T, n, 3) in mm to the points and of turns (T, n, 3) to the normals.
    """

    paint: Paint
    points: Array
    faces: Faces
    normals: Array | None = None
    shifts: Array | None = None
    turns: Array | None = None


@dataclass(frozen=True)
class Node:
    """A frame with what is drawn in it.

    translation (3,) in mm and rotation (4,), a unit quaternion x, y, z, w, are from its parent. `children` are numbers
    of other nodes; one that is nobody's child hangs on the file's root. All surfaces of a node have the same T shapes;
    weights (T,) are what they start with.
    """

    name: str
    surfaces: tuple[Surface, ...] = ()
    translation: Array = field(default_factory=lambda: np.zeros(3))
    rotation: Array = field(default_factory=lambda: np.array([0.0, 0.0, 0.0, 1.0]))
    children: tuple[int, ...] = ()
    weights: Array | None = None


class Path(StrEnum):
    """What of a node a channel moves."""

    TRANSLATION = "translation"
    ROTATION = "rotation"
    WEIGHTS = "weights"


@dataclass(frozen=True)
class Channel:
    """One motion of one node, linear between times (K,) in s.

    values are (K, 3) in mm, quaternions (K, 4) or weights (K, T).
    """

    node: int
    path: Path
    times: Array
    values: Array


@dataclass(frozen=True)
class Animation:
    """Motions that run together under one name."""

    name: str
    channels: tuple[Channel, ...]


def to_gltf(vectors: Array) -> Array:
    """Vectors (..., 3) or quaternions (..., 4) from x forward, y left, z up to x left, y up, z forward."""
    order = [1, 2, 0, 3] if vectors.shape[-1] == 4 else [1, 2, 0]
    return vectors[..., order]


def glb_bytes(
    title: str, nodes: Sequence[Node], animations: Sequence[Animation] = (), *, quantised: bool = False
) -> bytes:
    """The bytes of a GLB file.

    Equal data are written once. Number k of `nodes` is node k of the file; the root, named `title`, comes after them.
    Each has a name of its own: of those that share one, all but the first have a number behind it.

    Args:
        title: of the file's only scene.
        nodes: what stands in it.
        animations: how it moves.
        quantised: write points as 16-bit and normals as 8-bit numbers (KHR_mesh_quantization): half the size, to a
            65,000th of each node's extent. Surfaces (and with them weights) then are on a nameless only-child of
            their node, after the root.

    """
    return _File(quantised).whole(title, nodes, animations)


def told_apart(names: Sequence[str]) -> list[str]:
    """Names, with a number behind all but the first of those that are alike: "propshaft", "propshaft 2"."""
    taken, seen, own = set(names), set[str](), []
    for name in names:
        fresh = name
        if name in seen:
            fresh = next(each for number in count(2) if (each := f"{name} {number}") not in taken)
            taken.add(fresh)
        seen.add(name)
        own.append(fresh)
    return own


class _File:
    """One file as it is put together."""

    def __init__(self, quantised: bool) -> None:
        self.quantised = quantised
        self.buffer = Buffer()
        self.meshes: dict[str, int] = {}
        self.paints: dict[Paint, int] = {}

    def whole(self, title: str, nodes: Sequence[Node], animations: Sequence[Animation]) -> bytes:
        *names, root_name = told_apart([*(node.name for node in nodes), title])
        nodes = [replace(node, name=name) for node, name in zip(nodes, names, strict=True)]
        records = [self._node(node) for node in nodes]
        carriers: list[dict[str, Any]] = []
        held: dict[int, int] = {}
        for number, node in enumerate(nodes):
            if not node.surfaces:
                continue
            scale = self._scale(node)
            carrier: dict[str, Any] = {"mesh": self._mesh(node, scale)}
            if node.weights is not None and np.any(node.weights):
                carrier["weights"] = [float(weight) for weight in node.weights]
            if self.quantised:
                held[number] = len(nodes) + 1 + len(carriers)
                carriers.append(carrier | {"scale": [scale / METRE] * 3})
                records[number].setdefault("children", []).append(held[number])
            else:
                held[number] = number
                records[number] |= carrier
        children = {child for node in nodes for child in node.children}
        root = {"name": root_name, "children": [k for k in range(len(nodes)) if k not in children]}
        document: dict[str, Any] = {"asset": {"version": "2.0", "generator": "fulltravel"}}
        if self.quantised and self.meshes:
            document |= {key: ["KHR_mesh_quantization"] for key in ("extensionsUsed", "extensionsRequired")}
        document |= {
            "scene": 0,
            "scenes": [{"name": title, "nodes": [len(nodes)]}],
            "nodes": [*records, root, *carriers],
            "meshes": [json.loads(text) for text in self.meshes],
            "materials": [_material(*paint) for paint in self.paints],
        }
        moves = [self._animation(animation, held) for animation in animations if animation.channels]
        if moves:
            document["animations"] = moves
        document |= {
            "accessors": self.buffer.accessors,
            "bufferViews": self.buffer.views,
            "buffers": [{"byteLength": len(self.buffer.data)}],
        }
        return packed(document, bytes(self.buffer.data))

    def _node(self, node: Node) -> dict[str, Any]:
        record: dict[str, Any] = {"name": node.name}
        if np.any(node.translation):
            record["translation"] = [round(part, 8) for part in (to_gltf(node.translation) / METRE).tolist()]
        if np.any(node.rotation[:3]):
            record["rotation"] = to_gltf(node.rotation).tolist()
        if node.children:
            record["children"] = list(node.children)
        return record

    def _scale(self, node: Node) -> float:
        """How many mm one step of the node's points is."""
        if not self.quantised:
            return 1.0
        blocks = [block for one in node.surfaces for block in (one.points, one.shifts) if block is not None]
        return max(float(np.abs(block).max(initial=1e-3)) for block in blocks) / LARGEST

    def _mesh(self, node: Node, scale: float) -> int:
        """The number of a node's mesh, that of an equal one if there is."""
        primitives = []
        for surface in node.surfaces:
            attributes = {"POSITION": self._points(surface.points, scale)}
            if surface.normals is not None:
                attributes["NORMAL"] = self._normals(surface.normals)
            primitive = {
                "attributes": attributes,
                "indices": self._indices(surface.faces, len(surface.points)),
                "material": self.paints.setdefault(surface.paint, len(self.paints)),
            }
            if surface.shifts is not None and len(surface.shifts):
                targets = [{"POSITION": self._points(shift, scale)} for shift in surface.shifts]
                for target, turn in zip(targets, () if surface.turns is None else surface.turns, strict=False):
                    target["NORMAL"] = self._turns(turn)
                primitive["targets"] = targets
            primitives.append(primitive)
        name = node.name
        shared = json.dumps(primitives)
        found = next((text for text in self.meshes if json.dumps(json.loads(text)["primitives"]) == shared), None)
        text = found or json.dumps({"name": name, "primitives": primitives}, ensure_ascii=False)
        return self.meshes.setdefault(text, len(self.meshes))

    def _points(self, points: Array, scale: float) -> int:
        even = to_gltf(np.round(points, DECIMALS))
        if self.quantised:
            return self.buffer.vectors(np.rint(even / scale).astype("<i2"), SHORT, bounds=True)
        return self.buffer.vectors((even / METRE).astype("<f4"), FLOAT, bounds=True)

    def _normals(self, normals: Array) -> int:
        if self.quantised:
            return self.buffer.vectors(np.rint(to_gltf(normals) * SMALLEST).astype("i1"), BYTE, normalized=True)
        return self.buffer.vectors(_unit_rows(to_gltf(normals)), FLOAT)

    def _turns(self, turns: Array) -> int:
        # Changes of normals are no unit vectors: those of wound parts may pass 1, which 8 bits cannot say.
        if self.quantised:
            steps = np.clip(np.rint(to_gltf(turns) * SMALLEST), -SMALLEST, SMALLEST)
            return self.buffer.vectors(steps.astype("i1"), BYTE, normalized=True)
        return self.buffer.vectors(to_gltf(np.round(turns, 6)).astype("<f4"), FLOAT)

    def _indices(self, faces: Faces, count: int) -> int:
        small = count <= MOST_SHORT_INDICES
        stored = faces.ravel().astype("<u2" if small else "<u4")
        kind = UNSIGNED_SHORT if small else UNSIGNED_INT
        return self.buffer.add(stored, {"componentType": kind, "type": "SCALAR"}, ELEMENT_ARRAY_BUFFER)

    def _animation(self, animation: Animation, held: dict[int, int]) -> dict[str, Any]:
        channels, samplers = [], []
        for channel in animation.channels:
            node = held[channel.node] if channel.path is Path.WEIGHTS else channel.node
            samplers.append({"input": self._times(channel.times), "output": self._values(channel)})
            channels.append({"sampler": len(samplers) - 1, "target": {"node": node, "path": channel.path.value}})
        return {"name": animation.name, "channels": channels, "samplers": samplers}

    def _times(self, times: Array) -> int:
        stored = times.astype("<f4")
        bounds = {"min": [float(stored.min())], "max": [float(stored.max())]}
        return self.buffer.add(stored, {"componentType": FLOAT, "type": "SCALAR", **bounds}, None)

    def _values(self, channel: Channel) -> int:
        values = channel.values
        if channel.path is Path.WEIGHTS:
            return self.buffer.add(values.astype("<f4").ravel(), {"componentType": FLOAT, "type": "SCALAR"}, None)
        turned = channel.path is Path.ROTATION
        stored = _unit_rows(to_gltf(values)) if turned else (to_gltf(values) / METRE).astype("<f4")
        return self.buffer.add(stored, {"componentType": FLOAT, "type": "VEC4" if turned else "VEC3"}, None)


def _unit_rows(rows: Array) -> NDArray[np.float32]:
    """Rows (n, k) of length 1 as 32-bit numbers."""
    size = np.sqrt((rows**2).sum(axis=1, keepdims=True))
    return np.asarray((rows / size).astype("<f4"))


def _material(name: str, finish: style.Finish) -> dict[str, Any]:
    return {
        "name": name,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*(round(_linear(part), 5) for part in style.fraction(finish.colour)), finish.opacity],
            "metallicFactor": finish.metallic,
            "roughnessFactor": finish.roughness,
        },
        "alphaMode": "OPAQUE" if finish.opacity == 1.0 else "BLEND",
    }


def _linear(part: float) -> float:
    """A colour part from sRGB to linear light (IEC 61966-2-1)."""
    return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
