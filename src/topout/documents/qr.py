"""The QR code of a tag: an address in capitals, drawn as one SVG path.

Capitals keep the code in its alphanumeric mode, so that an address of a workshop's own network fits a code of
version 3 at level Q (a quarter of the code may be dirty). Sizes: look.md B6; capacities: ISO/IEC 18004, as computed
by the library and read back in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import segno

from topout.errors import Fault, FaultsFound

MODULE_MM: Final = 0.5
QUIET_MODULES: Final = 4
VERSIONS: Final = (3, 4)
LETTERS_MAX: Final = 67  # alphanumeric, version 4, level Q
_ALPHANUMERIC: Final = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")


@dataclass(frozen=True, slots=True)
class Code:
    """A QR code: what it holds, its version, its modules across without the quiet zone, and its picture."""

    address: str
    version: int
    modules: int
    svg: str

    @property
    def size_mm(self) -> float:
        """Width and height with the quiet zone, in mm at the module of a tag."""
        return (self.modules + 2 * QUIET_MODULES) * MODULE_MM


def code(address: str) -> Code:
    """The QR code of `address`, version 3 or 4, level Q; raises FaultsFound where it doesn't fit a tag."""
    held = address.upper()
    wrong = sorted({sign for sign in held if sign not in _ALPHANUMERIC})
    if wrong:
        raise FaultsFound(
            [_fault(held, f"a tag's address has letters, figures and $%*+-./: only, not {' '.join(wrong)}.")]
        )
    if not held:
        raise FaultsFound([_fault(held, "a tag needs an address to hold.")])
    if len(held) > LETTERS_MAX:
        raise FaultsFound(
            [_fault(held, f"{len(held)} signs; a tag holds {LETTERS_MAX}. Give the workshop's server a shorter name.")]
        )
    for version in VERSIONS:
        try:
            made = segno.make(held, error="Q", version=version, boost_error=False, micro=False)
        except segno.DataOverflowError:
            continue
        rows = [bytes(row) for row in made.matrix]
        return Code(held, version, len(rows), _svg(rows))
    raise AssertionError("an address within LETTERS_MAX fits the largest version")


def _fault(address: str, message: str) -> Fault:
    return Fault(location="tag address", value=address, message=message, key="tag.address")


def _svg(rows: list[bytes]) -> str:
    """Dark modules as runs in one path: one fill, so that no hairline shows between the rows."""
    side = len(rows) + 2 * QUIET_MODULES
    runs: list[str] = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            start = x
            while x < len(row) and row[x]:
                x += 1
            if x > start:
                runs.append(f"M{start + QUIET_MODULES} {y + QUIET_MODULES}h{x - start}v1h-{x - start}z")
            x += 1
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}"><path d="{"".join(runs)}"/></svg>'
