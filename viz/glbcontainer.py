"""The container of a GLB file (glTF 2.0, binary): its JSON, and the buffer that the JSON speaks of."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

# Numbers of the glTF 2.0 specification.
BYTE, SHORT, UNSIGNED_SHORT, UNSIGNED_INT, FLOAT = 5120, 5122, 5123, 5125, 5126
ARRAY_BUFFER, ELEMENT_ARRAY_BUFFER = 34962, 34963
GLB_MAGIC, JSON_CHUNK, BINARY_CHUNK = 0x46546C67, 0x4E4F534A, 0x004E4942


class Buffer:
    """The binary part of a GLB file and the records that say what is in it."""

    def __init__(self) -> None:
        """Begin with nothing in it."""
        self.data = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []
        self._known: dict[tuple[bytes, str], int] = {}

    def vectors(self, stored: NDArray[Any], kind: int, *, bounds: bool = False, normalized: bool = False) -> int:
        """Add vectors (n, 3) of a vertex and return their accessor's number."""
        accessor: dict[str, Any] = {"componentType": kind, "type": "VEC3"}
        if normalized:
            accessor["normalized"] = True
        if bounds:
            accessor |= {"min": stored.min(axis=0).tolist(), "max": stored.max(axis=0).tolist()}
        # What belongs to a vertex begins at a multiple of four bytes.
        width = -(-3 * stored.itemsize // 4) * 4
        return self.add(stored, accessor, ARRAY_BUFFER, width if width != 3 * stored.itemsize else None)

    def add(self, stored: NDArray[Any], accessor: dict[str, Any], target: int | None, stride: int | None = None) -> int:
        """Add numbers (n, ...) as they are, each row in `stride` bytes where given; equal ones are kept once."""
        if stride is not None:
            padded = np.zeros((len(stored), stride // stored.itemsize), dtype=stored.dtype)
            padded[:, : stored.shape[1]] = stored
            data = padded.tobytes()
        else:
            data = stored.tobytes()
        key = (data, json.dumps([accessor, target]))
        if key not in self._known:
            view: dict[str, Any] = {"buffer": 0, "byteOffset": len(self.data), "byteLength": len(data)}
            view |= {} if target is None else {"target": target}
            self.views.append(view | ({} if stride is None else {"byteStride": stride}))
            self._known[key] = len(self.accessors)
            self.accessors.append({"bufferView": len(self.views) - 1, "count": len(stored), **accessor})
            self.data += data + bytes(-len(data) % 4)
        return self._known[key]


def packed(document: dict[str, Any], data: bytes) -> bytes:
    """The bytes of a file."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    return b"".join(
        [
            struct.pack("<III", GLB_MAGIC, 2, 28 + len(text) + len(data)),
            struct.pack("<II", len(text), JSON_CHUNK),
            text,
            struct.pack("<II", len(data), BINARY_CHUNK),
            data,
        ]
    )
