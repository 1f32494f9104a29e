"""What `set` found, as JSON: lengths in mm, angles in degrees, forces in N, whatever the scene's units."""

from __future__ import annotations

import math
from typing import Any

from model.adjust import Reached, Setting, Turned
from model.adjustable import Eccentric, Perch, Shims, Thread
from model.curvenames import Amount
from model.units import Length
from viz.report import verdict_line
from viz.settables import Checks, notes
from viz.setwords import do_text

_SUFFIX = {Amount.ANGLE: "_deg", Amount.LENGTH: "_mm"}


def set_json(setting: Setting, checks: Checks, scene: str) -> dict[str, Any]:
    """Everything about one setting."""
    return {
        "format": "fulltravel set 1",
        "scene": scene,
        "title": setting.bench.mechanism.title,
        "reached": setting.met,
        "ran_out": [each.name for each in setting.out],
        "solver_calls": setting.calls,
        "adjusters": [_adjuster(each) for each in setting.turned],
        "wants": [_want(each) for each in setting.reached],
        "values": [
            {"what": before.name, **_pair(before.quantity, float(before.values[0]), float(after.values[0]))}
            for before, after in zip(setting.before, setting.after, strict=True)
        ],
        "check": {
            name: {"state": str(each.verdict.state), "text": verdict_line(each.verdict)}
            for name, each in (("before", checks.before), ("after", checks.after))
        },
        "notes": notes(setting),
    }


def _adjuster(turned: Turned) -> dict[str, Any]:
    adjuster = turned.adjuster
    angle = isinstance(adjuster, Eccentric)
    found: dict[str, Any] = {
        "name": adjuster.name,
        "kind": type(adjuster).__name__.lower(),
        "used": turned.played,
        **_named("change_exact", Amount.ANGLE if angle else Amount.LENGTH, turned.exact),
        **_named("change", Amount.ANGLE if angle else Amount.LENGTH, turned.rounded),
        "do": do_text(turned, Length.MM),
    }
    match adjuster:
        case Thread():
            found["turns"] = _rounded(adjuster.turns(turned.rounded))
            found["length_mm"] = _rounded(adjuster.length + turned.rounded)
            found["engaged_mm"] = [
                {
                    "end": adjuster.end_words[thread.end],
                    "before_mm": _rounded(thread.length),
                    "after_mm": _rounded(thread.at(turned.rounded)),
                    "diameter_mm": _rounded(thread.diameter),
                }
                for thread in adjuster.threads
            ]
        case Perch():
            found["turns"] = _rounded(adjuster.turns(turned.rounded))
        case Shims():
            found["stack_mm"] = [_rounded(size) for size in adjuster.stack(turned.rounded)]
    return found


def _want(reached: Reached) -> dict[str, Any]:
    quantity = reached.want.quantity
    return {
        "what": reached.want.name,
        **_named("wanted", quantity, reached.want.value),
        **_named("before", quantity, reached.before),
        **_named("exact", quantity, reached.exact),
        **_named("after", quantity, reached.rounded),
    }


def _pair(quantity: Amount, before: float, after: float) -> dict[str, float | None]:
    return _named("before", quantity, before) | _named("after", quantity, after)


def _named(name: str, quantity: Amount, value: float) -> dict[str, float | None]:
    number = math.degrees(value) if quantity is Amount.ANGLE else value
    # What has lost its meaning, such as a centre that has gone to infinity, is null.
    return {f"{name}{_SUFFIX.get(quantity, '')}": _rounded(number) if math.isfinite(number) else None}


def _rounded(value: float) -> float:
    return round(value, 6) + 0.0
