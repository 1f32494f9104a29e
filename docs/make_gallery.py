"""Draws every picture in docs/pictures again with the program's own commands: `python docs/make_gallery.py`."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"

COMMANDS = {
    "tarn_rear_worst.png": "still scenes/tarn_rear.toml --worst",
    "tarn_rear_joint.png": 'still scenes/tarn_rear.toml --worst --view "joint:left coilover, at axle" --size 1200x900',
    "wren_rear.png": "still scenes/wren_rear.toml",
    "wren_rear_crossed.png": "still scenes/wren_rear.toml --roll 75 --view front --size 1400x800",
    "wren_front.png": "still scenes/wren_front.toml --roll 50 --steer 60",
    "wren_front_top.png": "still scenes/wren_front.toml --steer 100 --view top --size 1400x900",
    # A tie rod's end turns most at full droop.
    "wren_front_joint.png": 'still scenes/wren_front.toml --bump -70 --view "joint:left tie rod, at upright"',
    "parcel_front.png": "still scenes/parcel_front.toml --bump -60 --steer -50",
    "parcel_front_side.png": "still scenes/parcel_front.toml --view side --size 1200x800",
    "tarn_rear_cross.webp": "film scenes/tarn_rear.toml --cycle cross --size 720x450 --fps 15 --seconds 4",
}


def main() -> None:
    """Run every command; the first one that fails ends it."""
    import shlex

    PICTURES.mkdir(exist_ok=True)
    program = Path(sys.executable).with_name("fulltravel")
    for name, command in COMMANDS.items():
        subprocess.run([program, *shlex.split(command), "-o", PICTURES / name], cwd=ROOT, check=True)


if __name__ == "__main__":
    main()
