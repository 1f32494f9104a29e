"""What the bytes of an STL, OBJ, PLY or GLB file say of themselves, before anything reads them as a mesh."""

from __future__ import annotations

import json
import re
import struct
from collections.abc import Callable, Iterable
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import unquote, urlsplit

STL_HEADER, STL_RECORD = 84, 50
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
GLB_MAGIC, GLB_HEADER, CHUNK_HEADER = b"glTF", 12, 8
AGAIN = "save it again."
# Bytes of each type of a PLY file, by both of its names.
PLY_SIZES = {
    name: size
    for size, names in (
        (1, (b"char", b"uchar", b"int8", b"uint8")),
        (2, (b"short", b"ushort", b"int16", b"uint16")),
        (4, (b"int", b"uint", b"float", b"int32", b"uint32", b"float32")),
        (8, (b"double", b"float64")),
    )
    for name in names
}


def plain_bytes(data: bytes, suffix: str) -> bytes:
    """A file's bytes without what readers take amiss: a mark before a text, more after a binary STL's last triangle."""
    count = _stl_count(data) if suffix == "stl" else 0
    return data[: STL_HEADER + STL_RECORD * count] if count else data.removeprefix(BYTE_ORDER_MARK)


def check_bytes(data: bytes, suffix: str) -> str:
    """What is wrong with a file of a format by its own header, as the rest of a sentence, or nothing."""
    checks: dict[str, Callable[[bytes], str]] = {"stl": _stl, "obj": _obj, "ply": _ply, "glb": _glb}
    if not data.strip():
        return "is empty; save it again as a triangle mesh."
    return checks[suffix](data) if suffix in checks else ""


def _stl_count(data: bytes) -> int:
    """How many triangles a whole binary STL file holds, perhaps with more after them; 0 for any other file."""
    count = int(struct.unpack("<I", data[80:84])[0]) if len(data) >= STL_HEADER else 0
    # Binary files may begin with "solid" too: the length tells, and in a text four letters promise far too many.
    return count if len(data) >= STL_HEADER + STL_RECORD * count else 0


def _stl(data: bytes) -> str:
    if _stl_count(data):
        return ""
    if data.lstrip()[:5].lower() == b"solid" and _is_text(data):
        facets, ends = (len(re.findall(word, data, re.IGNORECASE)) for word in (rb"facet\s+normal", rb"endfacet"))
        if facets == 0:
            return "holds no triangles; save it again as a triangle mesh."
        whole = facets == ends and re.search(rb"endsolid", data, re.IGNORECASE)
        return "" if whole else f"is cut short: {facets:,} triangles begin in it and {ends:,} end; {AGAIN}"
    if _is_text(data):
        return f"is text and no STL mesh, whatever its name says; {AGAIN}"
    promised = struct.unpack("<I", data[80:84])[0] if len(data) >= STL_HEADER else 0
    if promised == 0:
        return "holds no triangles; save it again as a triangle mesh."
    held = (len(data) - STL_HEADER) // STL_RECORD
    return f"is cut short: its header promises {promised:,} triangles and it holds {held:,}; {AGAIN}"


def _obj(data: bytes) -> str:
    if not re.search(rb"(?m)^\s*f\s", data):
        if re.search(rb"(?m)^\s*v\s", data):
            return "holds no triangles; save it again as a triangle mesh."
        return f"is no OBJ mesh, whatever its name says; {AGAIN}"
    named = re.findall(rb"(?m)^[ \t]*mtllib[ \t]+([^\r\n]+?)[ \t]*\r?$", data)
    return _astray(name.decode("utf-8", "replace") for name in named)


def _ply(data: bytes) -> str:
    head, mark, body = data.partition(b"end_header")
    if data[:3] != b"ply":
        return f"is no PLY mesh, whatever its name says; {AGAIN}"
    if not mark:
        return f"is cut short: its header has no end; {AGAIN}"
    # In text every vertex and triangle has a line.
    text = b"format ascii" in head
    held = body.count(b"\n") if text else len(body)
    least = sum(
        int(count) * (1 if text else _record(entries))
        for _, count, entries in re.findall(rb"element\s+(\w+)\s+(\d+)((?:\s+property[^\r\n]*)*)", head)
    )
    if not re.search(rb"element\s+face\s+[1-9]", head):
        return "holds no triangles; save it again as a triangle mesh."
    return f"is cut short: it holds less than its header promises; {AGAIN}" if held < least else ""


def _record(properties: bytes) -> int:
    """The least that an element of a binary PLY file takes, in bytes: a list in it holds at least three numbers."""
    length = 0
    for entry in re.findall(rb"property\s+([^\r\n]+)", properties):
        kind = entry.split()
        sizes = [PLY_SIZES.get(word, 1) for word in kind]
        length += sizes[1] + 3 * sizes[2] if kind[0] == b"list" else sizes[0]
    return length


def _glb(data: bytes) -> str:
    if data[:4] != GLB_MAGIC or len(data) < GLB_HEADER + CHUNK_HEADER:
        return f"is no GLB mesh, whatever its name says; {AGAIN}"
    length, chunk = struct.unpack("<I", data[8:12])[0], struct.unpack("<I", data[12:16])[0]
    if len(data) < length or len(data) < GLB_HEADER + CHUNK_HEADER + chunk:
        return f"is cut short: its header promises {length:,} bytes and it holds {len(data):,}; {AGAIN}"
    try:
        document: Any = json.loads(data[20 : 20 + chunk])
    except ValueError:
        document = None
    return _elsewhere(document) if isinstance(document, dict) else f"is damaged: its header cannot be read; {AGAIN}"


def _elsewhere(document: dict[str, Any]) -> str:
    """A complaint of other files that a GLB's header names."""
    buffers, images = (
        [
            str(entry["uri"])
            for entry in document.get(key, [])
            if isinstance(entry, dict) and not str(entry.get("uri", "data:")).startswith("data:")
        ]
        for key in ("buffers", "images")
    )
    astray = _astray([*buffers, *images])
    if astray or not buffers:
        return astray
    return "keeps its triangles in another file; save it as one GLB file with everything in it."


def _is_text(data: bytes) -> bool:
    """Whether the first thousand bytes are printable."""
    return all(byte >= 32 or byte in b"\t\n\r\f" for byte in data[:1000])


def _astray(names: Iterable[str]) -> str:
    """A complaint of the first name that leads out of the folder of the file that holds it."""
    for name in names:
        plain = unquote(name).replace("\\", "/")
        # One letter before a colon is a drive and not a scheme; neither stays in the folder.
        if urlsplit(plain).scheme or plain.startswith("/") or ".." in PurePosixPath(plain).parts:
            shown = name if name.isprintable() else repr(name)
            return (
                f'refers to "{shown[:80]}", outside its own folder; save it again with everything in one file or '
                "beside it."
            )
    return ""
