"""Outputs are written whole or not at all. All expectations are the project's own promises (D)."""

import os
import stat
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
from devices import full_device

from model.errors import CallError
from viz import cli
from viz.files import check_suffix, is_stream, output_path, path_text, spare, whole_file


def left_in(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def write_half(output: Path, failure: type[BaseException]) -> None:
    with whole_file(output) as temporary:
        temporary.write_text("half")
        raise failure


def test_the_file_appears_only_at_the_end(tmp_path):
    output = tmp_path / "out.json"
    with whole_file(output) as temporary:
        temporary.write_text("new")
        assert not output.exists()
        assert temporary.suffix == ".json"  # writers choose their format by it
    assert output.read_text() == "new"
    assert left_in(tmp_path) == ["out.json"]


@pytest.mark.parametrize("failure", [ValueError, KeyboardInterrupt, SystemExit])
def test_a_failure_leaves_the_old_file_and_nothing_else(failure, tmp_path):
    output = tmp_path / "out.json"
    output.write_text("old")
    with pytest.raises(failure):
        write_half(output, failure)
    assert output.read_text() == "old"
    assert left_in(tmp_path) == ["out.json"]


def test_a_full_disk_is_one_sentence(tmp_path):
    output = tmp_path / "out.json"
    output.write_text("old")
    with pytest.raises(CallError) as caught, whole_file(output):
        raise OSError(28, "No space left on device")
    assert caught.value.complaints == (
        f"{output} could not be written: no space left on device; nothing was left behind.",
    )
    assert output.read_text() == "old"
    assert left_in(tmp_path) == ["out.json"]


def test_a_folder_that_is_not_there(tmp_path):
    output = tmp_path / "none" / "out.json"
    with pytest.raises(CallError) as caught, whole_file(output):
        pytest.fail("nothing may be written")
    assert caught.value.complaints == (
        f"{output} cannot be written: its folder does not exist; make the folder first.",
    )


def test_a_folder_in_place_of_a_file(tmp_path):
    with pytest.raises(CallError, match="is a folder, expected a file to write; add a file name"), whole_file(tmp_path):
        pytest.fail("nothing may be written")


@pytest.mark.parametrize("mode", [0o555, 0o000], ids=["read only", "closed"])
def test_a_folder_without_permission(mode):
    with tempfile.TemporaryDirectory() as name, nobody(Path(name)):
        folder = Path(name) / "locked"
        folder.mkdir()
        folder.chmod(mode)
        try:
            with (
                pytest.raises(CallError, match="cannot be written: permission denied; choose another folder"),
                whole_file(folder / "out.json"),
            ):
                pytest.fail("nothing may be written")
        finally:
            folder.chmod(0o755)
        assert left_in(folder) == []


@contextmanager
def nobody(folder: Path) -> Iterator[None]:
    """Root may write everywhere: be nobody for a moment, in a folder of one's own."""
    if os.geteuid() != 0:
        yield
        return
    os.chown(folder, 65534, 65534)
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_a_new_file_is_an_ordinary_file_and_an_old_one_stays_as_open_as_it_was(tmp_path):
    new, private = tmp_path / "new.json", tmp_path / "private.json"
    private.write_text("old")
    private.chmod(0o600)
    before = os.umask(0o022)
    try:
        for output in (new, private):
            with whole_file(output) as temporary:
                temporary.write_text("x")
    finally:
        os.umask(before)
    assert stat.S_IMODE(new.stat().st_mode) == 0o644
    assert stat.S_IMODE(private.stat().st_mode) == 0o600


def test_a_link_is_followed_and_stays_a_link(tmp_path):
    link, real = tmp_path / "link.json", tmp_path / "real.json"
    real.write_text("old")
    link.symlink_to("real.json")
    with whole_file(link) as temporary:
        temporary.write_text("new")
    assert link.is_symlink()
    assert real.read_text() == "new"


def test_a_link_in_a_circle(tmp_path):
    circle = tmp_path / "circle.json"
    circle.symlink_to("circle.json")
    with pytest.raises(CallError, match="link"), whole_file(circle) as temporary:
        temporary.write_text("new")
    assert left_in(tmp_path) == ["circle.json"]


def test_a_pipe_is_written_into_and_stays_a_pipe(tmp_path):
    # A device or a pipe must never be replaced by a file: as root that would break /dev/null for the whole machine.
    pipe = tmp_path / "pipe.json"
    os.mkfifo(pipe)
    read: list[str] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_text()))
    reader.start()
    with whole_file(pipe) as temporary:
        temporary.write_text("through")
    reader.join(timeout=10)
    assert read == ["through"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert left_in(tmp_path) == ["pipe.json"]


def test_the_programs_own_stream_is_written_into_behind_what_is_there(tmp_path):
    # Both where it is a pipe and where the shell sends it to a file, which must not be replaced.
    code = (
        "import sys, pathlib; from viz.files import whole_file\n"
        "print('before', flush=True)\n"
        "with whole_file(pathlib.Path(sys.argv[1])) as temporary: temporary.write_text('page ')\n"
        "print('after', flush=True)"
    )
    for name in ("/dev/stdout", "/dev/fd/1"):
        run = [sys.executable, "-c", code, name]
        through = subprocess.run(run, check=True, capture_output=True, text=True).stdout
        assert through == "before\npage after\n"
        with (tmp_path / "out").open("w") as file:
            subprocess.run(run, check=True, stdout=file)
        assert (tmp_path / "out").read_text() == through


def test_a_stream_has_no_suffix_and_gets_the_first_format(tmp_path):
    formats = {".npz": "small", ".json": "to read"}
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert check_suffix(pipe, formats) == ".npz"
    assert check_suffix(Path("/dev/stdout"), formats) == ".npz"
    for plain in (tmp_path / "new", tmp_path):
        assert not is_stream(plain)
        with pytest.raises(CallError, match="ends in nothing, expected"):
            check_suffix(plain, formats)


def test_what_a_scene_is_read_from_is_spared_under_any_name(tmp_path):
    scene, other = tmp_path / "scene.toml", tmp_path / "other.html"
    scene.write_text("scene")
    other.write_text("page")
    soft, hard = tmp_path / "soft.html", tmp_path / "hard.html"
    soft.symlink_to(scene)
    hard.hardlink_to(scene)
    for output in (scene, soft, hard, tmp_path / "." / "scene.toml"):
        with pytest.raises(CallError) as caught:
            spare(output, [tmp_path / "gone.stl", scene])
        assert caught.value.complaints == (
            f"{output} is a file that is read from, expected a file to write; choose another name.",
        )
    for output in (other, tmp_path / "new.html", Path(os.devnull)):
        spare(output, [scene, Path(os.devnull)])


@pytest.mark.skipif(not Path("/dev/full").is_char_device(), reason="only Linux has /dev/full")
def test_a_full_device(tmp_path):
    full = full_device(tmp_path / "full.json")
    with (
        pytest.raises(CallError, match="could not be written: no space left on device; nothing was left behind"),
        whole_file(full) as temporary,
    ):
        temporary.write_text("x" * 10)
    assert full.is_char_device()
    assert left_in(tmp_path) == ["full.json"]


def test_a_path_is_told_on_one_line_in_any_encoding():
    assert path_text(Path("a\n\x1b[31m.toml")) == "a\\n\\x1b[31m.toml"
    assert path_text(Path(os.fsdecode(b"caf\xe9.toml"))) == "caf?.toml"
    assert path_text(Path("новый 车.toml")) == "новый 车.toml"


def test_importing_files_needs_no_numpy():
    code = "import sys, viz.files; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_name_that_ends_as_a_folder_does_is_no_file():
    assert output_path("a/x.svg") == Path("a/x.svg")
    with pytest.raises(CallError) as caught:
        output_path("a/x.svg/")
    assert caught.value.complaints == ("a/x.svg/ is a folder's name, expected a file to write; name the file.",)


@pytest.mark.parametrize(
    "command", ["curves", "compare", "vehicle", "still", "loads", "sheet", "poses", "film", "page"]
)
def test_every_command_takes_a_folder_for_a_folder(command, tmp_path):
    callback = next(each.callback for each in cli.app.registered_commands if each.callback.__name__ == command)
    option = get_args(get_type_hints(callback, include_extras=True)["output"])[1]
    assert option.parser is output_path
