"""Curves as a picture: a small plot for each, ride height marked, left and right told apart without colour too."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from model import curvenames as named
from model.curvenames import Amount, Curve
from model.curveruns import CurveRun
from model.cycles import Cycle
from model.errors import CallError
from model.units import Length
from viz import style
from viz.curvetables import TITLE
from viz.curvetext import FAR_OFF, scale_for, value_text, wanted
from viz.files import whole_file
from viz.words import both_names

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Inches: a plot with its numbers, the room between two, the margins of the sheet, a heading.
PLOT, APART, MARGIN, HEADING = (2.55, 1.35), (0.72, 0.62), 0.5, 0.85
COLUMNS, DPI = 5, 120
# A sheet is at least as wide as so many plots; its few plots are then at most so much higher.
LEAST_COLUMNS, MOST_LARGER = 3, 2.0
# The least that a plot's height stands for, in the unit inside: what is less is as good as nothing.
LEAST_SPAN = {
    Amount.ANGLE: np.radians(0.4),
    Amount.LENGTH: 4.0,
    Amount.RATIO: 0.04,
    Amount.RATE: 1.0,
    Amount.ROLL_STIFFNESS: 1e3 * np.degrees(10.0),
    Amount.FREQUENCY: 0.1,
    Amount.TURN_RATE: np.radians(0.004),
    Amount.SHARE: 0.1,
}
# What a picture leaves to tables: slopes and angles that other curves show, parts of a sum, points far off.
LEFT_OUT = {
    kind.what
    for kind in (
        named.CAMBER_CHANGE,
        named.RATE_OF_SPRING,
        named.RATE_OF_GEOMETRY,
        named.SIDE_VIEW_AHEAD,
        named.SIDE_VIEW_ABOVE,
        named.INNER,
        named.OUTER,
        named.IDEAL_OUTER,
    )
}
WAY = {
    Cycle.BOTH: "from full droop to full bump",
    Cycle.CROSS: "from left wheel down, right wheel up, to left wheel up, right wheel down",
    Cycle.LEFT: "from full droop to full bump",
    Cycle.RIGHT: "from full droop to full bump",
    Cycle.STEER: "from full lock to the right to full lock to the left, % of lock",
}


def write_plot(output: Path, runs: Sequence[CurveRun], only: Sequence[str] | None, units: Length) -> None:
    """Draw runs as a picture (.png) or a drawing (.svg).

    Raises:
        CallError: if there is nothing to draw, or the file cannot be written.

    """
    from matplotlib.style import context

    suffix = output.suffix.lower().removeprefix(".")
    # Without a date and names by chance: the same curves give the same file, whatever a person's own settings are.
    with whole_file(output) as temporary, context(["default", {"svg.hashsalt": "fulltravel"}]):
        figure = figure_of(runs, only, units)
        figure.savefig(temporary, format=suffix, dpi=DPI, metadata={"Date": None} if suffix == "svg" else None)


def figure_of(runs: Sequence[CurveRun], only: Sequence[str] | None, units: Length) -> Figure:
    """Runs under each other, each with its small plots.

    Raises:
        CallError: there is nothing to draw.

    """
    from matplotlib.figure import Figure

    told = [(run, _panels(run, only)) for run in runs]
    told = [(run, panels) for run, panels in told if panels]
    if not told:
        raise CallError("none of these curves has a value over this cycle; choose another --cycle or other names.")
    columns = min(COLUMNS, max(len(panels) for _, panels in told))
    rows = [-(-len(panels) // columns) for _, panels in told]
    # A few plots are larger, as wide together as what stands above them.
    larger = max(1.0, LEAST_COLUMNS / columns)
    plot = (larger * (PLOT[0] + APART[0]) - APART[0], min(larger, MOST_LARGER) * PLOT[1])
    cell = (plot[0] + APART[0], plot[1] + APART[1])
    width = 2.0 * MARGIN + columns * cell[0]
    height = MARGIN + HEADING + sum(HEADING + count * cell[1] for count in rows)
    figure = Figure(figsize=(width, height), facecolor=style.fraction(style.PAPER))
    down = height - MARGIN
    figure.text(MARGIN / width, down / height, runs[0].poses.mechanism.title, fontsize=17, weight="bold",
                color=style.fraction(style.INK), va="top")  # fmt: skip
    down -= 0.75 * HEADING
    for (run, panels), count in zip(told, rows, strict=True):
        _heading(figure, (MARGIN / width, down / height), run, units)
        if any(_sided(_lines(panel)) for panel in panels):
            _key(figure, (1.0 - MARGIN / width, down / height))
        down -= HEADING
        for number, panel in enumerate(panels):
            row, column = divmod(number, columns)
            left = MARGIN + 0.5 * APART[0] + column * cell[0]
            foot = down - row * cell[1] - plot[1]
            place = (left / width, foot / height, plot[0] / width, plot[1] / height)
            _panel(figure.add_axes(place), run, panel, units)
        down -= count * cell[1]
    return figure


def _panels(run: CurveRun, only: Sequence[str] | None) -> list[list[Curve]]:
    """Curves of each name, in the order in which they are told."""
    found: dict[str, list[Curve]] = {}
    for each in wanted(run.curves, run.cycle, only):
        if (only or each.what not in LEFT_OUT) and np.isfinite(each.values).any():
            found.setdefault(each.what, []).append(each)
    return list(found.values())


def _heading(figure: Figure, place: tuple[float, float], run: CurveRun, units: Length) -> None:
    unit = "" if run.cycle is Cycle.STEER else f", {units}"
    figure.text(*place, TITLE[run.cycle], fontsize=12.5, weight="bold", color=style.fraction(style.INK), va="top")
    middle = "straight ahead" if run.cycle is Cycle.STEER else "ride height"
    words = f"across: {WAY[run.cycle]}{unit}; the upright line is {middle}"
    below = (place[0], place[1] - 0.24 / figure.get_figheight())
    figure.text(*below, words, fontsize=9, color=style.fraction(style.QUIET_INK), va="top")


def _panel(axes: Axes, run: CurveRun, curves: Sequence[Curve], units: Length) -> None:
    scale = scale_for(curves[0], units)
    across = run.along * (100.0 if run.cycle is Cycle.STEER else 1.0 / units.mm)
    lines = _lines(curves)
    for number, (name, curve) in enumerate(lines):
        look = style.TRACES[0 if len(lines) == 1 else number % len(style.TRACES)]
        shown = np.where(np.abs(curve.values) > _cut(curve), np.nan, curve.values) * scale.factor
        axes.plot(
            across, shown, color=style.fraction(look.colour), linestyle=look.dash, linewidth=1.6, label=name, snap=False
        )
        axes.plot(across[run.ride], shown[run.ride], look.sign, color=style.fraction(look.colour), markersize=4.5)
    _dress(axes, curves, units)
    axes.axvline(0.0, color=style.fraction(style.QUIET_INK), linewidth=0.8, zorder=0)
    axes.set_xlim(across[0], across[-1])
    low, high = axes.dataLim.intervaly
    span = max(1.1 * (high - low), LEAST_SPAN[curves[0].quantity] * scale.factor)
    axes.set_ylim(0.5 * (low + high - span), 0.5 * (low + high + span))
    if len(lines) > 1 and not _sided(lines):
        axes.legend(fontsize=6.5, frameon=False, loc="best", handlelength=2.6, borderpad=0.1, labelspacing=0.2)


def _cut(curve: Curve) -> float:
    """Beyond this a point is so far off that it would only flatten the rest of its curve."""
    return FARTHEST if curve.what in FAR_OFF else float("inf")


# mm: roll centres farther off are no longer where the body rolls about.
FARTHEST = 2000.0


def _dress(axes: Axes, curves: Sequence[Curve], units: Length) -> None:
    """Name, unit, light lines."""
    from matplotlib.ticker import MaxNLocator

    quiet = style.fraction(style.QUIET_INK)
    unit = scale_for(curves[0], units).unit.strip()
    axes.set_title(curves[0].what, fontsize=9, weight="bold", loc="left", color=style.fraction(style.INK), pad=4)
    axes.set_title(unit, fontsize=8, loc="right", color=quiet, pad=4)
    axes.set_facecolor(style.fraction(style.PAPER))
    axes.grid(visible=True, color=style.fraction(style.STRIP), linewidth=0.9)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=7.5, length=0, colors=quiet, pad=3)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=4, min_n_ticks=3, steps=[1, 2, 2.5, 5, 10]))
    axes.xaxis.set_major_locator(MaxNLocator(nbins=5, steps=[1, 2, 5, 10]))
    axes.ticklabel_format(useOffset=False)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(style.fraction(style.LINE))


def _sided(lines: Sequence[tuple[str, Curve]]) -> bool:
    """Whether the lines are one of the left and one of the right: the heading says how those look."""
    names = both_names(lines[0][0])
    return len(lines) == 2 and names == (lines[0][0], lines[1][0])


def _key(figure: Figure, place: tuple[float, float]) -> None:
    """How the left and the right look."""
    from matplotlib.lines import Line2D

    handles = [
        Line2D(
            [], [], color=style.fraction(look.colour), linestyle=look.dash, marker=look.sign, markersize=4.5, label=side
        )
        for look, side in zip(style.TRACES, ("left", "right"), strict=False)
    ]
    figure.legend(handles=handles, loc="upper right", bbox_to_anchor=place, ncols=2, fontsize=9, frameon=False,
                  handlelength=4.0, borderaxespad=0.0)  # fmt: skip


def _lines(curves: Sequence[Curve]) -> list[tuple[str, Curve]]:
    """Names and curves of a plot; left and right that read the same are one."""
    texts = {each.where: [value_text(each, value, Length.MM) for value in each.values] for each in curves}
    lines = []
    for each in curves:
        left, right = both_names(each.where) or ("", "")
        same = left in texts and texts[left] == texts.get(right)
        if same and each.where == right:
            continue
        lines.append((f"left and {right}" if same else each.where, each))
    return lines
