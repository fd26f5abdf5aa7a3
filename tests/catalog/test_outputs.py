"""The one writer of files, tried on disks that are full, on devices and pipes, and under umasks."""

from __future__ import annotations

import os
import resource
import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from triptych.catalog.errors import BadInput
from triptych.catalog.outputs import beside, write_file


@pytest.fixture
def umask() -> Iterator[None]:
    before = os.umask(0o027)
    yield
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.usefixtures("umask")
def test_a_new_file_follows_the_umask_and_another_keeps_its_rights(tmp_path: Path) -> None:
    new, old = tmp_path / "new", tmp_path / "old"
    old.write_text("before")
    old.chmod(0o664)
    for path in (new, old):
        write_file(path, b"after")
    assert (mode(new), mode(old)) == (0o640, 0o664)
    assert (new.read_bytes(), old.read_bytes()) == (b"after", b"after")
    with beside(old, mode=0o600) as scratch:
        scratch.write_text("private")
    assert mode(old) == 0o600
    assert sorted(one.name for one in tmp_path.iterdir()) == ["new", "old"]


def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("before")
    (tmp_path / "link").symlink_to("real")
    write_file(tmp_path / "link", b"after")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"after"


def test_what_is_no_file_is_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "socket"))
        for name in ("folder", "socket", "/dev/null", "/dev/full"):
            with pytest.raises(BadInput, match="never replaced; name a file"):
                write_file(tmp_path / name, b"x")
        (tmp_path / "link").symlink_to("/dev/null")
        with pytest.raises(BadInput, match="is a device"):
            write_file(tmp_path / "link", b"x")
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)
    assert stat.S_ISSOCK((tmp_path / "socket").stat().st_mode)


def test_a_pipe_that_is_named_gets_the_bytes_and_stays_one(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    got: list[bytes] = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    write_file(pipe, b"x" * 200_000)
    reader.join()
    assert got == [b"x" * 200_000]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    with pytest.raises(BadInput, match="is a pipe"), beside(pipe):
        raise AssertionError("a pipe is no file")


@pytest.mark.processes
def test_stdout_by_name_gets_the_bytes_after_what_stands_there(tmp_path: Path) -> None:
    code = "from pathlib import Path; from triptych.catalog.outputs import write_file as w; print('before');"
    code += "w(Path('/dev/stdout'), b'bytes')"
    with (tmp_path / "out").open("wb") as stream:
        subprocess.run([sys.executable, "-c", code], stdout=stream, check=True)
    assert (tmp_path / "out").read_bytes() == b"before\nbytes"
    piped = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout
    assert piped == b"before\nbytes"


def test_what_is_there_already_is_kept_where_it_must_be(tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine")
    with pytest.raises(BadInput, match="is there already"):
        write_file(tmp_path / "mine", b"theirs", replace=False)
    with pytest.raises(BadInput, match="is there already"), beside(tmp_path / "late", replace=False):
        (tmp_path / "late").write_text("faster")
    assert [(tmp_path / name).read_text() for name in ("mine", "late")] == ["mine", "faster"]
    write_file(tmp_path / "new", b"x", replace=False)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["late", "mine", "new"]


@pytest.mark.processes
@pytest.mark.parametrize("there", [None, b"before"])
def test_a_disk_that_is_full_leaves_what_was_there_and_nothing_else(tmp_path: Path, there: bytes | None) -> None:
    path = tmp_path / "out.csv"
    if there is not None:
        path.write_bytes(there)
    code = (
        "import sys; from pathlib import Path; from triptych.catalog.outputs import write_file\n"
        "try: write_file(Path(sys.argv[1]), b'x' * 100_000)\n"
        "except Exception as problem: sys.exit(f'{type(problem).__name__}: {problem}')"
    )

    def small() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))

    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, preexec_fn=small)
    assert done.returncode == 1
    assert done.stderr == f"BadInput: {path}: File too large; give a path that can be written\n"
    assert [one.read_bytes() for one in tmp_path.iterdir()] == ([] if there is None else [there])


def test_a_file_that_fails_half_way_goes(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError), beside(tmp_path / "out") as scratch:
        scratch.write_text(str(1 // 0))
    assert list(tmp_path.iterdir()) == []
    for name in ("no/such", "x" * 300):
        with pytest.raises(BadInput):
            write_file(tmp_path / name, b"x")
