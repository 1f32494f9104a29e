"""Outputs that are no files, for tests of what becomes of one that cannot be written."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest


def full_device(place: Path) -> Path:
    """A device that is always full, where a mistake can do no harm: as root a node of our own, not the machine's."""
    if os.geteuid() != 0:
        place.symlink_to("/dev/full")
        return place
    try:
        os.mknod(place, stat.S_IFCHR | 0o666, os.makedev(1, 7))
        place.open("wb").close()
    except OSError as error:
        place.unlink(missing_ok=True)
        pytest.skip(f"this root may make no device: {error}")
    return place
