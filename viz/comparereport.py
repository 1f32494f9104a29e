"""A comparison as tables on the screen."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group
from rich.text import Text

from model.comparison import Comparison
from model.units import Length
from viz.cautions import CAUTIONS
from viz.comparewords import FIRST, SECOND, changes_table, moved_table, over_lines
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
    moved, changes = moved_table(compared, units), changes_table(compared, units)
    told = [
        *(section_parts(Section("", (moved,)))[1:] if moved.rows else [Text("No point of the same name has moved.\n")]),
        *(
            section_parts(Section("", (changes,)))[1:]
            if changes.rows
            else [Text("Nothing that is measured changes.\n")]
        ),
    ]
    summary = [Text(line, "bold") for line in over_lines(compared)]
    return Group(*heads, *summary, Text(), *told, Text(CAUTIONS[0], "dim"))
