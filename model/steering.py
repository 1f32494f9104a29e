"""Steering: a rack that slides, or a pitman arm that turns, with an idler and a centre link where there are any."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model import mechanism as made
from model import scene as written
from model.errors import SceneError
from model.mechanism import FRAME, Body, Drive, End, Mechanism, Motion, Square
from model.mobility import ride_twists
from model.spatial import Array, unit
from model.workbench import SAME_PLACE, Workbench


def steering(bench: Workbench, entry: written.Steering) -> None:
    """A driven rack or pitman arm, its drive, and what joins it to the other side."""
    left, right = entry.lock_left or entry.lock, entry.lock_right or entry.lock
    where = "[steering]"
    if left is None or right is None:
        bench.names.complain(where, "needs lock, or lock_left and lock_right: how far it goes each way.")
        return
    bench.drives.append(Drive("steer", -1.0, 1.0))
    if entry.kind == "rack":
        if entry.pitman is not None or entry.idler is not None:
            bench.names.complain(where, 'is a rack and has no pitman or idler; use kind = "pitman" or leave them out.')
        axis = bench.names.direction(f"{where} axis", entry.axis, None)
        screw = made.Screw(axis, np.zeros(3), False, left * bench.mm, -right * bench.mm)
        bench.bodies["rack"] = Body("rack", Motion.DRIVEN, screw)
        return
    if entry.pitman is None:
        bench.names.complain(where, 'has kind = "pitman" and needs a pitman = { pivot, axis, end }.')
        return
    if max(left, right) >= 90.0:
        bench.names.complain(where, f"has a lock of {max(left, right):g}°, expected less than 90 each way, in degrees.")
    pivot, axis, _ = _crank(bench, f"{where} pitman", entry.pitman, "pitman arm")
    screw = made.Screw(axis, pivot, True, float(np.radians(left)), -float(np.radians(right)))
    bench.bodies["pitman arm"] = Body("pitman arm", Motion.DRIVEN, screw)
    if entry.idler is not None:
        _centre_link(bench, entry.pitman, entry.idler)


def _crank(bench: Workbench, where: str, crank: written.Crank, name: str) -> tuple[Array, Array, Array]:
    pivot = bench.place(f"{where}.pivot", crank.pivot, FRAME, None)
    axis = bench.names.direction(f"{where}.axis", crank.axis, None)
    end = bench.place(f"{where}.end", crank.end, name, None)
    if np.linalg.norm(np.cross(end - pivot, axis)) < SAME_PLACE:
        bench.names.complain(where, "has its end on its own shaft; move the end off the shaft's line.")
    return pivot, axis, end


def _centre_link(bench: Workbench, pitman: written.Crank, idler: written.Crank) -> None:
    """A bar between two cranks: it shares a point with each and does not roll about its own length."""
    _, axis, end = _crank(bench, "[steering] pitman", pitman, "pitman arm")
    pivot, idler_axis, idler_end = _crank(bench, "[steering] idler", idler, "idler arm")
    bench.hinge("idler arm", FRAME, "idler arm", (pivot, pivot + 100.0 * idler_axis))
    bench.together("centre link", "pitman arm", "centre link", end, np.eye(3))
    bench.together("centre link", "idler arm", "centre link", idler_end, np.eye(3))
    flat = np.cross(axis, idler_end - end)
    if np.linalg.norm(flat) < SAME_PLACE:
        bench.names.complain("[steering]", "has its centre link along the pitman's shaft; move the idler's end.")
        return
    arm, link = (list(bench.bodies).index(name) for name in ("pitman arm", "centre link"))
    bench.rows.append(Square("centre link", arm, axis, link, unit(flat)))
    for crank, part, direction in ((pitman, "pitman arm", axis), (idler, "idler arm", idler_axis)):
        where = f"[steering] {part.split()[0]}.joint"
        place = bench.names.point(where, crank.end, None)[1]
        joint = bench.names.joint(where, crank.joint)
        bench.pins.append(made.Pin("centre link", End(f"at {part}", crank.end, place, part, joint, direction)))


def _how_to_steer(mechanism: Mechanism) -> str:
    """What to do where the driven part moves no wheel."""
    names = [body.name for body in mechanism.bodies]
    if "rack" in names:
        return 'add a tie rod with on = "rack", or check the axis along which it slides.'
    end = "centre link" if "centre link" in names else "pitman arm"
    return f'add a link with on = "{end}" that leads to the wheels, or check the axis about which the pitman arm turns.'


def steered_to_the_left(mechanism: Mechanism) -> Mechanism:
    """Choose the driven body's sense so that a positive share of lock turns the wheels to the left (ISO 8855)."""
    if mechanism.steer is None:
        return mechanism
    turned = ride_twists(mechanism, mechanism.steer)
    rate = sum(float(turned[wheel.on][2]) for wheel in mechanism.wheels if wheel.on in turned)
    if abs(rate) < 1e-6:
        raise SceneError(f"[steering] moves no wheel: {_how_to_steer(mechanism)}")
    if rate > 0.0:
        return mechanism
    bodies = tuple(
        body
        if body.screw is None
        else replace(body, screw=replace(body.screw, left=-body.screw.left, right=-body.screw.right))
        for body in mechanism.bodies
    )
    return replace(mechanism, bodies=bodies)
