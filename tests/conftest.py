"""What holds for every test."""

from __future__ import annotations

from hypothesis import settings

# How long an example takes depends on what else the machine does; how long the suite takes is watched as a whole.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
