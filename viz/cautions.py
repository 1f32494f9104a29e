"""The usual cautions, in one place, for every output that a person may work from."""

from __future__ import annotations

CAUTIONS = (
    "Work with the vehicle on stands and blocks, never on a jack alone; taking a spring or wheel off moves the load.",
    "A compressed spring set free by a slipping jack or compressor can maim or kill.",
    "Joint limits and torques are the part maker's; a typical limit here is no more than a first look.",
    "This is geometry on paper: rigid parts, bushes that give only where parts are held twice over, no strength, no "
    "wear. Cycle the real thing by hand before final torque.",
    "Rules on modified suspension differ by place: ask the local authority and a licensed workshop.",
)
