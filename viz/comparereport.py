"""A comparison as tables on the screen."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from model.comparison import Comparison
from model.units import Length
from viz.cautions import CAUTIONS
from viz.comparewords import FIRST, SECOND, changes_table, moved_table, over_lines
from viz.loadwords import SPRING_CAUTION
from viz.mountwords import answer_lines, force_table, mount_table
from viz.report import section_parts, verdict_line
from viz.tables import Section


def comparison_tables(compared: Comparison, names: Sequence[str], units: Length) -> Group:
    """What moved, what that changes, and how either stands; `names` are those of the two files."""
    heads = [
        Text.assemble((f"{letter}: ", "bold"), (name, "bold"), f" ({review.mechanism.title}): {verdict}")
        for letter, name, review, verdict in (
            (FIRST, names[0], compared.first, verdict_line(compared.first.verdict)),
            (SECOND, names[1], compared.second, verdict_line(compared.second.verdict)),
        )
    ]
    told: list[RenderableType] = []
    for table, otherwise in (
        (moved_table(compared, units), "No point of the same name has moved."),
        (mount_table(compared, units), ""),
        (force_table(compared, units), ""),
        (changes_table(compared, units), "Nothing that is measured changes."),
    ):
        if table.rows:
            told += section_parts(Section("", (table,)))[1:]
        elif otherwise:
            told.append(Text(f"{otherwise}\n"))
    summary = [Text(line, "bold") for line in summary_lines(compared, units)]
    gap = [Text()] if summary else []
    return Group(*heads, *gap, *summary, Text(), *told, *(Text(line, "dim") for line in (CAUTIONS[0], SPRING_CAUTION)))


def summary_lines(compared: Comparison, units: Length) -> tuple[str, ...]:
    """What there is to say in sentences: what only one of the two is over in, then what coilovers come to."""
    return (*over_lines(compared), *answer_lines(compared, units))
