"""The QR code: version 3 or 4, level Q, sizes of look.md B6, and what it refuses."""

from __future__ import annotations

import re

import numpy as np
import pytest
import segno
import zxingcpp

from topout.documents import qr
from topout.errors import FaultsFound


def _read(code: qr.Code) -> str:
    """Draw the SVG's runs of modules, ten pixels each, and read them."""
    side = code.modules + 2 * qr.QUIET_MODULES
    dark = np.zeros((side, side), dtype=bool)
    for x, y, run in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", code.svg):
        dark[int(y), int(x) : int(x) + int(run)] = True
    pixels = np.where(np.kron(dark, np.ones((10, 10), dtype=bool)), 0, 255).astype(np.uint8)
    found = zxingcpp.read_barcodes(pixels)
    assert len(found) == 1
    assert found[0].ec_level == "Q"
    return str(found[0].text)


@pytest.mark.parametrize(
    ("length", "version", "size_mm"), [(1, 3, 18.5), (36, 3, 18.5), (47, 3, 18.5), (48, 4, 20.5), (67, 4, 20.5)]
)
def test_version_and_size_by_length(length: int, version: int, size_mm: float) -> None:
    address = ("HTTP://" + "A7" * 40)[:length]
    made = qr.code(address)
    assert (made.version, made.size_mm) == (version, size_mm)
    assert _read(made) == address


def test_small_letters_become_capitals() -> None:
    assert _read(qr.code("https://bench.lan:8443/t/k7m4qx")) == "HTTPS://BENCH.LAN:8443/T/K7M4QX"


def test_a_row_begins_no_run_where_nothing_is_dark() -> None:
    made = qr.code("HTTPS://BENCH.LAN:8443/T/K7M4QX")
    runs = [int(run) for run in re.findall(r"h(\d+)v1", made.svg)]
    assert len(runs) > 200 and min(runs) == 1


def test_capacity_is_what_the_library_says() -> None:
    with pytest.raises(segno.DataOverflowError):
        segno.make("A" * (qr.LETTERS_MAX + 1), error="Q", version=4, boost_error=False)


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("", "needs an address"),
        ("A" * 68, "68 signs; a tag holds 67"),
        ("http://x/?a=b_c", "not = ? _"),
        ("http://höh.lan", "not Ö"),
    ],
)
def test_what_does_not_fit_is_refused_with_the_way_out(address: str, says: str) -> None:
    with pytest.raises(FaultsFound) as caught:
        qr.code(address)
    assert says in str(caught.value)
