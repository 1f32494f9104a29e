"""A whole car from two scenes: hand formulas on the scenes' own curves, and what is wrong with a vehicle file."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from model.assembly import assemble
from model.curves import curve
from model.errors import SceneError
from model.mechanism import Mechanism
from model.reading import read_scene
from model.solver import solve
from model.travel import single
from model.units import KG_FORCE
from model.vehicle import whole_car
from model.vehiclefile import Vehicle, WholeWeight, read_vehicle

VEHICLES = Path(__file__).parents[2] / "scenes" / "vehicles"


def both(vehicle: Vehicle) -> tuple[Mechanism, Mechanism]:
    return assemble(read_scene(Path(vehicle.front))), assemble(read_scene(Path(vehicle.rear)))


@pytest.fixture(scope="module")
def wren() -> tuple[Vehicle, Mechanism, Mechanism]:
    vehicle = read_vehicle(VEHICLES / "wren.toml")
    return vehicle, *both(vehicle)


def test_anti_dive_is_brake_share_times_slope_times_wheelbase_over_height(
    wren: tuple[Vehicle, Mechanism, Mechanism],
) -> None:
    """Builder's log in facts of the trade: share · tan a · WB/h; here with the slope of the scene's own linkage."""
    vehicle, front, rear = wren
    car = whole_car(vehicle, front, rear)
    at_ride = solve(front, single(front))
    slope = math.tan(float(curve(at_ride, "braking force angle").values[0]))
    assert car.front.anti_brake == pytest.approx(0.64 * slope * 2350.0 / 460.0)
    driven = solve(rear, single(rear))
    angles = [float(curve(driven, "drive force angle", wheel).values[0]) for wheel in ("left wheel", "right wheel")]
    # A rear-drive car: all of the force is at the rear.
    assert car.rear.anti_drive == pytest.approx(float(np.mean(-np.tan(angles))) * 2350.0 / 460.0)
    assert car.front.anti_drive is None


def test_frequencies_are_those_of_a_mass_on_a_spring(wren: tuple[Vehicle, Mechanism, Mechanism]) -> None:
    """f = √(k/m)/2π (McLean, Engineering Mechanics, 19-2) with N/mm and kg."""
    vehicle, front, rear = wren
    car = whole_car(vehicle, front, rear)
    for axle in (car.front, car.rear):
        mass = 0.5 * axle.at_ride.sprung / KG_FORCE
        assert axle.frequency == pytest.approx(math.sqrt(1000.0 * axle.at_ride.wheel_rate / mass) / (2.0 * math.pi))
    assert car.frequency_ratio == pytest.approx(car.rear.frequency / car.front.frequency)


def test_weights_add_up(wren: tuple[Vehicle, Mechanism, Mechanism]) -> None:
    """924 kg with 44.8 % in front; what moves under 1 g is W h / L."""
    car = whole_car(*wren)
    assert car.weight == pytest.approx(924.0 * KG_FORCE)
    assert car.front_share == pytest.approx(0.448)
    assert car.transfer == pytest.approx(924.0 * KG_FORCE * 460.0 / 2350.0)


def test_the_bar_is_in_the_front_alone(wren: tuple[Vehicle, Mechanism, Mechanism]) -> None:
    """Without its bar the Wren leans more, and less of its load transfer is in front."""
    vehicle, front, rear = wren
    car, bare = whole_car(vehicle, front, rear), whole_car(vehicle, replace(front, bars=()), rear)
    assert car.rear.at_ride.bar == bare.front.at_ride.bar == 0.0
    assert car.rolling is not None
    assert bare.rolling is not None
    assert bare.rolling.gradient > car.rolling.gradient
    assert bare.rolling.front_transfer_share < car.rolling.front_transfer_share


def test_inch_and_mm_are_the_same_car(wren: tuple[Vehicle, Mechanism, Mechanism]) -> None:
    """A vehicle file in inch and lb; 1 in = 25.4 mm, 1 lb = 0.45359237 kg (international agreement of 1959)."""
    vehicle, front, rear = wren
    inch = Vehicle.model_validate(
        vehicle.model_dump()
        | {
            "units": "in",
            "wheelbase": vehicle.wheelbase / 25.4,
            "centre_of_gravity_height": vehicle.centre_of_gravity_height / 25.4,
            "weights": {"total": 924.0 / 0.45359237, "front_percent": 44.8},
        }
    )
    one, other = whole_car(vehicle, front, rear), whole_car(inch, front, rear)
    assert one.weight == pytest.approx(other.weight)
    assert one.rolling is not None
    assert other.rolling is not None
    assert one.rolling.gradient == pytest.approx(other.rolling.gradient)


@pytest.mark.parametrize("name", ["wren", "tarn", "parcel"])
def test_our_cars_stand(name: str) -> None:
    """Every vehicle of ours is complete and held up, and no axle takes a negative share."""
    vehicle = read_vehicle(VEHICLES / f"{name}.toml")
    car = whole_car(vehicle, *both(vehicle))
    assert car.rolling is not None
    assert 0.0 < car.rolling.front_transfer_share < 1.0
    assert 0.3 < car.front_share < 0.7


CORNERS = {"front_left": 200.0, "front_right": 210.0, "rear_left": 250.0, "rear_right": 255.0}


@pytest.mark.parametrize(
    ("weights", "said"),
    [
        ({"total": 900.0}, "needs total and front_percent"),
        ({"front_left": 200.0, "front_right": 210.0}, "has front_left and front_right and no rear_left and rear_right"),
        (CORNERS | {"total": 1000.0}, "has a total of 1000, and its corners add up to 915"),
        (CORNERS | {"front_percent": 60.0}, "of its corners 44.8 % stand in front"),
    ],
)
def test_weights_that_do_not_add_up(weights: dict[str, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        WholeWeight.model_validate(weights)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("wheelbase = 2350", "", "the file has no wheelbase, which it needs; add it"),
        ("wheelbase", "wheel_base", 'the file has the unknown table or key "wheel_base"; did you mean "wheelbase"?'),
        ('front = "../wren_front.toml"', 'front = "wren.toml"', 'front is "wren.toml", which is not a file beside it'),
        ('drive = "rear"', 'drive = "all"', "needs drive_front_percent"),
        ('drive = "rear"', 'drive = "reer"', 'drive is "reer", which is not known; did you mean "rear"?'),
        ("brake_front_percent = 64", "brake_front_percent = 640", "brake_front_percent is 640, expected 100 or less"),
    ],
)
def test_what_is_wrong_with_a_vehicle_file(tmp_path: Path, old: str, new: str, said: str) -> None:
    text = (VEHICLES / "wren.toml").read_text(encoding="utf-8")
    assert text.count(old) >= 1
    folder = tmp_path / "vehicles"
    folder.mkdir()
    for scene in ("wren_front.toml", "wren_rear.toml"):
        (tmp_path / scene).write_bytes((VEHICLES.parent / scene).read_bytes())
    file = folder / "mine.toml"
    file.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(SceneError) as caught:
        read_vehicle(file)
    (complaint,) = caught.value.complaints
    assert said in complaint
    assert complaint.startswith(f"{file}")


def test_a_scene_is_no_vehicle() -> None:
    scene = VEHICLES.parent / "wren_front.toml"
    with pytest.raises(SceneError, match="is a scene, expected a vehicle file that names two of them"):
        read_vehicle(scene)


def test_what_a_scene_lacks(wren: tuple[Vehicle, Mechanism, Mechanism]) -> None:
    vehicle, front, rear = wren
    with pytest.raises(SceneError, match=r'front: "Wren roadster, front" has no \[weights\]'):
        whole_car(vehicle, replace(front, weights=None), rear)
    with pytest.raises(SceneError, match='rear: "Wren roadster, rear" has no spring to stand on'):
        whole_car(vehicle, front, replace(rear, coilovers=()))
    heavy = vehicle.model_copy(update={"weights": WholeWeight(total=1200.0, front_percent=50.0)})
    with pytest.raises(
        SceneError, match=r'puts 600 kg on this axle, and \[weights\] of "Wren roadster, front" say 414 kg'
    ):
        whole_car(heavy, front, rear)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("centre_of_gravity_height", 46.0, "centre_of_gravity_height is 46 mm, expected 171 to 1425 mm"),
        ("wheelbase", 92.5, "wheelbase is 92.5 mm, expected 855 to 7125 mm"),
    ],
)
def test_a_lost_digit_or_another_unit(
    wren: tuple[Vehicle, Mechanism, Mechanism], key: str, value: float, said: str
) -> None:
    vehicle, front, rear = wren
    with pytest.raises(SceneError) as caught:
        whole_car(vehicle.model_copy(update={key: value}), front, rear)
    assert caught.value.complaints[0].startswith(said)


def test_it_tips_over_where_its_weight_and_its_lean_outweigh_half_its_track(
    wren: tuple[Vehicle, Mechanism, Mechanism],
) -> None:
    """A rigid car tips at track / 2 h (statics); one that leans about its roll axis somewhat earlier."""
    car = whole_car(*wren)
    track = 0.5 * (car.front.at_ride.track + car.rear.at_ride.track)
    assert 0.8 < car.tips_at / (track / (2.0 * 460.0)) < 1.0


def test_a_vehicle_is_no_scene() -> None:
    with pytest.raises(SceneError, match="is a vehicle file, expected a scene"):
        read_scene(VEHICLES / "wren.toml")
