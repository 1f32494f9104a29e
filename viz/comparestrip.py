"""What stands under two suspensions drawn side by side: what moved, sentences, and a table of what changes."""

from __future__ import annotations

from PIL import Image, ImageDraw

from model.comparison import Comparison
from model.units import Length
from model.verdicts import State
from viz import style
from viz.comparereport import summary_lines
from viz.comparewords import FIRST, SECOND, changes_table, moved_text, over_lines
from viz.curve import draw_fitted
from viz.labels import Scale

# Rows under a still, and under a film, which leaves less time to read.
ROWS_STILL, ROWS_FILM = 9, 4
# Height of a row, and of the table's own edges, in heights of its text.
ROW, EDGE = 1.55, 0.6
# Widths of the table's columns, as shares of its own.
COLUMNS = (0.0, 0.40, 0.645, 0.89, 1.0)


def most_lines(rows: int) -> int:
    """How many lines of so many rows may be sentences."""
    return (rows + 1) // 2


def heights(width: int, lines: int, changes: int) -> tuple[int, int]:
    """The size of a table's text and its height, in px, with so many sentences and changes."""
    text = max(10, round(0.86 * Scale.of((width, round(width / 1.6))).text))
    return text, round((1 + 1.05 * lines + changes + 2 * EDGE + 0.4) * ROW * text) + round(ROW * text)


def changes_strip(compared: Comparison, width: int, units: Length, rows: int) -> Image.Image:
    """What moved in a line, and the most telling changes in a table, as a strip of a picture."""
    scale = Scale.of((width, round(width / 1.6)))
    changes = changes_table(compared, units)
    # What is over stands first, then the answer; what they leave of the rows goes to what changes most.
    over = over_lines(compared)
    answer = summary_lines(compared, units)[: most_lines(rows)]
    shown = changes.rows[: rows - len(answer)]
    text, height = heights(width, len(answer), len(shown))
    strip = Image.new("RGB", (width, height), style.PAPER)
    draw = ImageDraw.Draw(strip)
    bold, plain = style.font(text, bold=True), style.font(text)
    pad, y = 1.1 * scale.text, EDGE * ROW * text + 0.2 * text
    told = moved_text(compared, units)
    draw.line((0, 0, width, 0), fill=style.LINE, width=2)
    draw_fitted(draw, (pad, y), f"Moved from {FIRST} to {SECOND}: {told}", bold, style.MOVED, width - 2 * pad)
    edges = [pad + share * (width - 2 * pad) for share in COLUMNS]
    y += 1.25 * ROW * text
    for number, line in enumerate(answer):
        ink = style.STATES[State.OVER].colour if number < len(over) else style.INK
        draw_fitted(draw, (pad, y), line, bold, ink, width - 2 * pad)
        y += 1.05 * ROW * text
    left_out = len(changes.rows) - len(shown)
    heads = (f"what changes{f' ({left_out} more not shown)' * (left_out > 0)}", *changes.heads[1:])
    for row, font, ink in [(heads, bold, style.QUIET_INK), *((row, plain, style.INK) for row in shown)]:
        better = row[3] if row[3] in (FIRST, SECOND) else ""
        for column, cell in enumerate(row):
            mine = better and changes.heads[column] == better
            colour = style.STATES[State.CLEAR].colour if mine or (better and column == 3) else ink
            room = edges[column + 1] - edges[column] - text
            word = f"{cell} better" if column == 3 and better else cell
            draw_fitted(draw, (edges[column], y), word, bold if mine else font, colour, room)
        y += ROW * text
    return strip
