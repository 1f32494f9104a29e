"""The command line, called as a person or a script calls it: what it prints, what it exits with, what it leaves behind.

Expectations are the command line's own promises (D): 0 clear, 1 over a limit, 2 a wrong scene or call, 130 stopped; a
mistake is one sentence on stderr, nothing on stdout, no file.
"""

import json
import os
import re
import signal
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from devices import full_device
from zoo import NAMES, SCENES, built, scene_data, with_changes

from model.findings import judge
from model.solver import solve
from model.travel import grid
from model.units import Length
from viz import calls, cli, looking
from viz.asked import Asked

REAR, FRONT, TRAIL = (str(SCENES / f"{name}.toml") for name in ("wren_rear", "wren_front", "tarn_rear"))
PROGRAM = [sys.executable, "-c", "from viz.cli import main; main()"]
# Exact heights do not matter to most of what is tried here.
FEW = ["--wheel-steps", "3", "--steer-steps", "3"]
# Few poses and no gaps between parts.
QUICK = [*FEW, "--quick"]


@dataclass(frozen=True)
class Ran:
    """What a call came to."""

    code: int
    out: str
    err: str


@pytest.fixture
def call(monkeypatch, capsys):
    """Call the program in this process: quick, and its warnings are errors here."""

    def run(*arguments: str) -> Ran:
        monkeypatch.setattr(sys, "argv", ["fulltravel", *arguments])
        before = signal.getsignal(signal.SIGTERM)
        try:
            with pytest.raises(SystemExit) as stopped:
                cli.main()
        finally:
            signal.signal(signal.SIGTERM, before)
        printed = capsys.readouterr()
        assert isinstance(stopped.value.code, int)
        return Ran(stopped.value.code, printed.out, printed.err)

    return run


@pytest.fixture
def refused(call, tmp_path):
    """Call the program wrongly: the sentence it says, once it is sure that nothing else happened."""

    def run(*arguments: str) -> str:
        before = sorted(tmp_path.rglob("*"))
        ran = call(*arguments)
        assert (ran.code, ran.out) == (2, "")
        assert ran.err.startswith("fulltravel: ")
        assert ran.err.count("\n") == 1
        assert sorted(tmp_path.rglob("*")) == before
        return ran.err.removeprefix("fulltravel: ").rstrip("\n")

    return run


def variant(folder: Path, old: str, new: str, scene: str = REAR) -> str:
    """A scene file like one of ours but for one text."""
    text = Path(scene).read_text(encoding="utf-8")
    assert old in text
    path = folder / "variant.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return str(path)


# -- check -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "code", "words"),
    [
        ("wren_rear", 0, "Wren roadster, rear: CLEAR"),
        ("wren_front", 0, "Wren roadster, front: CLEAR"),
        ("tarn_rear", 1, "Tarn trail pickup, rear: OVER a limit"),
        ("parcel_front", 0, "Parcel van, front: CLEAR"),
    ],
)
def test_check_of_our_scenes(name, code, words, call):
    ran = call("check", str(SCENES / f"{name}.toml"), *QUICK)
    assert (ran.code, ran.err) == (code, "")
    assert words in ran.out.splitlines()[0] or words.replace("CLEAR", "clear, but CLOSE") in ran.out.splitlines()[0]


def test_check_that_locks_exits_with_1(call, tmp_path):
    scene = variant(tmp_path, "droop = 70", "droop = 400", FRONT)
    # Its dampers stop it long before: that is all of the travel there is, and what lies beyond is judged on request.
    ran = call("check", scene, *QUICK)
    assert "lie beyond a hard stop and are not judged; --beyond judges them too." in " ".join(ran.out.split())
    ran = call("check", scene, "--beyond", *QUICK)
    assert ran.code == 1
    assert "LOCKS inside the travel" in ran.out


@pytest.mark.parametrize(("options", "unit", "other"), [((), "mm", "in"), (("--units", "in"), "in", "mm")])
def test_check_prints_in_the_units_asked_for(options, unit, other, call):
    ran = call("check", REAR, *QUICK, *options)
    assert re.search(rf"\d {unit} bump, [0-9.]+ {unit} droop", ran.out)
    assert re.search(rf"stroke in .*\d {unit} .*\d {unit} .*\d {unit} .*\d {unit} up", ran.out)
    assert not re.search(rf"[0-9.]+ {other}\b", ran.out)


def test_json_on_the_screen_is_only_json(call):
    ran = call("check", TRAIL, "--json", "-", *QUICK)
    document = json.loads(ran.out)
    assert (ran.code, document["verdict"], document["poses"]) == (1, "over", 9)
    assert document["scene"] == TRAIL


def test_json_file_and_table_together(call, tmp_path):
    output = tmp_path / "found.json"
    ran = call("check", TRAIL, "--json", str(output), *QUICK)
    assert ran.out.startswith("Tarn trail pickup, rear")
    assert json.loads(output.read_text(encoding="utf-8"))["findings"][0]["state"] == "over"


def test_a_failed_run_leaves_the_old_json(call, tmp_path):
    output = tmp_path / "found.json"
    output.write_text("old")
    assert call("check", variant(tmp_path, "bump = 75", "bump = -75"), "--json", str(output)).code == 2
    assert output.read_text() == "old"


def test_several_mistakes_are_several_sentences(call, tmp_path):
    path = variant(tmp_path, "bump = 75", "bump = -75\nspeed = 3")
    text = Path(path).read_text(encoding="utf-8")
    Path(path).write_text(text.replace('kind = "poly bush"', 'kind = "polybush"'), encoding="utf-8")
    ran = call("check", path)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.splitlines() == [
        f'fulltravel: {path}: [joint."link bush"] kind is "polybush", which is not known; did you mean "poly bush"?',
        f"fulltravel: {path}: [travel] bump is -75, expected more than 0; correct it.",
        f'fulltravel: {path}: [travel] has the unknown key "speed"; choose one of bump, droop.',
    ]


def test_a_mistake_found_in_assembly_names_the_file_too(refused, tmp_path):
    path = variant(tmp_path, 'on = "axle"\ncentre', 'on = "axel"\ncentre')
    assert refused("check", path) == (
        f'{path}: [wheel."wheel"] on is "axel", which is no part of this scene; did you mean "axle"?'
    )


def test_files_that_cannot_be_scenes(refused, tmp_path):
    assert refused("check", str(tmp_path / "none.toml")).endswith("does not exist; check the name and the folder.")
    assert refused("check", str(tmp_path)).endswith("is a folder, expected a scene file; name a .toml file in it.")
    big = tmp_path / "big.toml"
    with big.open("wb") as file:
        file.truncate(50_000_000)
    begun = time.monotonic()
    assert refused("check", str(big)).endswith("holds more than 1 MB, expected a scene of a few kB; name a scene file.")
    assert time.monotonic() - begun < 1.0  # it is not read to its end: 50 MB of TOML would take minutes


def test_a_name_that_would_break_a_line(refused, tmp_path):
    assert refused("check", str(tmp_path / "a\n\x1b[31m.toml")).startswith(f"{tmp_path}/a\\n\\x1b[31m.toml does not")


@pytest.mark.parametrize("name", ["новый файл 车.toml", "with space.toml", "[red]x[red].toml"])
def test_scene_files_with_any_name(name, call, tmp_path):
    path = tmp_path / name
    path.write_bytes(Path(REAR).read_bytes())
    ran = call("check", str(path), "--json", "-", *QUICK)
    assert json.loads(ran.out)["scene"] == str(path)


ODD = "expected an odd number from 3 on, so that ride height is among them"


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("--wheel-steps", "4", f"--wheel-steps is 4, {ODD}; take 5."),
        ("--wheel-steps", "1", f"--wheel-steps is 1, {ODD}; take 3."),
        ("--steer-steps", "-2", f"--steer-steps is -2, {ODD}; take 3."),
        (
            "--wheel-steps",
            "10001",
            "these steps make 1e+08 poses, expected 9.1e+06 of this scene at most; take fewer steps.",
        ),
        (
            "--wheel-steps",
            "many",
            "invalid value for '--wheel-steps': expected a whole number; see fulltravel check --help.",
        ),
        ("--units", "cm", "invalid value for '--units': 'cm' is not one of 'mm', 'in'; see fulltravel check --help."),
        ("--jsn", "-", "no such option: --jsn (Possible options: --json); see fulltravel check --help."),
    ],
)
def test_options_that_cannot_be(option, value, said, refused):
    assert refused("check", REAR, option, value) == said
    assert refused("check", option, value, REAR) == said


def test_calls_that_cannot_be(refused, call):
    assert refused("check") == "missing argument 'SCENE'; see fulltravel check --help."
    assert refused("chekc", REAR) == "no such command 'chekc'; did you mean 'check'; see fulltravel --help."
    bare = call()
    assert bare.code == 2
    assert bare.out.startswith("Usage: fulltravel")


@pytest.mark.parametrize(
    ("command", "options"),
    [
        ("check", ["--json"]),
        ("sheet", ["-o"]),
        ("poses", ["-o"]),
        ("mesh", ["-o"]),
        ("still", ["-o"]),
        ("film", ["-o"]),
    ],
)
@pytest.mark.parametrize("spared", ["scene.toml", "rail.stl", "arm.stl"])
def test_no_command_writes_over_what_its_scene_is_read_from(command, options, spared, refused, tmp_path):
    files = {"rail.stl": b"a mesh", "arm.stl": b"another", "scene.toml": Path(FRONT).read_bytes()}
    files["scene.toml"] += b'\n[frame.rail_scan]\nmesh = "rail.stl"\n[mesh.arm_scan]\nof = "left lower arm"\n'
    files["scene.toml"] += b'file = "arm.stl"\n'
    for name, held in files.items():
        (tmp_path / name).write_bytes(held)
    target = tmp_path / "out.html" if command == "sheet" else tmp_path / "out.npz" if command == "poses" else None
    if target is not None:  # a suffix that this command takes, on a link that leads to the file
        target.symlink_to(spared)
    output = str(target or tmp_path / spared)
    assert refused(command, str(tmp_path / "scene.toml"), *options, output) == (
        f"{output} is a file that is read from, expected a file to write; choose another name."
    )
    assert {name: (tmp_path / name).read_bytes() for name in files} == files


def test_a_sheet_goes_down_a_pipe_alone():
    page = program("sheet", REAR, "--wheel-steps", "3", "-o", "/dev/stdout")
    assert (page.returncode, page.stderr) == (0, "")
    assert page.stdout.startswith("<!DOCTYPE html>")
    assert page.stdout.rstrip().endswith("</html>")


def test_json_into_a_folder_that_is_not_there(refused, tmp_path):
    target = tmp_path / "none" / "found.json"
    assert refused("check", REAR, *QUICK, "--json", str(target)) == (
        f"{target} cannot be written: its folder does not exist; make the folder first."
    )


@pytest.mark.skipif(not Path("/dev/full").is_char_device(), reason="only Linux has /dev/full")
@pytest.mark.parametrize("command", ["check", "poses"])
def test_a_full_disk(command, refused, tmp_path):
    target = full_device(tmp_path / "full.json")
    option = "--json" if command == "check" else "-o"
    assert refused(command, REAR, *FEW, option, str(target)) == (
        f"{target} could not be written: no space left on device; nothing was left behind."
    )


# -- poses, and the pose of a still, a film, a mesh --------------------------------------------------------------


def test_poses_to_both_formats(call, tmp_path):
    for suffix in ("npz", "json"):
        output = tmp_path / f"poses.{suffix}"
        ran = call("poses", FRONT, "-o", str(output), *FEW)
        assert (ran.code, ran.out, ran.err) == (0, f"{output}: 27 poses\n", "")
    with np.load(tmp_path / "poses.npz") as archive:
        assert archive["steer_percent"].tolist() == [-100.0, 0.0, 100.0] * 9


def test_poses_refuses_a_suffix_before_it_reads_the_scene(refused, tmp_path):
    assert refused("poses", "nothing.toml", "-o", str(tmp_path / "a.csv")).endswith("rename it.")


OUTSIDE = "choose a height inside it or widen [travel] in the scene."


@pytest.mark.parametrize(
    ("scene", "options", "said"),
    [
        (
            REAR,
            ["--bump", "100"],
            f"the left wheel would be at 100 mm, outside its travel from -75 mm to 75 mm; {OUTSIDE}",
        ),
        (
            REAR,
            ["--roll", "3", "--units", "in"],
            f"the left wheel would be at 3.00 in, outside its travel from -2.95 in to 2.95 in; {OUTSIDE}",
        ),
        (
            REAR,
            ["--right", "nan"],
            f"the right wheel would be at nan mm, outside its travel from -75 mm to 75 mm; {OUTSIDE}",
        ),
        (
            REAR,
            ["--bump", "5", "--left", "0"],
            "--bump and --roll do not go with --left and --right; use one pair or the other.",
        ),
        (
            REAR,
            ["--worst", "--bump", "5"],
            "--worst chooses the pose itself and does not go with --bump; use one or the other.",
        ),
        (
            REAR,
            ["--worst", "--left", "0"],
            "--worst chooses the pose itself and does not go with --left; use one or the other.",
        ),
        (REAR, ["--steer", "5"], "--steer moves the steering, which this scene does not have; leave --steer out."),
        (FRONT, ["--steer", "101"], "--steer is 101, expected -100 (full right lock) to 100 (full left lock) percent."),
        (FRONT, ["--steer", "nan"], "--steer is nan, expected -100 (full right lock) to 100 (full left lock) percent."),
    ],
)
@pytest.mark.parametrize("command", ["mesh", "still"])
def test_poses_that_cannot_be_asked_for(command, scene, options, said, refused, tmp_path):
    suffix = "glb" if command == "mesh" else "png"
    assert refused(command, scene, "-o", str(tmp_path / f"a.{suffix}"), *options) == said


def test_a_wheel_that_the_scene_does_not_have(refused, tmp_path):
    whole = (SCENES / "parcel_front.toml").read_text(encoding="utf-8")
    text = "\n".join(line for line in whole.splitlines() if line != "mirror = true")
    path = tmp_path / "corner.toml"
    path.write_text(text, encoding="utf-8")
    assert refused("mesh", str(path), "-o", str(tmp_path / "a.glb"), "--right", "5") == (
        "--right moves the right wheel, which this scene does not have; leave --right out."
    )


@pytest.mark.parametrize("size", ["rubbish", "100", "100x", "x100", "-1x100", "1e3x100", "100x٣٠٠", "1000000x1"])
@pytest.mark.parametrize("command", [["still", "a.png"], ["film", "a.gif"]])
def test_sizes_that_cannot_be(command, size, refused, tmp_path):
    name, output = command
    assert refused(name, REAR, "-o", str(tmp_path / output), "--size", size) == (
        f'--size is "{size}", expected WIDTHxHEIGHT in pixels, such as 1600x1000.'
    )


def test_a_cycle_that_the_scene_cannot_make(refused, tmp_path):
    assert refused("film", REAR, "-o", str(tmp_path / "a.gif"), "--cycle", "steer") == (
        'this scene cannot run through the cycle "steer"; choose one of both, cross, left, right, all.'
    )


def test_a_mesh_of_one_wheel_up(call, tmp_path):
    pytest.importorskip("viz.mesh", reason="the mesh export is not written yet", exc_type=ImportError)
    output = tmp_path / "parts.stl"
    ran = call("mesh", TRAIL, "-o", str(output), "--left", "200", "--right", "-150")
    assert (ran.code, ran.out) == (0, f"{output}: left wheel 200 mm up, right wheel 150 mm down\n")
    assert output.stat().st_size > 0


# -- schema, help, completion ------------------------------------------------------------------------------------


def test_schema_is_a_json_schema(call):
    ran = call("schema")
    document = json.loads(ran.out)
    assert document["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert {"title", "units", "points", "wheel", "travel"} == set(document["required"])


@pytest.mark.parametrize("command", ["check", "poses", "still", "film", "mesh", "schema"])
def test_help_says_what_the_command_is_for(command, call):
    ran = call(command, "--help")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith(f"Usage: fulltravel {command}")
    assert not {"<float>", "<str>", "<int>"} & set(ran.out.split())
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_help_names_every_command_and_how_to_begin(call):
    text = call("--help").out
    for command in ("check", "poses", "still", "film", "mesh", "schema"):
        line = next(line for line in text.splitlines() if line.split()[:1] == [command])
        assert line.endswith(".")
        assert not line.endswith("...")  # said in full, not cut off
    assert "Begin with: fulltravel check scenes/wren_rear.toml" in text


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion(shell):
    # Typer asks for the shell's name where it cannot see one above it.
    ran = program("--show-completion", shell, environment={"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"})
    assert ran.returncode == 0
    assert "_FULLTRAVEL_COMPLETE" in ran.stdout


def test_completion_offers_the_commands():
    ran = program(
        environment={"_FULLTRAVEL_COMPLETE": "complete_bash", "COMP_WORDS": "fulltravel s", "COMP_CWORD": "1"}
    )
    assert ran.stdout.split() == ["sheet", "set", "spring", "still", "schema"]


# -- as a program of its own -------------------------------------------------------------------------------------


def program(*arguments: str, environment: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", "import sys; sys.argv[0] = 'fulltravel'; from viz.cli import main; main()", *arguments],
        capture_output=True,
        check=False,
        encoding="utf-8",
        env=os.environ | (environment or {}),
        timeout=60,
    )


def test_help_waits_for_no_heavy_import():
    heavy = {"numpy", "scipy", "pydantic", "pyvista", "vtkmodules", "trimesh", "PIL", "rich.console"}
    code = f"import sys, viz.cli; print(sorted({heavy} & set(sys.modules)))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert ran.stdout.strip() == "[]"


@pytest.mark.parametrize("arguments", [["check", FRONT, *QUICK], ["schema"]])
def test_check_and_schema_never_import_what_draws(arguments):
    code = (
        "import sys; from viz.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "print(sorted({'pyvista', 'vtkmodules', 'vtk', 'trimesh', 'imageio', 'matplotlib', 'PIL'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, check=True, encoding="utf-8")
    assert ran.stdout.splitlines()[-1] == "[]"


@pytest.mark.slow
def test_help_is_as_quick_as_its_option_parser():
    def seconds(code: str, *arguments: str) -> float:
        taken = []
        for _ in range(15):
            begun = time.perf_counter()
            subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, check=True)
            taken.append(time.perf_counter() - begun)
        return statistics.median(taken)

    parser = seconds("import typer")
    ours = seconds("from viz.cli import main; main()", "--help")
    # The project aims at 1.5; the parser builds every command's options for its list, some 1.5 ms each, which with
    # fifteen of them comes to that. One heavy import, such as NumPy's 80 ms, is far beyond 2.
    assert ours < 2.0 * parser


@pytest.mark.parametrize(
    ("arguments", "code"), [(["check", TRAIL, *QUICK], 1), (["check", TRAIL, "--json", "-"], 1), (["schema"], 0)]
)
def test_a_reader_that_leaves_early_changes_no_exit_code(arguments, code):
    reading, writing = os.pipe()
    os.close(reading)
    try:
        ran = subprocess.run([*PROGRAM, *arguments], stdout=writing, stderr=subprocess.PIPE, check=False, timeout=60)
    finally:
        os.close(writing)
    assert (ran.returncode, ran.stderr) == (code, b"")


@pytest.mark.skipif(not Path("/dev/full").is_char_device(), reason="only Linux has /dev/full")
def test_printing_to_a_full_disk_is_one_sentence():
    with Path("/dev/full").open("wb") as full:
        ran = subprocess.run(
            [*PROGRAM, "check", REAR, *QUICK], stdout=full, stderr=subprocess.PIPE, check=False, timeout=60
        )
    assert ran.returncode == 2
    assert ran.stderr == b"fulltravel: the output cannot be printed: no space left on device.\n"


def test_closed_streams_do_not_matter():
    shell = f'"{sys.executable}" -c "from viz.cli import main; main()" check "{TRAIL}" --wheel-steps 3'
    for closing in (">&-", "2>&-", ">&- 2>&-"):
        ran = subprocess.run(["sh", "-c", f"{shell} {closing}"], capture_output=True, check=False, timeout=60)
        assert ran.returncode == 1, closing
        assert ran.stderr == b"", closing


def test_a_terminal_without_unicode_gets_marks_and_valid_json(tmp_path):
    path = tmp_path / "x.toml"
    path.write_text(Path(REAR).read_text(encoding="utf-8").replace("upper link", "θ 上"), encoding="utf-8")
    table = program("check", str(path), *QUICK, environment={"PYTHONIOENCODING": "ascii"})
    assert (table.returncode, table.stderr) == (0, "")
    assert "? ?, at axle" in table.stdout
    found = program("check", str(path), "--json", "-", *QUICK, environment={"PYTHONIOENCODING": "ascii"})
    assert "θ 上, at axle" in {entry["where"] for entry in json.loads(found.stdout)["findings"]}


def test_a_file_name_that_is_no_text(tmp_path):
    path = os.fsencode(tmp_path) + b"/caf\xe9.toml"
    Path(os.fsdecode(path)).write_bytes(Path(REAR).read_bytes())
    ran = subprocess.run([*PROGRAM, "check", path, "--json", "-", *QUICK], capture_output=True, check=True, timeout=60)
    assert json.loads(ran.stdout)["scene"].endswith("caf?.toml")


@pytest.fixture
def long_solve(tmp_path) -> Iterator[subprocess.Popen[bytes]]:
    """A run over a million poses, some seconds long, that has begun to solve: it says so itself, on a pipe of ours."""
    ours, theirs = os.pipe()
    begun = f"""
import os
from model import solver
from viz.cli import main
solve = solver.solve
def begin(*arguments):
    os.write({theirs}, b"begun")
    return solve(*arguments)
solver.solve = begin
main()
"""
    command = [sys.executable, "-c", begun, "poses", FRONT, "--wheel-steps", "301", "-o", str(tmp_path / "poses.npz")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, pass_fds=[theirs]) as running:
        os.close(theirs)
        assert os.read(ours, 5) == b"begun"  # nothing at all, where it ends before
        os.close(ours)
        yield running
        running.kill()


@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_stopping_a_long_solve_leaves_nothing(stop, long_solve, tmp_path):
    assert long_solve.poll() is None
    long_solve.send_signal(stop)
    out, err = long_solve.communicate(timeout=120)  # a machine under load is slow, not wrong
    assert (long_solve.returncode, out, err) == (130, b"", b"fulltravel: stopped; nothing was written.\n")
    assert list(tmp_path.iterdir()) == []


def test_every_scene_of_ours_is_tried():
    assert set(NAMES) == {path.stem for path in SCENES.glob("*.toml")}


def test_a_fault_of_the_program_is_a_sentence_too(monkeypatch, capsys) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("by design")

    monkeypatch.setattr(cli, "app", broken)
    monkeypatch.delenv("FULLTRAVEL_TRACEBACK", raising=False)
    assert cli._run() == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "ZeroDivisionError: by design" in said
    monkeypatch.setenv("FULLTRAVEL_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        cli._run()


def test_the_worst_of_the_joint_that_is_looked_at() -> None:
    mechanism = built(scene_data("wren_rear"))
    place = "left lower link, at axle"
    findings = judge(solve(mechanism, grid(mechanism, 21, 11))).findings
    tilt = next(one for one in findings if (one.what, one.where) == ("tilt", place))
    posed = looking.one_pose(mechanism, Length.MM, Asked(worst=True), f"joint:{place}")
    assert posed.stands_at(0) == tilt.drives


def test_the_worst_of_all_may_be_a_gap_that_is_looked_at() -> None:
    # A post of 40 mm beside the tyre: nothing else of this rear is over.
    data = scene_data("wren_rear")
    centre = data["points"]["wheel_centre"]
    ends = {f"post_{height}": [centre[0] + 100, centre[1] - 80, height] for height in (200, 900)}
    post = {"path": list(ends), "diameter": 40}
    mechanism = built(with_changes(data, points={**data["points"], **ends}, frame={**data["frame"], "post": post}))
    posed, view, marks = looking.looked_at(mechanism, Length.MM, Asked(worst=True), looking.PLAIN_VIEW)
    (mark,) = marks
    assert view.startswith("gap:")
    assert "post" in view
    assert mark.distance < 0.0
    worst = calls.reviewed(mechanism, calls.WHEEL_STEPS, calls.STEER_STEPS, gaps=True, beyond=False).verdict.findings[0]
    assert posed.stands_at(0) == pytest.approx(worst.drives)


def test_the_version_is_the_packages(call) -> None:
    from importlib.metadata import version

    ran = call("--version")
    assert (ran.code, ran.out) == (0, f"fulltravel {version('fulltravel')}\n")
