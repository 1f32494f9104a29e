"""The command `vehicle`: its tables, its words and its JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PIL import Image

from model.assembly import assemble
from model.errors import CallError, FulltravelError, SceneError
from model.limits import FREQUENCY_RATIO, RIDE_FREQUENCY
from model.reading import read_scene
from model.units import Length
from model.vehicle import whole_car
from model.vehiclefile import read_vehicle
from viz.commands.vehicle import vehicle

SCENES = Path(__file__).parents[2] / "scenes"
WREN, TARN = SCENES / "vehicles" / "wren.toml", SCENES / "vehicles" / "tarn.toml"


def printed(capsys: pytest.CaptureFixture[str], file: Path, **asked: object) -> str:
    vehicle(file, **asked)  # type: ignore[arg-type]
    return capsys.readouterr().out


def test_json_holds_what_the_tables_say(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    output = tmp_path / "wren.json"
    text = printed(capsys, WREN, json_file=str(output))
    found = json.loads(output.read_text(encoding="utf-8"))
    assert found["format"] == "fulltravel vehicle 1"
    assert f"{found['front']['ride_frequency_hz']:.2f} Hz" in text
    assert f"{found['roll']['lean_deg_per_g']:.1f}°" in text
    assert f"{found['rear']['anti_driving_percent']:.0f} %" in text
    assert f"{found['front']['wheel_rate_n_per_mm']:.1f} N/mm" in text
    # Definition: the three ways add up.
    for axle in (found["roll"]["front"], found["roll"]["rear"]):
        ways = [axle[key] for key in ("through_links_n_per_g", "through_springs_n_per_g", "unsprung_n_per_g")]
        assert sum(ways) == pytest.approx(axle["total_n_per_g"], abs=2e-3)  # each is rounded to a thousandth
    assert found["weight_kg"] == pytest.approx(924.0)
    assert found["front"]["anti_driving_percent"] is None
    assert len(found["cautions"]) > 2


def test_json_on_the_screen_is_all_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert json.loads(printed(capsys, WREN, json_file="-"))["title"] == "Wren roadster"


def test_inch_and_pound(capsys: pytest.CaptureFixture[str]) -> None:
    """924 kg are 2,037 lb (0.45359237 kg a pound, agreement of 1959)."""
    text = printed(capsys, WREN, units=Length.INCH)
    assert "of 2037 lb in front" in text
    assert "lbf/in" in text
    assert " kg" not in text
    assert " mm" not in text


def test_typical_ranges_are_said_to_be_typical(capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(capsys, TARN)
    assert "* typical of road cars: common practice, no source" in text
    assert "leans a lot" in text
    assert "never on a jack alone" in text


def test_readings_turn_at_their_bounds() -> None:
    soft, comfortable, firm, hard = RIDE_FREQUENCY.words
    values = (0.99, 1.0, 1.49, 1.5, 2.0, 2.01)
    assert [RIDE_FREQUENCY.word(value) for value in values] == [soft, comfortable, comfortable, firm, firm, hard]
    assert [FREQUENCY_RATIO.word(value) for value in (0.9, 1.0, 1.25, 1.3)] == [
        FREQUENCY_RATIO.words[0],
        FREQUENCY_RATIO.words[1],
        FREQUENCY_RATIO.words[1],
        FREQUENCY_RATIO.words[2],
    ]


def test_the_vehicle_and_its_scenes_are_not_written_over() -> None:
    before = WREN.read_bytes()
    with pytest.raises(CallError, match="is a file that is read from"):
        vehicle(WREN, json_file=str(WREN))
    assert WREN.read_bytes() == before


def test_what_is_wrong_names_the_vehicle_file(tmp_path: Path) -> None:
    """Weights that do not add up: the vehicle's against those of its scenes."""
    file = tmp_path / "heavy.toml"
    text = WREN.read_text(encoding="utf-8").replace("../", "").replace("total = 924", "total = 1400")
    file.write_text(text, encoding="utf-8")
    for name in ("wren_front.toml", "wren_rear.toml"):
        (tmp_path / name).write_bytes((SCENES / name).read_bytes())
    with pytest.raises(SceneError) as caught:
        vehicle(file)
    assert [complaint.partition(": ")[0] for complaint in caught.value.complaints] == [str(file)] * 2
    # 44.8 % of 1,400 kg, against what the scales under the front wheels show.
    assert "puts 627 kg on this axle" in caught.value.complaints[0]


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_a_picture_of_the_car(tmp_path: Path, capsys: pytest.CaptureFixture[str], suffix: str) -> None:
    """The same car gives the same file, and the drawing's words are text that can be searched for."""
    first, second = tmp_path / f"one{suffix}", tmp_path / f"two{suffix}"
    text = printed(capsys, TARN, output=first)
    vehicle(TARN, output=second)
    assert text.endswith(f"{first}: the car from the side\n")
    assert first.stat().st_size > 10_000
    if suffix == ".png":
        assert first.read_bytes() == second.read_bytes()
        with Image.open(first) as picture:
            assert picture.size == (1440, 888)
    else:
        assert "<svg" in first.read_text(encoding="utf-8")


def test_lines_of_braking_end_at_their_share_of_the_height() -> None:
    """Definition: share of the brakes · wheelbase · slope over the centre of gravity's height is the anti-dive."""
    record = read_vehicle(TARN)
    car = whole_car(record, *(assemble(read_scene(Path(scene))) for scene in (record.front, record.rear)))
    share, base, high = 0.01 * record.brake_front_percent, record.wheelbase, record.centre_of_gravity_height
    assert share * base * car.front.brake_slope / high == pytest.approx(car.front.anti_brake)
    assert -(1.0 - share) * base * car.rear.brake_slope / high == pytest.approx(car.rear.anti_brake)


def test_a_picture_has_a_suffix_that_is_known(tmp_path: Path) -> None:
    with pytest.raises(FulltravelError, match=r"\.png"):
        vehicle(WREN, output=tmp_path / "car.jpg")
    assert list(tmp_path.iterdir()) == []
