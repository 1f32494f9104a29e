"""A GLB file rewritten so that it packs well: what is near in space is near in number, so differences are small.

The page undoes it (`viz/webpage/src/bytes.js`) and has the same file again, to the last bit.
"""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

from viz.glbcontainer import BYTE, UNSIGNED_SHORT

# Bytes before a GLB's text, and between its text and its data (glTF 2.0 specification, 4.4).
HEAD, BETWEEN = 20, 8
# Kinds of rows: bytes as they are; differences of rows of three 16-bit numbers in 8 bytes, of three 8-bit numbers in 4;
# triangles of 16-bit and of 32-bit indices.
PLAIN, SHORTS, BYTES, SHORT_TRIANGLES, LONG_TRIANGLES = range(5)


def differences(glb: bytes) -> tuple[bytes, list[list[int]]]:
    """The rewritten file, of the same length or shorter, and start, length and kind of each of its views."""
    size = struct.unpack("<I", glb[12:16])[0]
    document = json.loads(glb[HEAD : HEAD + size])
    data = glb[HEAD + size + BETWEEN :]
    views, blocks = [[0, HEAD + size + BETWEEN, PLAIN]], [glb[: HEAD + size + BETWEEN]]
    for accessor in document["accessors"]:
        view = document["bufferViews"][accessor["bufferView"]]
        start, length = view["byteOffset"], view["byteLength"]
        kind = _kind(accessor, view)
        blocks.append(_rewritten(data[start : start + length], kind))
        views.append([HEAD + size + BETWEEN + start, length, kind])
    return b"".join(blocks), views


def _kind(accessor: dict[str, Any], view: dict[str, Any]) -> int:
    if accessor["type"] == "SCALAR" and "target" in view:
        return SHORT_TRIANGLES if accessor["componentType"] == UNSIGNED_SHORT else LONG_TRIANGLES
    if accessor["type"] == "VEC3" and "byteStride" in view:
        return BYTES if accessor["componentType"] == BYTE else SHORTS
    return PLAIN


def _rewritten(block: bytes, kind: int) -> bytes:
    if kind == PLAIN:
        return block
    if kind in (SHORTS, BYTES):
        rows = np.frombuffer(block, "<i2" if kind == SHORTS else "i1").reshape(-1, 4)[:, :3]
        return _planes(np.diff(rows, axis=0, prepend=np.zeros((1, 3), rows.dtype)))
    corners = np.frombuffer(block, "<u2" if kind == SHORT_TRIANGLES else "<u4").reshape(-1, 3)
    firsts = np.diff(corners[:, 0], prepend=np.zeros(1, corners.dtype))
    return _planes(np.stack([firsts, corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]], axis=1))


def _planes(rows: NDArray[Any]) -> bytes:
    """Rows (n, 3) column by column, the lowest bytes of a whole table first, then the next."""
    flat = np.ascontiguousarray(rows.T)
    return flat.view(np.uint8).reshape(-1, flat.itemsize).T.tobytes()
