"""One fork as a bench file, parts of it replaced by name; invented, for tests of the planner."""

from __future__ import annotations

from topout.bench_file.model import BenchFile
from topout.bench_file.read import read_text

PARTS = {
    "rider": 'mass = "78 kg"\nfront_share = 0.42',
    "bike": 'mass = "14.5 kg"\nunsprung_front = "2.8 kg"',
    "frame": """head_angle = "66 deg"
seat_angle = "76 deg"
reach = "455 mm"
stack = "620 mm"
chainstay = "435 mm"
bb_drop = "30 mm"
fork_length = "540 mm"
fork_offset = "44 mm"
front_radius = "370 mm"
rear_radius = "370 mm\"""",
    "fork": 'travel = "150 mm"\ntyre_room = "530 mm"',
    "fork.air": """bore = "34 mm"
shaft = "10 mm"
positive_volume = "240 ml"
negative_volume = "50 ml"
spacers = 1
spacer_volume = "8 ml"
pressure = "70 psi\"""",
}


def bench(**changes: str) -> BenchFile:
    """The fork with tables replaced or added: `fork__air` is `[fork.air]`; "+…" is added to what stands there, "-" leaves it out."""
    parts = dict(PARTS)
    for name, text in changes.items():
        table = name.replace("__", ".")
        parts[table] = parts[table] + "\n" + text[1:] if text.startswith("+") else text
    return read_text("".join(f"[{name}]\n{text}\n" for name, text in parts.items() if text != "-"))
