"""Draws every picture in docs/pictures again with the program's own commands: `python docs/make_gallery.py`."""

from __future__ import annotations

import shlex
import subprocess
import sys
import tempfile
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
    "wren_front_bar.png": 'still scenes/wren_front.toml --roll 70 --view "joint:left end link, at anti-roll bar"',
    "wren_rear_clocked.png": 'still clocked.toml --roll 60 --view "joint:upper link, at frame"',
    "wren_rear_shaft.png": 'still scenes/wren_rear.toml --bump -75 --view "joint:propshaft, at axle"',
    "tarn_front.png": "still scenes/tarn_front.toml --roll 90 --steer 60",
    "tarn_front_kingpin.png": 'still scenes/tarn_front.toml --steer -100 --view "joint:left knuckle" --size 1200x900',
    "parcel_rear.png": "still scenes/parcel_rear.toml --roll 70",
    # An arm's bush is wound furthest at full droop.
    "parcel_front_bush.png": 'still scenes/parcel_front.toml --bump -85 --view "joint:left lower arm, front pivot"',
    "parcel_front.png": "still scenes/parcel_front.toml --bump -60 --steer -50",
    "parcel_front_side.png": "still scenes/parcel_front.toml --view side --size 1200x800",
    "tarn_rear_cross.webp": "film scenes/tarn_rear.toml --cycle cross --size 720x450 --fps 15 --seconds 4",
}


# A scene with one mistake in it: the heads of a link turned against each other before their nuts were locked.
CLOCKED, LINK, CLOCK = "clocked.toml", '[link."upper link"]\n', "clock = 26\n"


def clocked_scene() -> str:
    """Return the text of the Wren's rear scene with its upper link clocked."""
    text = (ROOT / "scenes" / "wren_rear.toml").read_text(encoding="utf-8")
    if text.count(LINK) != 1:
        raise ValueError(f"expected {LINK.strip()} once in wren_rear.toml")
    return text.replace(LINK, LINK + CLOCK)


def main() -> None:
    """Run every command, or those whose picture is named; the first one that fails ends it."""
    PICTURES.mkdir(exist_ok=True)
    program = Path(sys.executable).with_name("fulltravel")
    with tempfile.TemporaryDirectory() as folder:
        clocked = Path(folder) / CLOCKED
        clocked.write_text(clocked_scene(), encoding="utf-8")
        for name in sys.argv[1:] or COMMANDS:
            words = [str(clocked) if word == CLOCKED else word for word in shlex.split(COMMANDS[name])]
            subprocess.run([program, *words, "-o", PICTURES / name], cwd=ROOT, check=True)


if __name__ == "__main__":
    main()
