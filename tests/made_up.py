"""The bike that tests make bench files of: a frame's chart, weights, the fork that stands in it, each written once as TOML.

Nobody makes it. What a test is about it writes itself, after these.
"""

from __future__ import annotations

FRAME = """
[frame]
head_angle = "65.5 deg"
seat_angle = "77 deg"
reach = "470 mm"
stack = "625 mm"
chainstay = "435 mm"
bb_drop = "25 mm"
fork_length = "546 mm"
fork_offset = "44 mm"
front_radius = "369 mm"
rear_radius = "369 mm"
"""


def weights(rider: str = "82 kg", bike: str = "15 kg", unsprung: str = "3 kg", share: str = "") -> str:
    """Rider and bike; `share` of them on the front wheel, where it is written down."""
    told = f"front_share = {share}\n" if share else ""
    return f'[rider]\nmass = "{rider}"\n{told}[bike]\nmass = "{bike}"\nunsprung_front = "{unsprung}"\n'


def outside(
    *, travel: str = "150 mm", stanchion: str = "36 mm", pressure: str = "72 psi", spacers: int = 1, more: str = ""
) -> str:
    """The fork of which the outside alone is known, with its pressure and spacers; `more` keys of [fork]."""
    return (
        f'[fork]\nlength = "546 mm"\noffset = "44 mm"\ntravel = "{travel}"\nstanchion = "{stanchion}"\n{more}'
        f'[fork.air]\nspacers = {spacers}\npressure = "{pressure}"\n'
    )


def sag_found(sag: str = "33 mm", pressure: str = "72 psi") -> str:
    """The sag as it was found, at its pressure."""
    return f'[found]\nsag = "{sag}"\npressure = "{pressure}"\n'


ROOM = 'tyre_room = "533 mm"\n'  # of [fork]
