"""How often the sag was found: settles from above and from below, "3 + 3"."""

from __future__ import annotations

import re
from typing import Final

MOST: Final = 20  # from one side
EXPECTED: Final = (
    f'settles from above and from below are expected, 0 to {MOST} each and one at the least, as in "3 + 3".'
)
_TWO: Final = re.compile(r"\s*(\d{1,2})\s*\+\s*(\d{1,2})\s*", re.ASCII)


def counted(text: str) -> tuple[int, int] | None:
    """From above, from below; None where the text is no such count."""
    match = _TWO.fullmatch(text)
    if match is None:
        return None
    above, below = int(match.group(1)), int(match.group(2))
    return (above, below) if above + below and max(above, below) <= MOST else None
