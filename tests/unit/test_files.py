"""A folder is written whole or left as it was; only files that end are read."""

import os
import socket

import pytest

from knifecam.errors import OutputError
from knifecam.files import read_file, refuse_folder, write_whole


def held(folder):
    return {p.name: p.read_text() for p in folder.iterdir()}


def test_all_is_written_and_what_is_stale_goes(tmp_path):
    (tmp_path / "a").write_text("old")
    (tmp_path / "gone").write_text("old")
    (tmp_path / "other").write_text("of someone else")
    write_whole(
        tmp_path,
        {"a": "new", "b": lambda path: path.write_text("drawn")},
        stale=["gone", "never was"],
    )
    assert held(tmp_path) == {"a": "new", "b": "drawn", "other": "of someone else"}


def test_a_writer_that_fails_leaves_everything_as_it_was(tmp_path):
    (tmp_path / "a").write_text("old")
    (tmp_path / "gone").write_text("old")

    def fails(path):
        path.write_text("half")
        raise OSError(28, "No space left on device", str(path))

    with pytest.raises(OutputError, match=r"--out=.*: b cannot be written there: no space") as e:
        write_whole(tmp_path, {"a": "new", "b": fails}, stale=["gone"])
    assert ".knifecam-" not in str(e.value)
    assert held(tmp_path) == {"a": "old", "gone": "old"}


@pytest.mark.parametrize("stop_at", [1, 2, 3, 4, 5])
def test_stopped_while_files_change_places_nothing_has_changed(tmp_path, monkeypatch, stop_at):
    """Three files move out, three in; a hand stops it after each of the first five moves."""
    for name in ("a", "b", "gone"):
        (tmp_path / name).write_text("old")
    real, moves = os.replace, []

    def replace(source, target):
        real(source, target)
        moves.append(target)
        if len(moves) == stop_at:
            raise KeyboardInterrupt

    monkeypatch.setattr("knifecam.files.os.replace", replace)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path, {"a": "new", "b": "new", "c": "new"}, stale=["gone"])
    assert held(tmp_path) == {"a": "old", "b": "old", "gone": "old"}


def test_a_folder_made_for_nothing_goes_again(tmp_path):
    def fails(path):
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        write_whole(tmp_path / "deep" / "er", {"a": fails})
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_written_is_said_with_a_remedy(tmp_path):
    (tmp_path / "file").write_text("")
    (tmp_path / "side-a.nc").mkdir()
    with pytest.raises(OutputError, match="is a file, not a folder; name another folder"):
        refuse_folder(tmp_path / "file" / "made")
    with pytest.raises(OutputError, match=r"side-a\.nc is a folder there.*name another"):
        write_whole(tmp_path, {"side-a.nc": "G90"})


def test_a_file_is_read_up_to_its_limit(tmp_path):
    path = tmp_path / "file"
    path.write_bytes(b"G90\n")
    assert read_file(path, 4) == read_file(str(path), 4) == b"G90\n"
    with pytest.raises(OSError, match="0 MB long; at most 3e-06 MB are read") as told:
        read_file(path, 3)
    assert told.value.filename == str(path)


def test_what_may_never_end_is_known_before_it_is_read(tmp_path):
    """Reading the pipe would wait for a writer for ever; the sparse file would fill 8 TB."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "endless").touch()
    os.truncate(tmp_path / "endless", 8 * 10**12)
    with socket.socket(socket.AF_UNIX) as listening:
        here = os.open(tmp_path, os.O_RDONLY)
        try:
            listening.bind(f"/proc/self/fd/{here}/socket")  # a path of the test may be too long
        finally:
            os.close(here)
    for name, why in (
        ("pipe", "it is a pipe, not a file"),
        ("socket", "it is a socket, not a file"),
        ("endless", "it is 8000000 MB long; at most 1 MB are read"),
        (".", "it is a folder, not a file"),
        ("/dev/zero", "it is a device, not a file"),
    ):
        with pytest.raises(OSError, match=f"^.*{why}"):
            read_file(tmp_path / name, 10**6)


def test_a_file_that_does_not_tell_its_length_is_read_no_further(tmp_path, monkeypatch):
    """Files of the system say that they are 0 long."""
    real = os.stat(tmp_path)
    (tmp_path / "long").write_bytes(b"x" * 100)
    told = os.stat_result((0o100644, *tuple(real)[1:6], 0, *tuple(real)[7:10]))
    monkeypatch.setattr("knifecam.files.os.stat", lambda _: told)
    with pytest.raises(OSError, match=r"it does not end; at most 5e-05 MB are read"):
        read_file(tmp_path / "long", 50)
