"""schema: the scene file as a JSON Schema."""

from __future__ import annotations

from viz.app import app
from viz.terminal import show


@app.command(short_help="Print a JSON Schema of the scene file, for editors.")
def schema() -> None:
    """Print a JSON Schema of the scene file, for editors that check and complete TOML."""
    import json

    from model.sceneschema import scene_schema

    document = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | scene_schema()
    show(json.dumps(document, indent=2) + "\n")
