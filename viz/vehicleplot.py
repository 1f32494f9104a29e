"""A whole car as a drawing: from the side, with its roll axis and braking lines; and what leaves its inner wheels."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from model.units import Length
from model.vehicle import AxleReading, WholeCar
from model.wholecar import LoadTransfer
from viz import style
from viz.files import whole_file
from viz.vehiclewords import percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SIZE, DPI = (12.0, 7.4), 120
# Share of the wheelbase that the drawing goes on before the front wheel and behind the rear one.
ROOM = 0.3
# What moves to the outer wheel, in the order in which it gets there: words and how the bar is filled.
WAYS = (
    ("through the links, at once", "through_roll_centre", "", 1.0),
    ("through springs and bar, as it leans", "through_springs", "///", 0.55),
    ("of wheels and axles themselves", "unsprung", "...", 0.25),
)


BRAKING_WORDS = (
    "Braking: where a line of force meets the dotted line it shows how much of the dive or lift its links hold; 100 % "
    "is as high as the centre of gravity."
)
_TEXT: dict[str, Any] = {"textcoords": "offset points", "fontsize": 9}
_LABEL: dict[str, Any] = {"boxstyle": "round,pad=0.1", "facecolor": (1.0, 1.0, 1.0, 0.8), "edgecolor": "none"}


def write_vehicle_plot(car: WholeCar, output: Path, units: Length) -> None:
    """Draw a car as a picture (.png) or a drawing (.svg).

    Raises:
        CallError: if the file cannot be written.

    """
    suffix = output.suffix.lower().removeprefix(".") or "png"  # a stream has none
    figure = _figure(car, units)
    with whole_file(output) as temporary:
        # Without a date, so that the same car gives the same file.
        figure.savefig(temporary, format=suffix, dpi=DPI, metadata={"Date": None} if suffix == "svg" else None)


def _figure(car: WholeCar, units: Length) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=SIZE, facecolor=style.fraction(style.PAPER))
    figure.text(0.045, 0.962, car.vehicle.title, fontsize=17, weight="bold", color=_ink(), va="top")
    _side(figure.add_axes((0.045, 0.37, 0.91, 0.5)), car, units)
    _transfer(figure.add_axes((0.19, 0.1, 0.72, 0.18)), car, units)
    return figure


def _side(axes: Axes, car: WholeCar, units: Length) -> None:
    """The car from its left side, the front at the left: x counts from the front wheels to the rear."""
    base = car.vehicle.wheelbase * car.vehicle.units.mm
    high = car.vehicle.centre_of_gravity_height * car.vehicle.units.mm
    axes.axhline(0.0, color=_ink(), linewidth=1.2)
    for at, axle in ((0.0, car.front), (base, car.rear)):
        _wheel(axes, at, axle)
    middle = (1.0 - car.front_share) * base
    _centre_of_gravity(axes, (middle, high), 0.022 * base)
    axes.annotate(
        f"centre of gravity\n{units.text(high)} up",
        (middle, high),
        xytext=(0, 17),
        ha="center",
        va="bottom",
        color=_ink(),
        bbox=_LABEL,
        **_TEXT,
    )
    _roll_axis(axes, car, base, units)
    tops = [high + 0.16 * base, *_braking(axes, car, base, high)]
    tops += [2.0 * axle.at_ride.radius + 0.09 * base for axle in (car.front, car.rear)]
    axes.set_xlim(-ROOM * base, (1.0 + ROOM) * base)
    axes.set_ylim(-0.1 * base, max(tops))
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title("From the side, front at the left", loc="left", fontsize=11, weight="bold", color=_ink())
    axes.annotate(
        BRAKING_WORDS, (0.5 * base, -0.04 * base), xytext=(0, 0), ha="center", va="top", color=_quiet(), **_TEXT
    )


def _wheel(axes: Axes, at: float, axle: AxleReading) -> None:
    from matplotlib.patches import Circle

    radius = axle.at_ride.radius
    for size, ground, edge in ((radius, style.GROUND, _ink()), (0.6 * radius, style.PAPER, _quiet())):
        axes.add_patch(Circle((at, radius), size, facecolor=style.fraction(ground), edgecolor=edge, linewidth=1.1))
    words = f"bounces at {axle.frequency:.2f} Hz"
    axes.annotate(words, (at, 2.0 * radius), xytext=(0, 4), ha="center", va="bottom", color=_ink(), **_TEXT)


def _centre_of_gravity(axes: Axes, at: tuple[float, float], radius: float) -> None:
    """The draughtsman's sign: a disc in four quarters."""
    from matplotlib.patches import Circle, Wedge

    axes.add_patch(Circle(at, radius, facecolor=style.fraction(style.PAPER), edgecolor=_ink(), linewidth=1.2, zorder=4))
    for start in (0.0, 180.0):
        axes.add_patch(Wedge(at, radius, start, start + 90.0, facecolor=_ink(), zorder=5))


def _roll_axis(axes: Axes, car: WholeCar, base: float, units: Length) -> None:
    front, rear = car.front.at_ride.roll_centre, car.rear.at_ride.roll_centre
    look = style.TRACES[0]
    along = np.array([-0.15 * base, 1.15 * base])
    colour = style.fraction(look.colour)
    axes.plot(along, front + (rear - front) * along / base, color=colour, linewidth=1.4, linestyle=(0, (9, 3, 2, 3)))
    axes.plot([0.0, base], [front, rear], "o", color=colour, markersize=7, zorder=6)
    for at, height, way in ((along[0], front, "right"), (along[1], rear, "left")):
        level = front + (rear - front) * at / base
        words = f"roll centre\n{units.text(height)} up"
        axes.annotate(
            words, (at, level), xytext=(-5 if way == "right" else 5, -6), ha=way, va="bottom", color=colour, **_TEXT
        )


def _braking(axes: Axes, car: WholeCar, base: float, high: float) -> list[float]:
    """Lines of the braking forces, with the share that their links hold; how high they go.

    A line of slope s from the front wheel's contact is, over the front's share b of the wheelbase L, b L s high: that
    over the centre of gravity's height is the anti-dive; likewise from the rear over the rest.
    """
    at, look = 0.01 * car.vehicle.brake_front_percent * base, style.TRACES[1]
    colour, tops = style.fraction(look.colour), []
    axes.plot([at, at], [0.0, high], color=_quiet(), linewidth=0.9, linestyle=(0, (2, 2)))
    axes.plot([at - 0.02 * base, at + 0.02 * base], [high, high], color=_quiet(), linewidth=0.9)
    axes.annotate("100 %", (at + 0.02 * base, high), xytext=(4, 0), ha="left", va="center", color=_quiet(), **_TEXT)
    for foot, axle, what, way in ((0.0, car.front, "anti-dive", "right"), (base, car.rear, "anti-lift", "left")):
        up = (at - foot) * axle.brake_slope
        axes.plot([foot, at], [0.0, up], color=colour, linewidth=1.5, linestyle=look.dash)
        axes.plot([at], [up], look.sign, color=colour, markersize=6, zorder=6)
        words = f"{what} {percent(axle.anti_brake)}"
        aside = (-9 if way == "right" else 9, 8)
        axes.annotate(words, (at, up), xytext=aside, ha=way, va="bottom", color=colour, bbox=_LABEL, **_TEXT)
        tops.append(up + 0.08 * base)
    return tops


def _transfer(axes: Axes, car: WholeCar, units: Length) -> None:
    """What moves to the outer wheel for each g, against what the inner wheel has to give."""
    if car.rolling is None:
        axes.set_axis_off()
        return
    from matplotlib.patches import Patch

    rows = ((1.0, "front", car.rolling.front, car.front), (0.0, "rear", car.rolling.rear, car.rear))
    for at, _, transfer, axle in rows:
        _bar(axes, at, transfer, units)
        has, ends = 0.5 * axle.at_ride.weight, transfer.total
        axes.plot([has / units.weight] * 2, [at - 0.42, at + 0.42], color=_ink(), linewidth=1.8)
        words = f"{units.weight_text(ends)}; the upright line is what it carries at rest, {units.weight_text(has)}"
        beside = max(has, ends) / units.weight
        axes.annotate(words, (beside, at), xytext=(6, 0), ha="left", va="center", color=_ink(), **_TEXT)
    axes.set_yticks([row[0] for row in rows], [f"inner {row[1]} wheel" for row in rows], fontsize=9.5)
    most = max(0.5 * axle.at_ride.weight for *_, axle in rows)
    axes.set_xlim(0.0, 1.6 * max(most, *(row[2].total for row in rows)) / units.weight)
    axes.set_ylim(-0.6, 1.6)
    axes.set_title(
        "Cornering: what leaves the inner wheel for each g", loc="left", fontsize=11, weight="bold", color=_ink()
    )
    colour = style.fraction(style.TRACES[0].colour)
    handles = [
        Patch(facecolor=(*colour, alpha), edgecolor=colour, hatch=hatch, label=words) for words, _, hatch, alpha in WAYS
    ]
    axes.legend(handles=handles, loc="upper center", bbox_to_anchor=(0.45, -0.2), ncols=3, frameon=False, fontsize=8.5)
    axes.tick_params(colors=_quiet(), labelsize=8.5)
    axes.xaxis.set_major_formatter(lambda weight, _: units.weight_text(weight * units.weight))
    for edge in ("top", "right", "left"):
        axes.spines[edge].set_visible(False)


def _bar(axes: Axes, at: float, transfer: LoadTransfer, units: Length) -> None:
    done, colour = 0.0, style.fraction(style.TRACES[0].colour)
    for _, key, hatch, alpha in WAYS:
        size = getattr(transfer, key) / units.weight
        axes.barh(
            at, size, left=done, height=0.56, facecolor=(*colour, alpha), edgecolor=colour, hatch=hatch, linewidth=0.8
        )
        done += size


def _ink() -> tuple[float, float, float]:
    return style.fraction(style.INK)


def _quiet() -> tuple[float, float, float]:
    return style.fraction(style.QUIET_INK)
