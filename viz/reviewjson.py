"""What a review holds beside its findings, as JSON; docs/outputs.md documents the keys. mm, N, N·m, degrees, always."""

from __future__ import annotations

import math
from typing import Any

from model.alignment import OutOfLine
from model.clocking import BetterClock
from model.drivelines import ShaftReport
from model.hangers import BarTwist
from model.holding import Fight, JointLoad, Peak, SteeringLoad
from model.measures import place_text
from model.reaches import Reach
from model.review import Review
from model.studs import StudWays
from model.windup import RideShift, WindUp, Wound


def plain(value: float) -> float:
    """A number to a thousandth: finer than any of these can be made or measured, and no −0."""
    return round(value, 3) + 0.0


def review_json(review: Review) -> dict[str, Any]:
    """The lists that stand beside the findings; each is empty where a scene has nothing of the kind."""
    return {
        "usable_travel": [reach_json(reach) for reach in review.reaches],
        "held_twice": [_fight(fight) for fight in review.fights],
        "better_clocks": [_clock(clock) for clock in review.better_clocks],
        "ball_joints": [_stud(stud) for stud in review.studs],
        "bonded_bushes": [_bush(bush) for bush in review.wind_ups],
        "ride_height_shifts": [_shift(shift) for shift in review.ride_shifts],
        "out_of_line": [_arm(arm) for arm in review.out_of_line],
        "shafts": [_shaft(shaft) for shaft in review.shafts],
        "bars": [_bar(bar) for bar in review.bar_twists],
    }


def _degrees(radians: float | None) -> float | None:
    return None if radians is None else plain(math.degrees(radians))


def _rounded(value: float | None) -> float | None:
    return None if value is None else plain(value)


def _newton_metres(newton_mm: float | None) -> float | None:
    return None if newton_mm is None else plain(newton_mm / 1000.0)


def _peak(peak: Peak, key: str, scale: float = 1.0) -> dict[str, Any]:
    return {key: plain(peak.value * scale), "pose_number": peak.pose}


def reach_json(reach: Reach) -> dict[str, Any]:
    """How far one way of moving goes, and what stops it."""
    scale, unit = (100.0, "percent") if not reach.wheels else (1.0, "mm")
    return {
        "way": str(reach.way),
        "wheels": list(reach.wheels),
        "steer_percent": plain(100.0 * reach.steer),
        f"asked_{unit}": plain(scale * reach.asked),
        f"usable_{unit}": plain(scale * reach.usable),
        f"unharmed_{unit}": plain(scale * reach.unharmed),
        "stops": [
            {
                "cause": str(stop.cause),
                "where": stop.where,
                f"at_{unit}": plain(scale * stop.amount),
                "hard": stop.cause.hard,
                "limit_is_typical": stop.typical,
            }
            for stop in reach.stops
        ],
    }


def _fight(fight: Fight) -> dict[str, Any]:
    return {
        "verdict": str(fight.verdict),
        "both_together": None if fight.together is None else str(fight.together),
        "crossed": None if fight.crossed is None else str(fight.crossed),
        "members": list(fight.members),
        "spare_rows": fight.spare,
        "wheels": fight.wheels,
        "freedoms_ride": fight.freedoms_ride,
        "freedoms_least": fight.freedoms_least,
        "freedoms_most": fight.freedoms_most,
        "misfit": _peak(fight.misfit, "length_mm") | {"part": fight.worst_member},
        "wheel_force": _peak(fight.wheel_force, "force_n") | {"wheel": fight.wheel},
        "steering": None if fight.steering is None else _steering(fight.steering),
        "roll_moment": None if fight.roll_moment is None else _peak(fight.roll_moment, "moment_nm", 1e-3),
        "joints": [_load(joint) for joint in fight.joints],
    }


def _steering(load: SteeringLoad) -> dict[str, Any]:
    key, scale = ("moment_nm", 1e-3) if load.turns else ("force_n", 1.0)
    return _peak(load.most, key, scale) | {"part": load.part}


def _load(joint: JointLoad) -> dict[str, Any]:
    return {
        "where": place_text(joint.member, joint.end),
        "deflection": _peak(joint.deflection, "length_mm"),
        "force": _peak(joint.force, "force_n"),
        "moment": _peak(joint.moment, "moment_nm", 1e-3),
    }


def _clock(clock: BetterClock) -> dict[str, Any]:
    return {
        "part": clock.link,
        "now_deg": _degrees(clock.now),
        "better_deg": _degrees(clock.better),
        "share_now": plain(clock.share_now),
        "share_then": plain(clock.share_then),
        "given_back_deg": _degrees(clock.given_back),
    }


def _stud(stud: StudWays) -> dict[str, Any]:
    return {
        "where": place_text(stud.member, stud.end),
        "ride_deg": _degrees(stud.ride),
        "ways": [
            {"way": str(way.way), "swing_deg": _degrees(way.swing), "left_deg": _degrees(way.left)} for way in stud.ways
        ],
        "furthest": None if stud.furthest is None else str(stud.furthest),
    }


def _bush(bush: WindUp) -> dict[str, Any]:
    limit = bush.limit
    return {
        "where": place_text(bush.member, bush.end),
        "limit_deg": None if limit is None else _degrees(limit.angle),
        "limit_is_typical": limit is not None and limit.typical,
        "tightened_in_scene": bush.own if isinstance(bush.own, str) else plain(bush.own),
        "droop_locks_at_mm": _rounded(bush.droop_locks_at),
        "bump_locks_at_mm": _rounded(bush.bump_locks_at),
        "tightened": [_wound(wound) for wound in bush.wound],
    }


def _wound(wound: Wound) -> dict[str, Any]:
    places = ("droop", "ride", "bump")
    torque = wound.torque
    return {
        "at": wound.tightened if isinstance(wound.tightened, str) else plain(wound.tightened),
        "locks_at_mm": _rounded(wound.locks_at),
        **{f"{place}_deg": _degrees(angle) for place, angle in zip(places, wound.wind_up, strict=True)},
        **{f"{place}_nm": None if torque is None else _newton_metres(torque[k]) for k, place in enumerate(places)},
        "share_of_limit": _rounded(wound.share),
    }


def _shift(shift: RideShift) -> dict[str, Any]:
    return {
        "wheel": shift.wheel,
        "tightened": shift.tightened,
        "higher_mm": _rounded(shift.higher),
        "why_not_known": None if shift.why is None else str(shift.why),
        "lacking": list(shift.lacking),
    }


def _arm(arm: OutOfLine) -> dict[str, Any]:
    return {
        "part": arm.member,
        "between_bolts_deg": _degrees(arm.between),
        "bushes": [
            {
                "where": place_text(arm.member, bush.end),
                "off_line_deg": _degrees(bush.off_line),
                "cocking_deg": _degrees(bush.cocking),
                "moment_nm": _newton_metres(bush.moment),
            }
            for bush in arm.bushes
        ],
    }


def _shaft(shaft: ShaftReport) -> dict[str, Any]:
    joints = zip(shaft.places, shaft.true, shaft.side, shaft.plan, shaft.largest, strict=True)
    return {
        "part": shaft.name,
        "joints": [
            {
                "place": place,
                "ride_deg": _degrees(true),
                "ride_rear_view_deg" if shaft.across else "ride_side_view_deg": _degrees(side),
                "ride_plan_view_deg": _degrees(plan),
                "largest_deg": _degrees(largest),
            }
            for place, true, side, plan, largest in joints
        ],
        "difference_deg": _degrees(shaft.difference),
        "phase_deg": _degrees(shaft.phase),
        "best_phase_deg": _degrees(shaft.best_phase),
        "fluctuation": None if shaft.fluctuation is None else round(shaft.fluctuation, 6),
        "best_fluctuation": None if shaft.best_fluctuation is None else round(shaft.best_fluctuation, 6),
        "equivalent_deg": _degrees(shaft.equivalent),
        "speed_rpm": _rounded(shaft.speed),
        "acceleration_rad_per_s2": _rounded(shaft.acceleration),
        "most_difference_deg": _degrees(shaft.most_difference),
        "most_fluctuation": None if shaft.most_fluctuation is None else round(shaft.most_fluctuation, 6),
        "most_acceleration_rad_per_s2": _rounded(shaft.most_acceleration),
        "shortest_mm": plain(shaft.shortest),
        "longest_mm": plain(shaft.longest),
        "engaged_mm": _rounded(shaft.engaged),
        "room_in_mm": _rounded(shaft.room_in),
        "room_out_mm": _rounded(shaft.room_out),
    }


def _bar(bar: BarTwist) -> dict[str, Any]:
    return {
        "part": bar.bar,
        "left_low_deg": _degrees(bar.left[0]),
        "left_high_deg": _degrees(bar.left[1]),
        "right_low_deg": _degrees(bar.right[0]),
        "right_high_deg": _degrees(bar.right[1]),
        "twist_deg": _degrees(bar.twist),
        "pose_number": bar.pose,
        "goes_over_centre": bar.flips,
    }
