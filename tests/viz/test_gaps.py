"""Gaps as they are drawn: the dimension line ends at the closest points, and the camera sees both."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import fcl
import numpy as np
import pytest
import pyvista as pv
from PIL import Image, ImageDraw
from zoo import NAMES, built, scene_data

from model.envelopes import Kind, MeasuredPart, measured_parts
from model.errors import DrawingError
from model.findings import judge
from model.members import posture
from model.meshes import mesh_of
from model.patches import touching
from model.poses import Poses
from model.solids import Ball, Rail
from model.solver import solve
from model.spatial import Array
from model.travel import Cycle, cycle, single
from model.triangles import Mesh, joined
from model.units import Length
from model.verdicts import State
from viz import style
from viz.clipping import clipped
from viz.cutaway import Cut
from viz.film import write_film
from viz.gaps import GapMark, draw_dimension, gap_lines, gap_named, pair_named, view_of
from viz.labels import Scale
from viz.marks import draw_marks
from viz.shapes import poly_data
from viz.stage import Stage
from viz.still import cut_text, state_of, verdict_text, write_still
from viz.touches import RIM, edges_of, merged, smoother

SIZE = (640, 400)


def bvh(mesh: Mesh) -> Any:
    model = fcl.BVHModel()
    model.beginModel(len(mesh.points), len(mesh.faces))
    model.addSubModel(mesh.points, mesh.faces)
    model.endModel()
    return fcl.CollisionObject(model)


@dataclass(frozen=True)
class Posed:
    part: MeasuredPart
    mesh: Mesh
    object: Any


def posed_parts(poses: Poses, pose: int = 0) -> list[Posed]:
    now = posture(poses)
    meshes = [
        (part, part.at(lambda name: (now.parts[name].rotation[pose], now.parts[name].translation[pose])))
        for part in measured_parts(poses.mechanism)
    ]
    return [Posed(part, mesh, bvh(mesh)) for part, mesh in meshes]


def apart(a: Posed, b: Posed) -> float:
    """Distance of the boxes about two parts."""
    low = np.maximum(a.mesh.points.min(axis=0), b.mesh.points.min(axis=0))
    high = np.minimum(a.mesh.points.max(axis=0), b.mesh.points.max(axis=0))
    return float(np.linalg.norm(np.maximum(low - high, 0.0)))


def nearest(a: Posed, b: Posed) -> tuple[float, Array]:
    """The distance of two parts by FCL, and their closest points (2, 3)."""
    result = fcl.DistanceResult()
    distance = fcl.distance(a.object, b.object, fcl.DistanceRequest(enable_nearest_points=True), result)
    return float(distance), np.array(result.nearest_points)


def smallest_gaps(poses: Poses, count: int) -> list[GapMark]:
    """The smallest gaps above half a mm of parts that do not move as one."""
    marks: dict[tuple[str, str], GapMark] = {}
    for a, b in combinations(posed_parts(poses), 2):
        labels = a.part.label, b.part.label
        if a.part.member == b.part.member or set(a.part.parts) & set(b.part.parts) or apart(a, b) > 40.0:
            continue
        distance, at = nearest(a, b)
        measured = tuple(side.mesh for side in (a, b) if side.part.kind is Kind.SPRING)
        mark = GapMark(labels, at, distance, State.CLOSE, 6.0, True, (), measured)
        if distance > 0.5 and (labels not in marks or distance < marks[labels].distance):
            marks[labels] = mark
    return sorted(marks.values(), key=lambda mark: mark.distance)[:count]


@pytest.fixture(scope="module", params=NAMES)
def scene(request: pytest.FixtureRequest) -> Iterator[tuple[Poses, Stage, list[GapMark]]]:
    mechanism = built(scene_data(request.param))
    poses = solve(mechanism, single(mechanism))
    with Stage(poses, SIZE) as stage:
        yield poses, stage, smallest_gaps(poses, 3)


@pytest.mark.drawing
def test_the_camera_looks_square_at_the_gap_and_sees_both_points(scene: tuple[Poses, Stage, list[GapMark]]) -> None:
    _, stage, marks = scene
    assert marks
    for mark in marks:
        stage.show(0)
        camera = stage.camera(view_of(mark), marks)
        stage.aim(camera)
        stage.hatch(mark)
        line = (mark.at[1] - mark.at[0]) / np.linalg.norm(mark.at[1] - mark.at[0])
        # The farthest that is tried is 14° off square.
        assert abs(float(camera.direction @ line)) <= np.sin(np.radians(14.1))
        solid = whole_actors(stage)
        for end, other in ((mark.at[0], mark.at[1]), (mark.at[1], mark.at[0])):
            # The ends lie in the surfaces themselves.
            hit = solid.ray_trace(end + 0.02 * (other - end), camera.position)[0]
            assert len(hit) == 0, (mark.where, stage.cut)
        seen = stage.project(mark.at)
        assert (np.abs(seen / SIZE - 0.5) < 0.4).all()
        # A picture of 1600x1000 px is two and a half times as large.
        assert np.linalg.norm(seen[1] - seen[0]) > 1.2 * min(mark.distance, 20.0)


def whole_actors(stage: Stage) -> pv.PolyData:
    """All triangles of what is drawn and is no glass, where it is drawn."""
    meshes = []
    for actor in stage._plotter.renderer.GetActors():
        data = pv.wrap(actor.GetMapper().GetInput())
        if actor.GetVisibility() and actor.GetProperty().GetOpacity() == 1.0 and data.n_cells and not data.n_lines:
            matrix = pv.array_from_vtkmatrix(actor.GetMatrix())
            faces = data.triangulate().faces.reshape(-1, 4)[:, 1:].astype(np.int64)
            meshes.append(Mesh(np.asarray(data.points) @ matrix[:3, :3].T + matrix[:3, 3], faces))
    assert len(meshes) > 10
    return pv.wrap(poly_data(joined(meshes)))


@pytest.mark.drawing
def test_marks_of_gaps_are_at_their_points_and_labels_keep_off(
    scene: tuple[Poses, Stage, list[GapMark]], tmp_path: Path
) -> None:
    poses, _, marks = scene
    (mark,) = write_still(poses, judge(poses), tmp_path / "gap.png", view=view_of(marks[0]), gaps=marks[:1], size=SIZE)
    assert mark.where == marks[0].where
    assert mark.label is not None
    with Stage(poses, (SIZE[0], SIZE[1] - Scale.of(SIZE).caption)) as stage:
        stage.aim(stage.camera(view_of(marks[0]), marks))
        ends = stage.project(marks[0].at)
    assert np.array(mark.at) == pytest.approx(ends.mean(axis=0), abs=0.5 * np.linalg.norm(ends[1] - ends[0]) + 0.5)
    left, top, right, bottom = mark.label
    for x, y in np.linspace(ends[0], ends[1], 20):
        assert not (left < x < right and top < y < bottom)


@pytest.mark.parametrize("length", [1.0, 4.0, 12.0, 60.0, 300.0])
@pytest.mark.parametrize("angle", [0.0, 0.6, np.pi / 2, 2.5])
def test_a_dimension_line_has_ticks_at_both_points_and_leaves_a_small_gap_in_sight(length: float, angle: float) -> None:
    picture = Image.new("RGB", (800, 600), style.SKY)
    way = np.array([np.cos(angle), np.sin(angle)])
    at = np.array([400.0, 300.0]) + 0.5 * length * np.array([-way, way])
    draw_dimension(ImageDraw.Draw(picture), at, State.OVER, Scale.of(picture.size))
    pixels = np.asarray(picture, dtype=int)
    inked = np.abs(pixels - style.STATES[State.OVER].colour).max(axis=2) < 40
    cross = np.array([-way[1], way[0]])
    for end in at:
        for side in (-0.7, 0.7):
            x, y = (end + side * 0.8 * Scale.of(picture.size).ring * cross).round().astype(int)
            assert inked[y - 1 : y + 2, x - 1 : x + 2].any()
    rows, columns = np.nonzero(inked)
    # The line's own run is between the points where there is room, and outside them where there is none.
    along = (np.stack([columns, rows], axis=-1) - [400, 300]) @ way
    assert along.max() == pytest.approx(0.5 * length, abs=3.0) or along.max() > 0.5 * length + 10.0
    if 10.0 < length < 20.0:
        assert not inked[298:303, 398:403].any()


def test_gap_views_are_typed_in_either_order_and_with_commas_in_names() -> None:
    labels = ["left wheel", "rail", "bracket of link, at frame"]
    assert pair_named("gap:left wheel, rail", labels) == ("left wheel", "rail")
    assert pair_named("gap: rail,left wheel ", labels) == ("rail", "left wheel")
    assert pair_named("gap:left wheel – rail", labels) == ("left wheel", "rail")
    assert pair_named("gap:bracket of link, at frame, rail", labels) == ("bracket of link, at frame", "rail")
    assert pair_named("gap:rail, bracket of link, at frame", labels) == ("rail", "bracket of link, at frame")
    mark = GapMark(("rail", "left wheel"), np.zeros((2, 3)), 4.0, State.CLOSE)
    assert gap_named("gap:left wheel, rail", [mark]) is mark
    assert gap_named(view_of(mark), [mark]) is mark


def test_a_wrong_gap_view_gets_one_sentence_with_the_nearest_names() -> None:
    one = GapMark(("rail", "left wheel"), np.zeros((2, 3)), 4.0, State.CLOSE)
    two = GapMark(("hoop", "left damper"), np.zeros((2, 3)), 4.0, State.CLOSE)
    with pytest.raises(DrawingError, match=r'no joint, part or point "left weel".*"left wheel"'):
        gap_named("gap:rail, left weel", [one, two])
    with pytest.raises(DrawingError, match="names no two parts"):
        gap_named("gap:rail", [one, two])
    with pytest.raises(DrawingError, match=r'No gap is measured between "rail" and "hoop".*left wheel'):
        gap_named("gap:rail, hoop", [one, two])


def test_a_gap_in_words() -> None:
    close = GapMark(("left wheel", "rail"), np.zeros((2, 3)), 6.24, State.CLOSE, 25.0, True)
    assert gap_lines(close, Length.MM) == ["close: left wheel – rail", "gap 6.2 mm, wanted 25 mm (typical)"]
    deep = GapMark(("left wheel", "rail"), np.zeros((2, 3)), -3.2, State.OVER, 10.0)
    assert gap_lines(deep, Length.MM) == ["touches: left wheel – rail", "3.2 mm into each other, wanted 10 mm"]
    assert gap_lines(deep, Length.INCH)[1] == "0.13 in into each other, wanted 0.39 in"
    bare = GapMark(("a", "b"), np.zeros((2, 3)), 0.0, State.OVER)
    assert gap_lines(bare, Length.MM) == ["touches: a – b", "no gap"]


def test_what_is_cut_away_is_said() -> None:
    assert cut_text(Cut()) == []
    assert cut_text(Cut(("rail",), ("left wheel",))) == ["cut away: rail", "seen through: left wheel"]
    assert cut_text(Cut(("a", "b", "c", "d", "e"))) == ["cut away: a, b, c and 2 more"]


@pytest.mark.parametrize("gap", [1.0, 30.0, 150.0])
def test_labels_of_gaps_keep_off_each_other_and_the_dimension_lines(gap: float) -> None:
    picture = Image.new("RGB", (1200, 750), style.SKY)
    marks, ends = [], []
    for number in range(6):
        marks.append(GapMark((f"part {number}", "rail"), np.zeros((2, 3)), 4.0, State.CLOSE))
        middle = np.array([500.0 + 30 * number, 300.0 + 40 * number])
        ends.append(middle + 0.5 * gap * np.array([[-1.0, 0.2], [1.0, -0.2]]))
    nothing = np.zeros((0, 2)), np.zeros(0)
    busy = np.zeros((750, 1200), dtype=bool)
    drawn = draw_marks(picture, (), *nothing, busy, Length.MM, gaps=list(zip(marks, ends, strict=True)))
    boxes = [mark.label for mark in drawn if mark.label is not None]
    assert len(boxes) == 6
    for a, b in combinations(boxes, 2):
        assert not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3])
    for left, top, right, bottom in boxes:
        for both in ends:
            x, y = np.linspace(both[0], both[1], 50).T
            assert not ((x > left) & (x < right) & (y > top) & (y < bottom)).any()


def test_a_cut_leaves_the_far_side_and_a_face() -> None:
    """A ball of radius 50 cut 20 before its middle: the face is a disc of radius √(50² − 20²) (D)."""
    ball = mesh_of(Ball(np.zeros(3), 50.0))
    body, face = clipped(ball, np.array([20.0, 0.0, 0.0]), np.array([-1.0, 0.0, 0.0]))
    assert body.points[:, 0].max() == pytest.approx(20.0, abs=1e-4)  # the library keeps single precision
    assert face.points[:, 0] == pytest.approx(np.full(len(face.points), 20.0), abs=1e-4)
    radius = np.linalg.norm(face.points[:, 1:], axis=1).max()
    # The ball is a polyhedron: its chords are within a tenth of a mm of the sphere, and the disc's rim is slanted.
    assert radius == pytest.approx(np.sqrt(50.0**2 - 20.0**2), abs=0.2)


@pytest.fixture(scope="module")
def touching_scene() -> tuple[Poses, GapMark]:
    """A rail of the frame moved into a wheel, at ride height."""
    data = scene_data("wren_front")
    mechanism = built(data)
    poses = solve(mechanism, single(mechanism))
    wheel = next(
        posed for posed in posed_parts(poses) if posed.part.kind is Kind.TYRE and posed.part.label == "left wheel"
    )
    low, high = wheel.mesh.points.min(axis=0), wheel.mesh.points.max(axis=0)
    middle = 0.5 * (low + high)
    post = mesh_of(
        Rail(np.array([[middle[0], middle[1], high[2] - 8.0], [middle[0], middle[1], high[2] + 80]]), (30.0, 30.0))
    )
    at = np.array([[middle[0], middle[1], high[2]], [middle[0], middle[1], high[2] - 8.0]])
    patches = touching(wheel.mesh, post), touching(post, wheel.mesh)
    return poses, GapMark(("left wheel", "rail"), at, -8.0, State.OVER, 25.0, True, patches)


@pytest.mark.drawing
def test_where_parts_touch_the_patch_is_hatched_over_everything(touching_scene: tuple[Poses, GapMark]) -> None:
    poses, mark = touching_scene
    assert all(len(patch.faces) for patch in mark.patches)
    with Stage(poses, SIZE) as stage:
        stage.aim(stage.camera(view_of(mark), [mark]))
        plain = np.asarray(stage.picture(), dtype=int)
        stage.hatch(mark)
        hatched = np.asarray(stage.picture(), dtype=int)
        seen = np.concatenate([stage.project(patch.points) for patch in mark.patches])
        # Nothing of the pair was cut: parts that overlap are looked through.
        assert not {"left wheel", "rail"} & set(stage.cut.away)
        stage.show(0)
        again = np.asarray(stage.picture(), dtype=int)
    changed = np.abs(hatched - plain).max(axis=2) > 12
    rows, columns = np.nonzero(changed)
    assert len(rows) > 200
    # Half the rim's width is outside the patch, and half a px is read as one.
    room = 0.5 * RIM[0][0] + 1.0
    assert (np.array([columns.min(), rows.min()]) >= seen.min(axis=0) - room).all()
    assert (np.array([columns.max(), rows.max()]) <= seen.max(axis=0) + room).all()
    # The rim is bright beside whatever it lies on.
    assert (np.abs(hatched - style.PAPER).max(axis=2) < 30)[changed].mean() > 0.02
    # A pattern and not only a colour: full lines and paler ground between them.
    red = np.abs(hatched - style.TOUCH).max(axis=2) < 30
    assert 0.1 < red[changed].mean() < 0.9
    assert np.abs(again - plain).max() == 0


def test_the_rim_of_a_patch_is_its_outline_without_teeth(touching_scene: tuple[Poses, GapMark]) -> None:
    """The post's end in the tyre is a square of 30 mm: one closed line about it (D)."""
    patch = merged(touching_scene[1].patches[1])
    edges = edges_of(patch.faces)
    # Every point of a closed line has two edges.
    assert set(np.bincount(edges.ravel())) <= {0, 2}

    def length(points: Array) -> float:
        return float(np.linalg.norm(points[edges[:, 0]] - points[edges[:, 1]], axis=1).sum())

    rough, smooth = length(patch.points), length(smoother(patch.points, edges))
    assert 0.75 * rough < smooth < rough
    inside = np.setdiff1d(np.arange(len(patch.points)), edges)
    assert np.array_equal(smoother(patch.points, edges)[inside], patch.points[inside])


def test_a_gap_that_touches_decides_the_caption(touching_scene: tuple[Poses, GapMark]) -> None:
    poses, mark = touching_scene
    verdict = judge(poses)
    assert state_of(verdict) is State.CLEAR
    assert state_of(verdict, [mark]) is State.OVER
    assert verdict_text(verdict, [mark]) == "1 over"


@pytest.mark.drawing
def test_films_ring_gaps_and_look_at_one(touching_scene: tuple[Poses, GapMark], tmp_path: Path) -> None:
    _, mark = touching_scene
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, cycle(mechanism, Cycle.BOTH, 2))
    asked = []

    def gaps(pose: int) -> list[GapMark]:
        asked.append(pose)
        return [mark]

    write_film(poses, tmp_path / "a.webp", size=(320, 200), gaps=gaps)
    assert asked == [0, 1]
    write_film(poses, tmp_path / "b.webp", size=(320, 200))
    write_film(poses, tmp_path / "c.webp", size=(320, 200), gaps=gaps, view=view_of(mark))
    first, second, third = (
        np.asarray(Image.open(tmp_path / f"{name}.webp").convert("RGB"), dtype=int) for name in "abc"
    )
    assert np.abs(first - second).max() > 60
    assert np.abs(first - third).max() > 60
    with pytest.raises(DrawingError, match="no joint, part or point"):
        write_film(poses, tmp_path / "d.webp", size=(320, 200), view="gap:rail, left wheel")
