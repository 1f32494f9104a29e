"""How fast the model is, as ratios measured in one run: `python tests/benchmarks/ratios.py`.

The references are scipy's `least_squares` pose by pose, NumPy's batched `solve` alone, and `python -c "import typer"`.
scipy gets a fair chance: every pose starts from the solved pose next to it on the grid, with code of its own that
holds nothing but the point coordinates (`pose_by_pose`), and its tolerances are only as tight as 1e-9 mm needs.
Both sides of a ratio run in turns in this process and the best of several runs of each counts. A front solved "apart
and once" is the hardest comparison: scipy is then told, as our solver finds out, that a side does not feel the other
wheel. Run it on a machine that does nothing else: other work makes the ratios unsteady.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from time import perf_counter

import numpy as np
from bushes_by_pose import RestByPose, hung_in_bushes, rest_floor, rest_time
from pair_by_pair import PairByPair
from pose_by_pose import Hung, PoseByPose

from model.assembly import assemble
from model.clearance import REACH, clearances
from model.constraints import System, evaluate, jacobian, systems
from model.curves import curves
from model.cycles import Cycle
from model.envelopes import measured_parts
from model.findings import judge
from model.mechanism import Distance, Mechanism
from model.members import posture
from model.pairs import Pair, pairs_of
from model.placing import Placed, Shapes
from model.poses import Poses, Status
from model.reading import read_scene
from model.solver import CHUNK, solve
from model.travel import Travel, grid, sweep

SCENES = Path(__file__).parents[2] / "scenes"
RESIDUAL = 1e-9  # mm, for both sides
# Ways to call scipy: name, whether it gets an analytic Jacobian, method.
VARIANTS = (
    ("trf", False, "trf"),
    ("trf with a Jacobian", True, "trf"),
    ("lm", False, "lm"),
    ("lm with a Jacobian", True, "lm"),
)


@dataclass(frozen=True)
class Sizes:
    """How much is measured: grid steps, poses that scipy solves, runs of which the best or the median counts."""

    axle: int = 41
    wheels: int = 21
    steering: int = 11
    sample: int = 60
    rest: int = 21
    rest_runs: int = 3
    runs: int = 7
    million: tuple[int, int] = (1001, 101)
    starts: int = 9
    gaps: tuple[int, int] = (11, 9)
    gap_sample: int = 24
    frames: tuple[int, ...] = (24, 120)
    film: tuple[int, int] = (1280, 720)
    still: tuple[int, int] = (1920, 1080)
    still_runs: int = 3
    window_steps: int = 60


SMALL = Sizes(
    axle=5,
    wheels=3,
    steering=3,
    sample=4,
    rest=3,
    rest_runs=1,
    runs=1,
    million=(21, 5),
    starts=1,
    gaps=(3, 3),
    gap_sample=2,
    frames=(3,),
    film=(320, 360),
    still=(320, 240),
    still_runs=1,
    window_steps=4,
)


@dataclass(frozen=True)
class Line:
    """One line of the table; a line without a target is for information."""

    measure: str
    ours: str
    reference: str
    ratio: float
    target: float | None = None
    at_least: bool = True

    @property
    def verdict(self) -> str:
        """Whether the target is met."""
        if self.target is None:
            return ""
        return "ok" if (self.ratio >= self.target) == self.at_least or self.ratio == self.target else "short"


def loaded(name: str) -> Mechanism:
    """One of the project's scenes."""
    return assemble(read_scene(SCENES / f"{name}.toml"))


def clocked(work: Callable[[], object], poses: int) -> Callable[[], float]:
    """A measurement of `work`: seconds a pose."""

    def run() -> float:
        start = perf_counter()
        work()
        return (perf_counter() - start) / poses

    return run


def fastest(runs: int, measurements: dict[str, Callable[[], float]]) -> dict[str, float]:
    """The shortest of several runs of each; they take turns, so that a busy machine slows all alike."""
    found = dict.fromkeys(measurements, float("inf"))
    for _ in range(runs):
        for name, run in measurements.items():
            found[name] = min(found[name], run())
    return found


def hung(mechanism: Mechanism, holder: str) -> Hung:
    """A body that hangs on bars alone, as bare coordinates; bars on the rack slide with it."""
    number = mechanism.body_number(holder)
    frame, body, slides = [], [], []
    for row in mechanism.rows:
        if isinstance(row, Distance) and number in (row.a.body, row.b.body):
            inner, outer = (row.a, row.b) if row.b.body == number else (row.b, row.a)
            screw = mechanism.bodies[inner.body].screw
            frame.append(inner.at)
            body.append(outer.at)
            slides.append(np.zeros(3) if screw is None else screw.left * screw.axis)
    driven = [wheel.centre for wheel in mechanism.wheels if wheel.on == holder]
    return Hung(np.array(frame), np.array(body), np.array(driven), np.array(slides))


def sample_runs(steps: tuple[int, ...], count: int) -> list[list[int]]:
    """Pose numbers of whole rows of the grid, spread over it, each row in order; about `count` poses in all."""
    row = steps[-1]
    rows = int(np.prod(steps[:-1]))
    wanted = max(1, min(rows, round(count / row)))
    chosen = np.unique(np.linspace(0, rows - 1, wanted).round().astype(int))
    numbers = [list(range(first * row, first * row + row)) for first in chosen]
    return [numbers[0][:count]] if count < row else numbers


def scipy_time(solver: PoseByPose, poses: Poses, runs: list[list[int]], wheels: list[int]) -> float:
    """Seconds a pose that scipy takes over the sample, each pose from its neighbour; looks at every residual."""
    spent, count = 0.0, 0
    steer = poses.mechanism.steer
    for numbers in runs:
        values = poses.travel.values[numbers]
        shares = values[:, steer] if steer is not None else np.zeros(len(numbers))
        heights = values[:, wheels]
        # The first of a row is walked to, outside the clock.
        x = solver.walk(heights[0], float(shares[0]), steps=8)
        for height, share in zip(heights[1:], shares[1:], strict=True):
            start = perf_counter()
            x = solver.pose(x, height, float(share))
            spent += perf_counter() - start
            count += 1
            worst = float(np.abs(solver.residual(x, height, float(share))).max())
            if worst > RESIDUAL:
                raise RuntimeError(f"scipy stopped at {worst:.1e} mm; its tolerances are too loose for a fair ratio.")
    return spent / count


def first_time(name: str, travel: Travel) -> float:
    """Seconds a pose for a mechanism that was just built, as in a single check: nothing of it is kept from before."""
    mechanism = loaded(name)
    start = perf_counter()
    solve(mechanism, travel)
    return (perf_counter() - start) / len(travel)


def floor_work(system: System, poses: Poses) -> Callable[[], object]:
    """NumPy's batched solve alone, on our own matrices: as many as our iteration solved, in batches of its size."""
    numbers = list(system.bodies)
    rotation, translation = poses.rotation[numbers], poses.translation[numbers]
    shift = translation + rotation @ system.origin - system.origin  # about the group's own origin
    state = np.ascontiguousarray(np.moveaxis(np.concatenate([rotation, shift[..., None]], axis=-1), 1, -1))
    residual, wrench = evaluate(system, state, np.ascontiguousarray(poses.travel.values.T))
    matrix, right = np.ascontiguousarray(jacobian(system, wrench)), np.ascontiguousarray(residual.T)[..., None]
    going = [int((poses.solves > count).sum()) for count in range(int(poses.solves.max()))]

    def run() -> None:
        for alive in going:
            for start in range(0, alive, CHUNK):
                stop = min(start + CHUNK, alive)
                np.linalg.solve(matrix[start:stop], right[start:stop])

    return run


def checked(mechanism: Mechanism, travel: Travel) -> Poses:
    """Our poses, every one solved to the residual that the ratios speak of."""
    poses = solve(mechanism, travel)
    if (poses.status != Status.SOLVED).any() or poses.residual.max() > RESIDUAL:
        raise RuntimeError("not every pose is solved: the ratios would compare unlike things.")
    return poses


def each(seconds: float) -> str:
    """A time for one pose."""
    return f"{1e6 * seconds:.4g} µs/pose"


def against_scipy(label: str, found: dict[str, float], target: float) -> list[Line]:
    """Lines for one mechanism; the target belongs to plain `trf`, the way one calls scipy without further thought."""
    return [
        Line(
            f"{label}, scipy {name}",
            each(found["ours"]),
            each(theirs),
            theirs / found["ours"],
            target if name == "trf" else None,
        )
        for name, theirs in found.items()
        if name != "ours"
    ]


def axle_lines(sizes: Sizes) -> list[Line]:
    """The live axle on four links: against scipy and against the floor."""
    mechanism = loaded("tarn_rear")
    travel = grid(mechanism, sizes.axle)
    poses = checked(mechanism, travel)
    runs = sample_runs((sizes.axle, sizes.axle), sizes.sample)
    (system,) = systems(mechanism)
    measurements = {
        "ours": clocked(lambda: solve(mechanism, travel), len(travel)),
        "first": partial(first_time, "tarn_rear", travel),
        "floor": clocked(floor_work(system, poses), len(travel)),
    }
    for name, given, method in VARIANTS:
        solver = PoseByPose([hung(mechanism, "axle")], jacobian=given, method=method)
        measurements[name] = partial(scipy_time, solver, poses, runs, [0, 1])
    found = fastest(sizes.runs, measurements)
    floor, first = found.pop("floor"), found.pop("first")
    label = f"live axle {sizes.axle}×{sizes.axle}"
    name = f"{label}, floor: {poses.solves.mean():.2f} batched 6×6 solves a pose"
    return [
        *against_scipy(label, found, 150.0),
        Line(name, each(found["ours"]), each(floor), found["ours"] / floor, 4.0, at_least=False),
        Line(f"{label}, first solve of a mechanism over the floor", each(first), each(floor), first / floor),
    ]


def front_lines(sizes: Sizes) -> list[Line]:
    """The A-arm front with both sides and steering: against scipy on the whole of it and on each side apart."""
    mechanism = loaded("wren_front")
    travel = grid(mechanism, sizes.wheels, sizes.steering)
    poses = checked(mechanism, travel)
    steps = (sizes.wheels, sizes.wheels, sizes.steering)
    runs = sample_runs(steps, sizes.sample)
    sides = [hung(mechanism, f"{side} upright") for side in ("left", "right")]
    measurements = {"ours": clocked(lambda: solve(mechanism, travel), len(travel))}
    for name, given, method in VARIANTS:
        solver = PoseByPose(sides, jacobian=given, method=method)
        measurements[name] = partial(scipy_time, solver, poses, runs, [0, 1])
    for wheel, side in enumerate(sides):
        measurements[f"side {wheel}"] = partial(scipy_time, PoseByPose([side]), poses, runs, [wheel])
    found = fastest(sizes.runs, measurements)
    apart = found.pop("side 0") + found.pop("side 1")
    found["trf, each side apart"] = apart
    # Each side feels only its own wheel and the steering: solved once for each of those, shared out over the rest.
    found["trf, each side apart and once"] = apart / sizes.wheels
    return against_scipy("A-arm front " + "×".join(map(str, steps)), found, 100.0)


def rest_lines(sizes: Sizes) -> list[Line]:
    """The van's rear, which moves against its bushes: against scipy on the same energy, and against the floor."""
    mechanism = loaded("parcel_rear")
    travel = grid(mechanism, sizes.wheels)
    poses = checked(mechanism, travel)
    runs = sample_runs((sizes.wheels, sizes.wheels), sizes.rest)
    measurements = {
        "ours": clocked(lambda: solve(mechanism, travel), len(travel)),
        "floor": clocked(rest_floor(mechanism, poses), len(travel)),
    }
    for method in ("trf", "lm"):
        solver = RestByPose(hung_in_bushes(mechanism), method=method)
        measurements[method] = partial(rest_time, solver, poses, runs)
    found = fastest(sizes.rest_runs, measurements)
    floor = found.pop("floor")
    label = f"axle in bushes {sizes.wheels}×{sizes.wheels}"
    (system,) = systems(mechanism)
    size = system.unknowns + len(system.plus)
    name = f"{label}, floor: {poses.solves.mean():.2f} batched {size}×{size} solves a pose"
    return [
        *against_scipy(label, found, 50.0),
        Line(name, each(found["ours"]), each(floor), found["ours"] / floor),
    ]


def articulation_lines(sizes: Sizes) -> list[Line]:
    """What every joint does in every pose, against solving the poses."""
    lines = []
    for scene, steps in (("wren_rear", (sizes.axle,)), ("wren_front", (sizes.wheels, sizes.steering))):
        mechanism = loaded(scene)
        lines.append(over_solve("joints", scene, mechanism, grid(mechanism, *steps), posture, sizes))
    return lines


def curve_lines(sizes: Sizes) -> list[Line]:
    """All curves over a cycle, wheel rates and their changes with it, against solving the cycle."""
    lines = []
    for scene in ("parcel_rear", "wren_front"):
        mechanism = loaded(scene)
        travel = sweep(mechanism, Cycle.BOTH, sizes.axle)
        lines.append(over_solve("curves", scene, mechanism, travel, curves, sizes))
    return lines


def over_solve(
    what: str, scene: str, mechanism: Mechanism, travel: Travel, measure: Callable[[Poses], object], sizes: Sizes
) -> Line:
    """What is measured of poses, against solving them."""
    poses = checked(mechanism, travel)
    measurements = {
        what: clocked(partial(measure, poses), len(travel)),
        "solve": clocked(partial(solve, mechanism, travel), len(travel)),
    }
    found = fastest(sizes.runs, measurements)
    ours, theirs = found[what], found["solve"]
    name = f"all {what} of {scene}, {len(travel):,} poses, over their solve"
    return Line(name, each(ours), each(theirs), ours / theirs, 1.0, at_least=False)


def pairs_that_can_meet(poses: Poses, shapes: Shapes) -> list[Pair]:
    """Pairs whose boxes, swept over all poses, come within what is reported: those that clearances looks at."""
    placed = Placed(poses, shapes)
    pairs = pairs_of(poses.mechanism, shapes.parts)
    return [pair for pair in pairs if placed.apart(pair) < REACH + pair.wanted.least and shapes.left_of(pair)]


def clearance_lines(sizes: Sizes) -> list[Line]:
    """Clearances of the A-arm front against asking trimesh for each pair in each pose; parts that keep their shape.

    trimesh is timed on a sample of the poses of every pair and scaled to all of them. Both are asked for all pairs that
    can meet, and then for those alone that turn out to, whose distances are reported. trimesh is not asked between
    poses; our full search, which looks there too, has a line of its own. Both have their trees before the clock starts.
    """
    mechanism = loaded("wren_front")
    poses = checked(mechanism, grid(mechanism, *sizes.gaps))
    parts = tuple(part for part in measured_parts(mechanism) if part.rigid)
    shapes = Shapes(parts)
    met = {frozenset(each.labels) for each in clearances(poses, shapes)}
    pairs = pairs_that_can_meet(poses, shapes)
    managers = {True: list[PairByPair](), False: list[PairByPair]()}
    for pair in pairs:
        labels = frozenset((parts[pair.first].label, parts[pair.second].label))
        managers[labels in met].append(PairByPair.of(pair, parts, poses))
    sample = np.linspace(0, len(poses) - 1, sizes.gap_sample).round().astype(int)

    def plain(asked: list[PairByPair]) -> float:
        return sum(manager.time(sample) for manager in asked) * len(poses)

    found = fastest(
        min(sizes.runs, 3),
        {
            "ours": clocked(lambda: clearances(poses, shapes, refine=False), 1),
            "few": clocked(lambda: clearances(poses, shapes, refine=False, between=met), 1),
            "between": clocked(lambda: clearances(poses, shapes), 1),
            "met": lambda: plain(managers[True]),
            "others": lambda: plain(managers[False]),
        },
    )
    ours, theirs, few = found["ours"], found["met"] + found["others"], found["met"]
    grid_text = "×".join(map(str, (sizes.gaps[0], *sizes.gaps)))
    label = f"clearances, {grid_text} poses"
    close = len(managers[True])
    lines = [
        Line(f"{label}, {len(pairs)} pairs that can meet", f"{ours:.3g} s", f"{theirs:.3g} s", theirs / ours, 20.0),
        Line(f"{label}, the {close} pairs that do", f"{found['few']:.3g} s", f"{few:.3g} s", few / found["few"], 20.0),
        Line(f"{label}, and between them", f"{found['between']:.3g} s", f"{theirs:.3g} s", theirs / found["between"]),
    ]
    fewer = solve(mechanism, grid(mechanism, *(max(3, steps // 2 | 1) for steps in sizes.gaps)))
    some = Shapes(part for part in parts if not part.label.startswith("right"))
    clearances(poses, some, refine=False)
    growth = fastest(
        1,
        {
            "all": clocked(lambda: clearances(poses, shapes, refine=False), 1),
            "poses": clocked(lambda: clearances(fewer, shapes, refine=False), 1),
            "pairs": clocked(lambda: clearances(poses, some, refine=False), 1),
        },
    )
    shares = {
        "poses": len(poses) / len(fewer),
        "pairs": len(pairs) / len(pairs_that_can_meet(poses, some)),
    }
    for what, share in shares.items():
        more, less = growth["all"], growth[what]
        lines.append(Line(f"clearances of {share:.1f} times the {what}", f"{more:.3g} s", f"{less:.3g} s", more / less))
    return lines


def million(scene: str, wheel_steps: int, steer_steps: int) -> dict[str, float]:
    """Solve and judge a large grid in this process; its own peak memory is the system's count."""
    mechanism = loaded(scene)
    start = perf_counter()
    poses = solve(mechanism, grid(mechanism, wheel_steps, steer_steps))
    solved = perf_counter()
    verdict = judge(poses)
    unit = 1 if sys.platform == "darwin" else 1024  # getrusage counts bytes there and KiB on Linux
    return {
        "poses": len(poses),
        "locked": verdict.locked_poses,
        "residual_mm": float(poses.residual.max()),
        "solve_s": solved - start,
        "judge_s": perf_counter() - solved,
        "peak_bytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit,
    }


def million_lines(sizes: Sizes) -> list[Line]:
    """A million poses, each scene in a process of its own."""
    lines = []
    for scene, steps, steering in (("wren_rear", sizes.million[0], 3), ("wren_front", *[sizes.million[1]] * 2)):
        command = [sys.executable, __file__, "--million", scene, str(steps), str(steering)]
        found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        peak = found["peak_bytes"] / 1e9
        ours = f"{peak:.2f} GB, {found['solve_s']:.1f} s + {found['judge_s']:.1f} s"
        name = f"{scene}, {found['poses']:,} poses solved + judged"
        lines.append(Line(name, ours, "1.5 GB", peak / 1.5, 1.0, at_least=False))
    return lines


def start_lines(sizes: Sizes) -> list[Line]:
    """How long the program takes to say how it is used, and what a check imports."""
    program = "import sys; sys.argv = ['fulltravel', '--help']; from viz.cli import main; main()"

    def run(code: str) -> float:
        start = perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
        return perf_counter() - start

    run(program), run("import typer")  # the first of each reads from disk
    pairs = [(run(program), run("import typer")) for _ in range(sizes.starts)]
    ours, reference = (statistics.median(times) for times in zip(*pairs, strict=True))
    ratio = ours / reference
    lines = [Line("fulltravel --help", f"{ours:.3f} s", f"{reference:.3f} s import typer", ratio, 1.5, at_least=False)]
    heavy = heavy_imports()
    return [*lines, Line("check imports no PyVista", f"{len(heavy)} modules", "0", float(len(heavy)), 0.0, False)]


def film_lines(sizes: Sizes) -> list[Line]:
    """A short and a long film against the bare renders of their frames; what draws is loaded only here."""
    from film_by_frame import film_cost

    lines = []
    for frames in sizes.frames:
        cost = film_cost(loaded("wren_front"), frames, sizes.film)
        label = f"film of wren_front, {sizes.film[0]}×{sizes.film[1]}, {frames} frames"
        ours, bare = (f"{1e3 * seconds:.0f} ms/frame" for seconds in cost)
        lines.append(Line(label, ours, f"{bare} bare render", cost.film / cost.bare, 1.3, at_least=False))
    return lines


def still_lines(sizes: Sizes) -> list[Line]:
    """A still by the clock, from the start of the program to its exit."""
    from still_by_time import still_cost

    cost = still_cost(SCENES / "wren_front.toml", sizes.still, sizes.still_runs)
    label = f"still of wren_front, {sizes.still[0]}×{sizes.still[1]}, start to exit, s"
    ours = f"{cost.seconds:.2f} s, {cost.processor:.2f} s of processor"
    return [Line(label, ours, f"{cost.render:.2f} s bare render", cost.seconds, 3.0, at_least=False)]


def window_lines(sizes: Sizes) -> list[Line]:
    """A change of pose in the live window, in ms of its own work beside the drawing library's render."""
    from window_by_pose import window_cost

    lines = []
    for name in ("wren_front", "parcel_rear"):
        cost = window_cost(SCENES / f"{name}.toml", sizes.window_steps)
        label = f"window, a change of pose of {name}, ms"
        lines.append(Line(label, f"{cost.step:.1f} ms", f"{cost.render:.0f} ms render", cost.step, 5.0, at_least=False))
    return lines


def heavy_imports() -> list[str]:
    """Modules of PyVista and VTK that are loaded after `fulltravel check` has run."""
    code = (
        "import contextlib, io, sys; from viz.cli import app\n"
        f"arguments = ['check', {str(SCENES / 'wren_rear.toml')!r}, '--wheel-steps', '3']\n"
        "with contextlib.redirect_stdout(io.StringIO()): app(arguments, standalone_mode=False)\n"
        "print(*[m for m in sys.modules if m.split('.')[0] in ('pyvista', 'vtk', 'vtkmodules')])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return done.stdout.split()


def print_table(lines: list[Line]) -> None:
    """Print the lines as columns."""
    rows = [("measure", "ours", "reference", "ratio", "target", "")]
    for line in lines:
        sense = "≥" if line.at_least else "≤"
        target = "" if line.target is None else f"{sense} {line.target:g}"
        rows.append((line.measure, line.ours, line.reference, f"{line.ratio:.2f}", target, line.verdict))
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


def main() -> None:
    """Measure and print; always exits 0, since a busy machine is no fault of the program."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="tiny sizes, to see that everything runs")
    parser.add_argument("--million", nargs=3, metavar=("SCENE", "WHEEL_STEPS", "STEER_STEPS"), help="one large grid")
    arguments = parser.parse_args()
    if arguments.million:
        scene, wheel_steps, steer_steps = arguments.million
        print(json.dumps(million(scene, int(wheel_steps), int(steer_steps))))
        return
    sizes = SMALL if arguments.small else Sizes()
    # A process that is started counts in its peak what its parent held: memory comes first.
    memory = million_lines(sizes)
    print_table(
        [
            *axle_lines(sizes),
            *front_lines(sizes),
            *rest_lines(sizes),
            *articulation_lines(sizes),
            *curve_lines(sizes),
            *clearance_lines(sizes),
            *memory,
            *start_lines(sizes),
            *film_lines(sizes),
            *still_lines(sizes),
            *window_lines(sizes),
        ]
    )


if __name__ == "__main__":
    main()
