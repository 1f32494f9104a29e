"""The benchmark runs with tiny sizes, and what it says of imports holds; its times are not tested, machines differ."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from pair_by_pair import PairByPair
from ratios import SMALL, Line, heavy_imports, hung, loaded, pairs_that_can_meet, sample_runs

from model.clearance import REACH, clearances
from model.envelopes import measured_parts
from model.placing import Shapes
from model.solver import solve
from model.travel import grid

SCRIPT = Path(__file__).parent / "ratios.py"


def test_the_script_prints_every_measure_with_its_target() -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--small"], check=True, capture_output=True, text=True, timeout=120
    )
    lines = done.stdout.splitlines()
    for start, target in (
        (f"live axle {SMALL.axle}×{SMALL.axle}, scipy trf  ", "≥ 150"),
        (f"live axle {SMALL.axle}×{SMALL.axle}, floor: ", "≤ 4"),
        ("A-arm front 3×3×3, scipy trf  ", "≥ 100"),
        ("axle in bushes 3×3, scipy trf  ", "≥ 50"),
        ("all joints of wren_rear, 25 poses, over their solve", "≤ 1"),
        ("all joints of wren_front, 27 poses, over their solve", "≤ 1"),
        ("all curves of parcel_rear, 5 poses, over their solve", "≤ 1"),
        ("all curves of wren_front, 5 poses, over their solve", "≤ 1"),
        ("clearances, 3×3×3 poses, ", "≥ 20"),
        ("wren_rear, 441 poses", "≤ 1"),
        ("wren_front, 125 poses", "≤ 1"),
        ("fulltravel --help", "≤ 1.5"),
        (f"film of wren_front, {SMALL.film[0]}×{SMALL.film[1]}", "≤ 1.3"),
        (f"still of wren_front, {SMALL.still[0]}×{SMALL.still[1]}, start to exit", "≤ 3"),
        ("window, a change of pose of wren_front", "≤ 5"),
    ):
        line = next(line for line in lines if line.startswith(start))
        assert target in line
        assert line.endswith(("ok", "short"))


def test_a_check_never_imports_what_only_pictures_need() -> None:
    assert heavy_imports() == []


def test_a_plain_still_imports_nothing_that_only_gaps_meshes_or_settings_need(tmp_path: Path) -> None:
    scene = SCRIPT.parents[2] / "scenes" / "wren_rear.toml"
    code = (
        f"import sys; sys.argv = ['fulltravel', 'still', {str(scene)!r}, '-o', {str(tmp_path / 'a.png')!r}]\n"
        "sys.argv += ['--size', '320x240']\n"
        "from viz.cli import main\n"
        "try: main()\n"
        "except SystemExit as stop: assert not stop.code\n"
        "heavy = ('trimesh', 'fcl', 'exudyn', 'scipy.optimize')\n"
        "print('loaded:', *[m for m in heavy if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert (tmp_path / "a.png").stat().st_size > 0
    assert done.stdout.splitlines()[-1].split() == ["loaded:"]


def test_help_imports_neither_numpy_nor_pyvista() -> None:
    code = (
        "import sys; sys.argv = ['fulltravel', '--help']\n"
        "from viz.cli import main\n"
        "try: main()\n"
        "except SystemExit as stop: assert not stop.code\n"
        "print('loaded:', *[m for m in ('numpy', 'scipy', 'pydantic', 'pyvista', 'vtkmodules') if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert "Usage" in done.stdout
    assert done.stdout.splitlines()[-1].split() == ["loaded:"]


@pytest.mark.parametrize(
    ("ratio", "target", "at_least", "verdict"),
    [
        (150.0, 150.0, True, "ok"),
        (149.9, 150.0, True, "short"),
        (4.0, 4.0, False, "ok"),
        (4.1, 4.0, False, "short"),
        (0.0, 0.0, False, "ok"),
        (3.0, None, True, ""),
    ],
)
def test_a_target_is_met_at_its_edge(ratio: float, target: float | None, at_least: bool, verdict: str) -> None:
    assert Line("", "", "", ratio, target, at_least).verdict == verdict


def test_trimesh_gets_the_same_meshes_and_finds_the_same_smallest_distances() -> None:
    mechanism = loaded("wren_front")
    poses = solve(mechanism, grid(mechanism, 3, 3))
    shapes = Shapes(part for part in measured_parts(mechanism) if part.rigid)
    ours = {frozenset(each.labels): each for each in clearances(poses, shapes, refine=False)}
    pairs = pairs_that_can_meet(poses, shapes)
    assert len(pairs) >= 40
    smallest: dict[frozenset[str], float] = {}
    for pair in pairs:
        labels = frozenset((shapes.parts[pair.first].label, shapes.parts[pair.second].label))
        theirs = PairByPair.of(pair, shapes.parts, poses).distances(np.arange(len(poses))).min() - pair.wanted.least
        smallest[labels] = min(smallest.get(labels, np.inf), theirs)
    assert all(each.distance > 0.0 for each in ours.values())
    for labels, left in smallest.items():
        if labels in ours:
            assert ours[labels].left == pytest.approx(left, abs=0.01)
        else:
            assert left > REACH - 0.01


def test_scipy_gets_the_same_mechanism_and_whole_rows_of_the_grid() -> None:
    axle = hung(loaded("tarn_rear"), "axle")
    assert (len(axle.frame), len(axle.driven)) == (4, 2)
    left = hung(loaded("wren_front"), "left upright")
    assert (len(left.frame), len(left.driven)) == (5, 1)
    # One bar of the five slides with the rack: 58 mm to the right at full left lock, since the rack is behind the axle.
    assert left.slides[np.abs(left.slides).max(axis=1) > 0.0].tolist() == [[0.0, -58.0, 0.0]]
    runs = sample_runs((21, 21, 11), 60)
    assert len(runs) == 5
    for run in runs:
        assert run[0] % 11 == 0
        assert np.diff(run).tolist() == [1] * 10
