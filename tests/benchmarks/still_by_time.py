"""What a still costs, process start to exit, and against the drawing library's bare render of the same stage."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from model.assembly import assemble
from model.reading import read_scene
from model.solver import solve
from model.travel import single
from viz.labels import Scale
from viz.stage import Stage

SIZE = (1920, 1080)
SCENE = Path(__file__).resolve().parents[2] / "scenes" / "wren_front.toml"


class StillCost(NamedTuple):
    """Seconds of the whole command by the clock and of processor, and of a bare render by the clock."""

    seconds: float
    processor: float
    render: float


def still_cost(scene: Path = SCENE, size: tuple[int, int] = SIZE, runs: int = 3) -> StillCost:
    """The best of some runs: the command in a process of its own, and a render of its stage in this one."""
    program = Path(sys.executable).with_name("fulltravel")
    whole, used = [], []
    with tempfile.TemporaryDirectory() as folder:
        call = [str(program), "still", str(scene), "--size", f"{size[0]}x{size[1]}", "-o", f"{folder}/still.png"]
        for _ in range(runs):
            begun, before = time.perf_counter(), _processor()
            subprocess.run(call, check=True, capture_output=True)
            whole.append(time.perf_counter() - begun)
            used.append(_processor() - before)
    return StillCost(min(whole), min(used), bare_render(scene, size, runs))


def _processor() -> float:
    """Seconds of processor that processes started from here have taken; other work on the machine adds little."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def bare_render(scene: Path, size: tuple[int, int], runs: int) -> float:
    """Seconds that the drawing library takes for the picture alone, when everything is built and drawn once."""
    mechanism = assemble(read_scene(scene))
    poses = solve(mechanism, single(mechanism))
    times = []
    with Stage(poses, (size[0], size[1] - Scale.of(size).caption)) as stage:
        stage.aim(stage.camera("three-quarter"))
        stage.pixels()
        for _ in range(runs):
            begun = time.perf_counter()
            stage.render()
            times.append(time.perf_counter() - begun)
    return min(times)


if __name__ == "__main__":
    cost = still_cost()
    print(
        f"still of {SCENE.stem}, {SIZE[0]}x{SIZE[1]}: {cost.seconds:.2f} s from start to exit, "
        f"{cost.processor:.2f} s of processor; a bare render takes {1e3 * cost.render:.0f} ms"
    )
