"""A power cut right after a save was acknowledged: the journal's unlinking, if nothing synced it, never happened.

SQLite's own VFS is watched from within the process that writes: its `xDelete` is told whether the folder has to be synced
before it returns (`syncDir`), and keeps what the journal held. Where it need not be, the crash image is the database as it
was when the commit returned with the journal still beside it; opening that image shows whether the row is there. The data
of both files are synced by then at every level tried here.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from topout.web import environment

COMMITS = 40
WRITER = r"""
import _sqlite3, ctypes, json, shutil, sqlite3, sys
from contextlib import closing
from pathlib import Path

folder, pragmas, commits = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
library = ctypes.CDLL(getattr(_sqlite3, "__file__", None))
DELETE = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int)

class Vfs(ctypes.Structure):  # sqlite3.h, struct sqlite3_vfs, as far as xDelete
    _fields_ = [("version", ctypes.c_int), ("size", ctypes.c_int), ("longest", ctypes.c_int), ("next", ctypes.c_void_p),
                ("name", ctypes.c_char_p), ("data", ctypes.c_void_p), ("open", ctypes.c_void_p), ("delete", DELETE)]

library.sqlite3_vfs_find.restype = ctypes.POINTER(Vfs)
vfs = library.sqlite3_vfs_find(None).contents
real = ctypes.cast(ctypes.cast(vfs.delete, ctypes.c_void_p).value, DELETE)
unlinked = []

def watched(this, name, sync_folder):
    shutil.copyfile(name.decode(), folder / "kept-journal")
    unlinked.append(bool(sync_folder))
    return real(this, name, sync_folder)

hook = DELETE(watched)
vfs.delete = hook
path, lost, images = folder / "w.sqlite3", 0, 0
with closing(sqlite3.connect(path, isolation_level=None)) as base:
    base.executescript(pragmas)
    base.execute("CREATE TABLE reading (id INTEGER PRIMARY KEY, text TEXT)")
    for n in range(1, commits + 1):
        before = len(unlinked)
        base.execute("BEGIN IMMEDIATE")
        base.execute("INSERT INTO reading (text) VALUES (?)", ("71 psi " * 50,))
        base.execute("COMMIT")
        # Acknowledged here; the power goes.
        for synced in unlinked[before:]:
            image = folder / f"image-{n}.sqlite3"
            shutil.copyfile(path, image)
            if not synced:
                shutil.copyfile(folder / "kept-journal", f"{image}-journal")
            images += 1
            watching, vfs.delete = vfs.delete, real
            with closing(sqlite3.connect(image)) as after:
                rows = after.execute("SELECT count(*) FROM reading").fetchone()[0]
                assert after.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            vfs.delete = hook
            lost += rows < n
    mode = base.execute("PRAGMA journal_mode").fetchone()[0]
print(json.dumps({"lost": lost, "images": images, "mode": mode}))
"""


def cut(folder: Path, pragmas: str) -> dict[str, object]:
    """What a writer with these pragmas lost of what it had acknowledged, over as many power cuts as commits."""
    line = [sys.executable, "-c", WRITER, str(folder), pragmas, str(COMMITS)]
    done = subprocess.run(line, capture_output=True, text=True, timeout=120)
    if "sqlite3_vfs_find" in done.stderr:
        pytest.skip("this Python hides its SQLite, so its writes can't be watched")
    assert done.returncode == 0, done.stderr
    found: dict[str, object] = json.loads(done.stdout)
    return found


def test_what_was_acknowledged_is_there_after_a_power_cut(tmp_path: Path) -> None:
    """The workshop's own pragmas below SQLite 3.51.3."""
    assert cut(tmp_path, environment.pragmas("delete")) == {"lost": 0, "images": COMMITS, "mode": "delete"}


def test_without_extra_it_is_lost(tmp_path: Path) -> None:
    """The control: the same with FULL, as it stood before, loses the last reading at every cut."""
    weaker = environment.pragmas("delete").replace("EXTRA", "FULL")
    assert weaker != environment.pragmas("delete")
    assert cut(tmp_path, weaker) == {"lost": COMMITS, "images": COMMITS, "mode": "delete"}


def test_a_write_ahead_log_unlinks_nothing_at_a_commit(tmp_path: Path) -> None:
    assert cut(tmp_path, environment.pragmas("wal")) == {"lost": 0, "images": 0, "mode": "wal"}
