"""A whole car as JSON: weights in kg and N, lengths in mm, angles in degrees, moments in N·m."""

from __future__ import annotations

import math
from typing import Any

from model.units import KG_FORCE
from model.vehicle import AxleReading, WholeCar
from model.wholecar import LoadTransfer, Rolling
from viz.cautions import CAUTIONS
from viz.reviewjson import plain


def vehicle_json(car: WholeCar, file: str) -> dict[str, Any]:
    """Everything there is to say of a car."""
    return {
        "format": "fulltravel vehicle 1",
        "vehicle": file,
        "title": car.vehicle.title,
        "weight_kg": plain(car.weight / KG_FORCE),
        "front_percent": plain(100.0 * car.front_share),
        "front": _axle(car.front),
        "rear": _axle(car.rear),
        "frequency_rear_over_front": plain(car.frequency_ratio),
        "tips_over_at_g": None if car.rolling is None else plain(car.tips_at),
        "braking_transfer_n_per_g": plain(car.transfer),
        "roll": None if car.rolling is None else _roll(car.rolling),
        "cautions": list(CAUTIONS),
    }


def _axle(axle: AxleReading) -> dict[str, Any]:
    at_ride = axle.at_ride
    return {
        "title": axle.title,
        "weight_kg": plain(at_ride.weight / KG_FORCE),
        "unsprung_kg": plain(at_ride.unsprung / KG_FORCE),
        "wheel_rate_n_per_mm": plain(at_ride.wheel_rate),
        "tyre_rate_n_per_mm": None if at_ride.tyre_rate is None else plain(at_ride.tyre_rate),
        "ride_frequency_hz": plain(axle.frequency),
        "track_mm": plain(at_ride.track),
        "roll_centre_height_mm": plain(at_ride.roll_centre),
        "roll_stiffness_springs_nm_per_deg": plain(1e-3 * math.radians(at_ride.springs)),
        "roll_stiffness_bar_nm_per_deg": plain(1e-3 * math.radians(at_ride.bar)),
        "anti_braking_percent": plain(100.0 * axle.anti_brake),
        "anti_driving_percent": None if axle.anti_drive is None else plain(100.0 * axle.anti_drive),
    }


def _roll(roll: Rolling) -> dict[str, Any]:
    return {
        "body_over_axis_mm": plain(roll.arm),
        "axis_rise_to_rear_deg": plain(math.degrees(roll.axis)),
        "lean_deg_per_g": plain(math.degrees(roll.gradient)),
        "front_stiffness_percent": plain(100.0 * roll.front_share),
        "front_transfer_percent": plain(100.0 * roll.front_transfer_share),
        "front": _transfer(roll.front),
        "rear": _transfer(roll.rear),
    }


def _transfer(one: LoadTransfer) -> dict[str, Any]:
    return {
        "through_links_n_per_g": plain(one.through_roll_centre),
        "through_springs_n_per_g": plain(one.through_springs),
        "unsprung_n_per_g": plain(one.unsprung),
        "total_n_per_g": plain(one.total),
    }
