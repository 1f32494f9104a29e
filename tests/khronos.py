"""The Khronos validator of glTF files, from npm."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest


def khronos_issues(path: Path) -> dict[str, Any]:
    """What the Khronos validator says of a file."""
    modules = os.environ.get("FULLTRAVEL_GLTF_VALIDATOR", "/tmp/gltf/node_modules")
    node = shutil.which("node")
    if node is None or not (Path(modules) / "gltf-validator").is_dir():
        if os.environ.get("FULLTRAVEL_REQUIRE_ALL"):
            pytest.fail(f"node or gltf-validator is missing (looked in {modules})")
        pytest.skip(f"node or gltf-validator is missing (looked in {modules})")
    script = (
        "const v = require('gltf-validator'), fs = require('fs');"
        "v.validateBytes(new Uint8Array(fs.readFileSync(process.argv[1])))"
        ".then(report => console.log(JSON.stringify(report.issues)));"
    )
    done = subprocess.run(
        [node, "-e", script, str(path)],
        env={**os.environ, "NODE_PATH": modules},
        capture_output=True,
        text=True,
        check=True,
    )
    issues: dict[str, Any] = json.loads(done.stdout)
    return issues
