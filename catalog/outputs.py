"""The one writer of files: whole or not at all, in the place of files only, with the rights that people expect."""

from __future__ import annotations

import os
import re
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from triptych.catalog.errors import BadInput

PRIVATE: Final = 0o600
"""The rights of what only its owner may read: a catalogue, and copies of it."""

_STREAM: Final = re.compile(r"/dev/(stdout|stderr|fd/\d+)|/proc/(self|\d+)/fd/\d+")
_KINDS: Final = {
    stat.S_IFDIR: "a folder",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFIFO: "a pipe",
    stat.S_IFSOCK: "a socket",
}


def write_file(path: Path, content: bytes, *, replace: bool = True) -> None:
    """Write a file whole or not at all; what is named as a pipe or as stdout gets the bytes straight.

    Raises
    ------
    BadInput
        A device, a socket or a folder has that name, or a file has and `replace` is false, or it cannot be written.
    """
    if is_stream(path):
        _pour(path, content)
        return
    with beside(path, replace=replace) as scratch:
        scratch.write_bytes(content)


def is_stream(path: Path) -> bool:
    """Whether a name is a pipe's or an open stream's, such as /dev/stdout, which takes bytes and is never replaced.

    Raises
    ------
    BadInput
        No file can have that name.
    """
    if "\0" in str(path):
        raise BadInput(f"{str(path)!r} has a character that no name of a file can have; name another file")
    return _STREAM.fullmatch(str(path)) is not None or _kind(path) == stat.S_IFIFO


def refuse_no_file(path: Path) -> None:
    """Refuse a name under which no file can be put: of a folder, a device, a pipe or a socket, or in no folder.

    Raises
    ------
    BadInput
        Says what is there.
    """
    what = _KINDS.get(_kind(path))
    if what is not None:
        raise BadInput(f"{path}: is {what}, which is never replaced; name a file")
    folder = _real(path).parent
    if not folder.is_dir():
        raise BadInput(f"{path}: there is no folder {folder}; create it, or name another file")


@contextmanager
def beside(path: Path, *, replace: bool = True, mode: int | None = None) -> Iterator[Path]:
    """Give an empty file to be filled, which takes its name when the block ends well and goes when it doesn't.

    Parameters
    ----------
    path : Path
        The name that it takes; a link is followed.
    replace : bool
        Whether a file of that name may be replaced.
    mode : int, optional
        Its rights; else those of the file it replaces, else what the umask leaves.

    Raises
    ------
    BadInput
        There is something of that name that is not to be replaced, or it cannot be written.
    """
    try:
        refuse_no_file(path)
        real = _real(path)
        there = real.stat() if real.exists() else None
        if there and not replace:
            raise FileExistsError
        if there and not os.access(real, os.W_OK):
            raise BadInput(f"{path}: may only be read; name another file")
        scratch = _made(real, mode if mode is not None else 0o666)
        try:
            if mode is None and there:
                scratch.chmod(stat.S_IMODE(there.st_mode))
            yield scratch
            _sync(scratch)
            _put(scratch, real, replace=replace)
        finally:
            scratch.unlink(missing_ok=True)
    except FileExistsError:
        raise BadInput(f"{path}: is there already; move it away first, so that nothing is lost") from None
    except OSError as problem:
        raise BadInput(f"{path}: {problem.strerror or problem}; give a path that can be written") from None


def _kind(path: Path) -> int:
    """What is there, through links, as `stat` counts kinds; 0 where nothing is."""
    try:
        return stat.S_IFMT(path.stat().st_mode)
    except (OSError, ValueError):
        return 0


def _real(path: Path) -> Path:
    return Path(os.path.realpath(path))


def _made(path: Path, mode: int) -> Path:
    """A new file beside another, made under the umask."""
    from secrets import token_hex

    scratch = path.with_name(f".{path.name[:100]}.{token_hex(6)}")
    os.close(os.open(scratch, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode))
    if mode != 0o666:
        scratch.chmod(mode)
    return scratch


def _sync(path: Path) -> None:
    """Bring a file to the disk before it gets its name."""
    with path.open("rb") as stream:
        os.fsync(stream.fileno())


def _put(scratch: Path, path: Path, *, replace: bool) -> None:
    if replace:
        scratch.replace(path)
        return
    try:
        # unlike a rename, a link never takes the place of what somebody put there meanwhile
        os.link(scratch, path)
    except FileExistsError:
        raise
    except OSError:  # some disks know no links
        if path.exists():
            raise FileExistsError from None
        scratch.replace(path)


def _pour(path: Path, content: bytes) -> None:
    try:
        if str(path) == "/dev/stdout":
            # opened anew, it would begin where the file that stdout goes to begins
            sys.stdout.flush()
            sys.stdout.buffer.write(content)
            sys.stdout.buffer.flush()
            return
        with path.open("wb", buffering=0) as stream:
            view = memoryview(content)
            while view:
                view = view[stream.write(view) :]
    except BrokenPipeError:
        raise
    except OSError as problem:
        raise BadInput(f"{path}: {problem.strerror or problem}; give a path that can be written") from None
