"""Usable travel as bars from ride height outwards: an SVG that prints in black and white, and plain text.

Every stop is a tick with a numbered tag; the tags stand apart from each other in the order of their ticks, and the key
below each bar says what they are. So no label can cover another, however near two stops are.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from model.reaches import Reach
from model.units import Length
from model.verdicts import State
from viz.style import INK, QUIET_INK, STATES, Colour, font
from viz.travelwords import TYPICAL, Bar, Side, Weight, bars_of, spread

# All in the SVG's own unit, a 900th of its width; on the sheet about one CSS pixel.
WIDTH, MARGIN, GUTTER = 900.0, 12.0, 24.0
SIZE, LINE = 13, 20.0
TITLE, TAGS, BAR, AFTER = 22.0, 24.0, 20.0, 14.0
TAG, APART = 8.0, 19.0
COLUMN = 0.5 * (WIDTH - GUTTER) - MARGIN
INDENT, BETWEEN = 24.0, 16.0
DASHED = ' stroke-dasharray="4 3"'
# DejaVu Sans is the widest of the sheet's fonts; this much is kept free for one that is wider still.
WIDER = 1.04

_COLOURS: dict[Weight, Colour] = {
    Weight.STOPS: STATES[State.LOCKED].colour,
    Weight.HARMS: STATES[State.OVER].colour,
    Weight.PUSHES: STATES[State.CLEAR].colour,
}
_USABLE = STATES[State.CLEAR].colour


def travel_bars(reaches: Sequence[Reach], units: Length) -> str:
    """An SVG element of every motion of these ways, its text escaped; nothing where there is none."""
    bars = bars_of(reaches, units)
    if not bars:
        return ""
    scales = {steers: _scale([bar for bar in bars if bar.steers is steers]) for steers in (False, True)}
    parts, top = [_legend()], TITLE + 6.0
    for bar in bars:
        drawn, height = _bar(bar, top, scales[bar.steers])
        parts.append(drawn)
        top += height
    fonts = "&quot;Helvetica Neue&quot;, Arial, &quot;Liberation Sans&quot;, &quot;DejaVu Sans&quot;, sans-serif"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {WIDTH:.0f} {top:.0f}" width="100%" '
        f'font-family="{fonts}" font-size="{SIZE}" fill="{_rgb(INK)}"><title>Usable travel</title>{_PATTERNS}'
        f"{''.join(parts)}</svg>"
    )


def _rgb(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)


_PATTERNS = (
    '<defs><pattern id="usable-travel" width="7" height="7" patternUnits="userSpaceOnUse" '
    f'patternTransform="rotate(45)"><rect width="7" height="7" fill="#fff"/><rect width="3" height="7" '
    f'fill="{_rgb(_USABLE)}"/></pattern></defs>'
)


def _scale(bars: Sequence[Bar]) -> tuple[float, float]:
    """Where ride height is and how long one unit is, the same for all bars that go by the same unit."""
    back = max((bar.back.extent for bar in bars), default=1.0)
    out = max((bar.out.extent for bar in bars), default=1.0)
    length = (WIDTH - 2.0 * (MARGIN + TAG)) / (back + out)
    return MARGIN + TAG + back * length, length


def _legend() -> str:
    """What the fills and the tags' shapes mean."""
    parts, x, y = [], MARGIN, 14.0
    for fill, dash, words in (("url(#usable-travel)", "", "usable"), ("#fff", DASHED, "asked for, out of reach")):
        parts += [
            f'<rect x="{x:.1f}" y="{y - 10:.1f}" width="24" height="12" fill="{fill}" stroke="{_rgb(INK)}"{dash}/>',
            _text(x + 29.0, y, words),
        ]
        x += 29.0 + _width(words) + BETWEEN
    for weight in Weight:
        parts += [_tag(x + TAG, y - 4.0, "1", weight), _text(x + 2.0 * TAG + 5.0, y, weight)]
        x += 2.0 * TAG + 5.0 + _width(weight) + BETWEEN
    return "".join([*parts, _text(x, y, TYPICAL)])


def _bar(bar: Bar, top: float, scale: tuple[float, float]) -> tuple[str, float]:
    """One motion and how high it is."""
    zero, length = scale
    y = top + TITLE + TAGS
    title = _text(MARGIN, top + 14.0, bar.title, ' font-weight="700"')
    # Ride height's own mark takes no tag: the tags of either side stay on their side of it.
    back = _side(bar.back, y, zero, -length, (MARGIN + TAG, zero - 0.6 * APART))
    out = _side(bar.out, y, zero, length, (zero + 0.6 * APART, WIDTH - MARGIN - TAG))
    ride = f'<path d="M{zero:.1f} {y - 5:.1f}v{BAR + 10:.1f}" stroke="{_rgb(INK)}" stroke-width="2.5"/>'
    below = y + BAR + 20.0
    left, rows = _key(bar.back, MARGIN, below)
    right, others = _key(bar.out, MARGIN + COLUMN + GUTTER, below)
    height = TITLE + TAGS + BAR + 20.0 + max(rows, others) * LINE + AFTER
    line = f'<path d="M{MARGIN} {top:.1f}H{WIDTH - MARGIN}" stroke="{_rgb(QUIET_INK)}" stroke-width="0.6"/>'
    return "".join(["<g>", line, title, *back, *out, ride, left, right, "</g>"]), height


def _side(side: Side, y: float, zero: float, length: float, room: tuple[float, float]) -> list[str]:
    """What is asked for, what of it is usable, and every stop; `length` is negative to the left."""

    def box(amount: float, looks: str) -> str:
        x = min(zero, zero + amount * length)
        return f'<rect x="{x:.1f}" y="{y:.1f}" width="{abs(amount * length):.1f}" height="{BAR}" {looks}/>'

    ink = _rgb(INK)
    far, middle = zero + side.extent * length, y + 0.5 * BAR
    parts = [
        f'<path d="M{zero:.1f} {middle:.1f}H{far:.1f}" stroke="{_rgb(QUIET_INK)}" stroke-dasharray="1 4"/>',
        box(side.asked, f'fill="#fff" stroke="{ink}"{DASHED}'),
        box(side.usable, f'fill="url(#usable-travel)" stroke="{ink}" stroke-width="1.4"'),
    ]
    ticks = [zero + mark.amount * length for mark in side.marks]
    outward = 1.0 if length > 0.0 else -1.0
    for number, (mark, tick, tag) in enumerate(
        zip(side.marks, ticks, spread(ticks, outward, room, APART), strict=True), 1
    ):
        colour, dash = _rgb(_COLOURS[mark.weight]), "" if mark.weight is Weight.STOPS else ' stroke-dasharray="3 2"'
        wide = 3.0 if mark.weight is Weight.STOPS else 2.0
        parts += [
            f'<path d="M{tick:.1f} {y - 4:.1f}v{BAR + 8:.1f}" stroke="{colour}" stroke-width="{wide}"{dash}/>',
            f'<path d="M{tick:.1f} {y - 4:.1f}L{tag:.1f} {y - TAG - 3:.1f}" stroke="{colour}"/>',
            _tag(tag, y - TAG - 6.0, str(number), mark.weight),
        ]
    return parts


def _tag(x: float, y: float, number: str, weight: Weight) -> str:
    """A numbered sign whose shape says what the stop does: square, disc or diamond."""
    colour, r = _rgb(_COLOURS[weight]), TAG
    shape = {
        Weight.STOPS: f'<rect x="{x - r:.1f}" y="{y - r:.1f}" width="{2 * r}" height="{2 * r}" fill="{colour}"/>',
        Weight.HARMS: f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r}" fill="#fff" stroke="{colour}" stroke-width="2"/>',
        Weight.PUSHES: f'<path d="M{x:.1f} {y - r - 2:.1f}l{r + 1} {r + 2}l{-r - 1} {r + 2}l{-r - 1} {-r - 2}z" '
        f'fill="#fff" stroke="{colour}" stroke-width="1.6"/>',
    }[weight]
    ink = "#fff" if weight is Weight.STOPS else _rgb(INK)
    size = SIZE - 2 if len(number) == 1 else SIZE - 4
    looks = f' font-size="{size}" font-weight="700" text-anchor="middle" fill="{ink}"'
    return shape + _text(x, y + 4.0, number, looks)


def _key(side: Side, x: float, y: float) -> tuple[str, int]:
    """What one side's tags are, as lines of text, and how many lines those are."""
    parts, row = [], 0
    for text in _wrapped(side.head, COLUMN, bold=True):
        parts.append(_text(x, y + row * LINE, text, ' font-weight="700"'))
        row += 1
    for number, mark in enumerate(side.marks, 1):
        parts.append(_tag(x + TAG, y + row * LINE - 4.5, str(number), mark.weight))
        looks = "" if mark.amount <= side.asked else f' fill="{_rgb(QUIET_INK)}"'
        for text in _wrapped(mark.words, COLUMN - INDENT):
            parts.append(_text(x + INDENT, y + row * LINE, text, looks))
            row += 1
    return "".join(parts), row


def _text(x: float, y: float, words: str, looks: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}"{looks}>{escape(words)}</text>'


def _width(words: str, bold: bool = False) -> float:
    return WIDER * font(SIZE, bold).getlength(words)


def _wrapped(words: str, width: float, bold: bool = False) -> list[str]:
    """Words in lines no wider than `width`; a word that is wider alone is cut."""
    lines = [""]
    for word in words.split():
        rest = word
        while _width(rest, bold) > width:
            fits = max(n for n in range(1, len(rest)) if n == 1 or _width(rest[:n], bold) <= width)
            lines += [rest[:fits]]
            rest = rest[fits:]
        joined = f"{lines[-1]} {rest}".strip()
        if _width(joined, bold) <= width:
            lines[-1] = joined
        else:
            lines.append(rest)
    return [line for line in lines if line]
