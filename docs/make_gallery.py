"""Draws every picture in docs/pictures again with the program's own commands: `python docs/make_gallery.py`."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
# Pictures are kept as WebP of this quality: a tenth of a PNG's size, and no difference that is seen.
QUALITY = 94

COMMANDS = {
    "tarn_rear_worst.png": "still scenes/tarn_rear.toml --worst",
    "tarn_rear_joint.webp": 'still scenes/tarn_rear.toml --worst --view "joint:left coilover, at axle" --size 1200x900',
    "tarn_rear_cross.webp": "film scenes/tarn_rear.toml --cycle cross --size 720x450 --fps 15 --seconds 4",
    "tarn_rear_compared.webp": 'compare scenes/tarn_rear.toml --variant "on the lower link" --size 1800x1000',
    "tarn_rear_lengths.webp": "still scenes/tarn_rear.toml --bump 100 --ruler --measure track "
    '--measure "left coilover" --measure "left lower link" --measure propshaft',
    "wren_rear.webp": "still scenes/wren_rear.toml --view rear-three-quarter",
    "wren_rear_crossed.webp": "still scenes/wren_rear.toml --roll 75 --view front --size 1400x800",
    "wren_rear_clocked.webp": 'still clocked.toml --roll 60 --view "joint:upper link, at frame"',
    "wren_rear_shaft.webp": 'still scenes/wren_rear.toml --bump -75 --view "joint:propshaft, at axle"',
    "wren_rear_lengths.webp": "still scenes/wren_rear.toml --view rear --size 1400x800 --measure track "
    '--measure "panhard bar" --measure "left coilover"',
    "wren_front.webp": "still scenes/wren_front.toml --roll 50 --steer 60",
    "wren_front_ghost.webp": "still scenes/wren_front.toml --left 60 --right -40 --steer 30 --ruler --ghost",
    "wren_front_gap.webp": 'still scenes/wren_front.toml --worst --view "gap:left lower arm, left tie rod"',
    "wren_front_swept.webp": 'still scenes/wren_front.toml --swept "left wheel"',
    "wren_front_wheel.webp": 'still scenes/wren_front.toml --view "joint:left wheel" --size 1400x900',
    "wren_front_top.webp": "still scenes/wren_front.toml --steer 100 --view top --size 1400x900",
    # A tie rod's end turns most at full droop.
    "wren_front_joint.webp": 'still scenes/wren_front.toml --bump -70 --view "joint:left tie rod, at upright"',
    "wren_front_bar.webp": 'still scenes/wren_front.toml --roll 70 --view "joint:left end link, at anti-roll bar"',
    "wren_front_curves.webp": "curves scenes/wren_front.toml",
    "wren_front_loads.webp": "loads scenes/wren_front.toml --case braking",
    "wren_car.webp": "vehicle scenes/vehicles/wren.toml",
    "tarn_front.webp": "still scenes/tarn_front.toml --roll 90 --steer 60",
    "tarn_front_side.webp": "still scenes/tarn_front.toml --view side --see-through --size 1400x900",
    "tarn_front_kingpin.webp": 'still scenes/tarn_front.toml --steer -100 --view "joint:left knuckle" --size 1200x900',
    "parcel_rear.webp": "still scenes/parcel_rear.toml --roll 70",
    "parcel_front.webp": "still scenes/parcel_front.toml --bump -60 --steer -50",
    "parcel_front_side.webp": "still scenes/parcel_front.toml --view side --size 1200x800",
    # An arm's bush is wound furthest at full droop.
    "parcel_front_bush.webp": 'still scenes/parcel_front.toml --bump -85 --view "joint:left lower arm, front pivot"',
    "parcel_front_section.webp": "still scenes/parcel_front.toml --bump -85 --section "
    '--view "joint:left lower arm, front pivot"',
    "parcel_front_touch.webp": 'still wide.toml --worst --view "gap:left wheel, left strut spring"',
}

# Scenes with a change in them: the scene, and what stands in place of what.
COPIES = {
    # The heads of a link turned against each other before their nuts were locked.
    "clocked.toml": ("wren_rear.toml", (('[link."upper link"]\n', '[link."upper link"]\nclock = 26\n'),)),
    # Tyres that are too wide.
    "wide.toml": ("parcel_front.toml", (("\nwidth = 195", "\nwidth = 255"),)),
}


def copied(scene: str, changes: tuple[tuple[str, str], ...]) -> str:
    """The text of a scene with some changes, each of which has one place in it."""
    text = (ROOT / "scenes" / scene).read_text(encoding="utf-8")
    for old, new in changes:
        if text.count(old) != 1:
            raise ValueError(f"expected {old.strip()} once in {scene}")
        text = text.replace(old, new)
    return text


def main() -> None:
    """Run every command, or those whose picture is named; the first one that fails ends it."""
    PICTURES.mkdir(exist_ok=True)
    program = Path(sys.executable).with_name("fulltravel")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(ROOT / "scenes", folder / "scenes")
        for copy, (scene, changes) in COPIES.items():
            (folder / copy).write_text(copied(scene, changes), encoding="utf-8")
        for picture in sys.argv[1:] or COMMANDS:
            words = shlex.split(COMMANDS[picture])
            finished = words[0] == "film" or picture.endswith(".png")
            drawn = PICTURES / picture if finished else folder / "drawn.png"
            subprocess.run([program, *words, "-o", drawn], cwd=folder, check=True)
            if not finished:
                Image.open(drawn).save(PICTURES / picture, quality=QUALITY, method=6)


if __name__ == "__main__":
    main()
