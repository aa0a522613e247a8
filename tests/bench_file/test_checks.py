"""Keys that speak against each other, and keys that a command needs."""

from __future__ import annotations

import pytest

from bench_file import every
from topout.bench_file import checks, model, read
from topout.errors import Fault, FaultsFound


def faults(text: str) -> dict[str, Fault]:
    with pytest.raises(FaultsFound) as caught:
        read.read_text(text)
    found = {f.key: f for f in caught.value.faults}
    assert len(found) == len(caught.value.faults)
    assert all(f.line is not None for f in caught.value.faults)
    return found


@pytest.mark.parametrize(("share", "all_of_it"), [(0.1, True), (0.1001, False)])
def test_no_weight_is_left_on_the_front_spring_at_the_limit_and_a_hair_beyond(share: float, all_of_it: bool) -> None:
    """40 kg of rider and 10 kg of bike: a share of 0.1 puts 5 kg on the front wheel, and 5 kg of it are unsprung."""
    text = (
        f'[rider]\nmass = "40 kg"\nfront_share = {share}\n[bike]\nmass = "10 kg"\nunsprung_front = "5 kg"\n'
        'unsprung_rear = "4 kg"\n'
    )
    if all_of_it:
        assert set(faults(text)) == {"bike.unsprung_front"}
    else:
        assert read.read_text(text).rider is not None


def test_a_side_load_on_the_bushings_needs_the_frame_and_nothing_else_does() -> None:
    found = '[found]\nsag = "30 mm"\npressure = "70 psi"\n'
    for side, frame in ((0.02, "frame"), (0, "frame?")):
        needs = checks.needs_of_sag(read.read_text(f"[fork]\nfriction_side = {side}\n{found}"))
        assert needs[-2:] == ("found", frame)
    assert checks.needs_of_sag(read.read_text(found))[-1] == "frame?"
    assert "found" not in checks.needs_of_sag(read.read_text("[fork]\nfriction_side = 0.02\n"))


def test_the_base_file_has_no_fault() -> None:
    read.read_text(every.text(every.base()))


@pytest.mark.parametrize(
    ("changes", "key", "names"),
    [
        ({"conditions.ambient_pressure": '"96 kPa"'}, "conditions.ambient_pressure", ["[conditions] altitude"]),
        ({"frame.fork_length_straight": '"548 mm"'}, "frame.fork_length_straight", ["[frame] fork_length"]),
        ({"fork.length_straight": '"548 mm"'}, "fork.length_straight", ["[fork] length"]),
        ({"front_wheel.radius": '"369 mm"'}, "front_wheel.radius", ["bead_seat"]),
        ({"rear_wheel.radius": '"369 mm"', "rear_wheel.bead_seat": None}, "rear_wheel.radius", ["tyre_height"]),
        ({"change.front_wheel.radius": '"369 mm"'}, "change.front_wheel.radius", ["bead_seat"]),
        ({"front_wheel.tyre_height": None}, "front_wheel.bead_seat", ['tyre_height = "58 mm"']),
        ({"rear_wheel.bead_seat": None}, "rear_wheel.tyre_height", ['bead_seat = "622 mm"']),
        (
            {"frame.fork_length": None, "frame.fork_length_straight": '"60 mm"', "frame.fork_offset": '"60 mm"'},
            "frame.fork_length_straight",
            ["offset, 60 mm"],
        ),
        (
            {"fork.length": None, "fork.length_straight": '"50 mm"', "fork.offset": None, "frame.fork_offset": '"70 mm"'},
            "fork.length_straight",
            ["offset, 70 mm"],
        ),
        ({"frame.chainstay": '"50 mm"', "frame.bb_drop": '"60 mm"'}, "frame.chainstay", ["60 mm"]),
        (
            {
                "frame.chainstay": '"60 mm"', "frame.bb_drop_from": '"front axle"', "frame.bb_drop": '"10 mm"',
                "frame.rear_radius": '"380 mm"', "frame.front_radius": '"320 mm"',
            },
            "frame.chainstay",
            ["70 mm"],
        ),
        ({"fork.air.shaft": '"30 mm"', "fork.air.bore": '"30 mm"'}, "fork.air.shaft", ["bore is 30 mm"]),
        ({"change.air.shaft": '"30 mm"', "change.air.bore": '"20 mm"'}, "change.air.shaft", ["bore is 20 mm"]),
        ({"change.air.bore": '"10 mm"'}, "change.air.bore", ["shaft is 10 mm"]),
        ({"fork.bumper.length": '"100 mm"', "fork.travel": '"80 mm"', "found.sag": '"20 mm"'}, "fork.bumper.length", ["80 mm"]),
        ({"fork.top_out.length": '"100 mm"', "fork.travel": '"80 mm"'}, "fork.top_out.length", ["80 mm"]),
        ({"found.sag": '"160 mm"'}, "found.sag", ['[fork] travel = "150 mm"']),
        ({"fork.air.negative_pressure": '"62 psi"'}, "fork.air.negative_pressure", ['negative = "separate-valve"']),
        (
            {"fork.air.negative_coil": '{ rate = "4 N/mm", length = "30 mm" }'},
            "fork.air.negative_coil",
            ['negative = "coil"', "self-equalising"],
        ),
        ({"change.air.negative_pressure": '"62 psi"'}, "change.air.negative_pressure", ["separate-valve"]),
        ({"change.spacer_solid_volume": '"4 ml"'}, "change.spacer_solid_volume", ["piston-spacer", '"shaft"']),
        ({"change.air.spacers": "2"}, "change.air.spacers", ["[change] spacers"]),
        ({"change.air.pressure": '"60 psi"'}, "change.air.pressure", ["[change] pressure"]),
        ({"bike.unsprung_front": '"15 kg"'}, "bike.unsprung_front", ['[bike] mass = "15 kg"']),
        (
            {"rider.mass": '"10 kg"', "bike.mass": '"10 kg"', "rider.front_share": "0.1"},
            "bike.unsprung_front",
            ["front_share 0.1", "20 kg"],
        ),
    ],
)  # fmt: skip
def test_keys_against_each_other(changes: dict[str, str | None], key: str, names: list[str]) -> None:
    file = every.base()
    for name, value in changes.items():
        file = every.put(file, name, value)
    found = faults(every.text(file))
    assert set(found) == {key}, [str(f) for f in found.values()]
    assert all(name in found[key].message for name in names), found[key].message


def test_the_other_ways_are_read() -> None:
    """What stands against a way of building in one file belongs there in another."""
    for path in every.INSTEAD:
        file = every.put(every.around(tuple(path.split("."))), path, every.sample_of(tuple(path.split("."))))
        read.read_text(every.text(file))


# ---------------------------------------------------------------- hydraulic lock of the bike as it is


@pytest.mark.parametrize(
    ("changes", "key", "others", "short"),
    [
        # 34.6 mm bore: 940.25 mm² · 150 mm = 141.04 ml; + 8.5 + 4 = 153.54 ml
        (
            {"fork.air.positive_volume": '"150 ml"'},
            "fork.air.positive_volume",
            ["spacers", "spacer_volume", "oil_on_piston", "bore", "[fork] travel"],
            "3.5 ml short",
        ),
        (
            {"fork.air.positive_volume": '"140 ml"', "fork.air.spacers": "0", "fork.air.spacer_volume": None},
            "fork.air.positive_volume",
            ["oil_on_piston", "bore"],
            "5 ml short",
        ),
        ({"fork.air.grease_in_negative": '"45 ml"'}, "fork.air.negative_volume", ["grease_in_negative"], "used up"),
        ({"fork.air.grease_in_negative": '"50 ml"'}, "fork.air.negative_volume", ["grease_in_negative"], "5 ml short"),
        # 1880 mm² · 150 mm = 282 ml
        ({"fork.lower_legs.air_volume": '"280 ml"'}, "fork.lower_legs.air_volume", ["area", "[fork] travel"], "2 ml short"),
        # 10 mm rod: 78.54 mm² · 150 mm = 11.78 ml
        ({"fork.damper.gas_volume": '"10 ml"'}, "fork.damper.gas_volume", ["rod", "[fork] travel"], "1.8 ml short"),
    ],
)  # fmt: skip
def test_hydraulic_lock_names_every_key_of_the_volume(
    changes: dict[str, str | None], key: str, others: list[str], short: str
) -> None:
    file = every.base()
    for name, value in changes.items():
        file = every.put(file, name, value)
    found = faults(every.text(file))
    assert set(found) == {key}
    assert "hydraulic lock" in found[key].message and short in found[key].message
    assert all(other in found[key].message for other in others)


def test_all_volumes_lock_at_once() -> None:
    file = every.base()
    for name, value in {
        "fork.air.positive_volume": '"50 ml"', "fork.air.negative_volume": '"1 ml"',
        "fork.lower_legs.air_volume": '"50 ml"', "fork.damper.gas_volume": '"1 ml"',
    }.items():  # fmt: skip
        file = every.put(file, name, value)
    assert len(faults(every.text(file))) == 4


def test_the_space_under_the_piston_of_a_coil_is_not_counted() -> None:
    file = every.put(every.base(), "fork.air.grease_in_negative", '"60 ml"')
    file = every.put(file, "fork.air.negative", '"none"')
    read.read_text(every.text(file))


def test_nothing_is_concluded_from_a_value_at_fault() -> None:
    file = every.put(every.base(), "fork.air.positive_volume", '"20 ml"')
    assert set(faults(every.text(file))) == {"fork.air.positive_volume"}
    for name, value in {
        "fork.travel": '"15 mm"', "fork.air.bore": '"3.46 mm"', "fork.air.spacers": "2.5", "fork.air.spacer_volume": "8",
    }.items():  # fmt: skip
        assert set(faults(every.text(every.put(file, name, value)))) == {name}


def test_a_bench_that_was_not_read_is_checked_too() -> None:
    bench = model.BenchFile(
        fork=model.Fork(
            travel_m=0.15, air=model.Air(bore_m=0.034, positive_volume_m3=100e-6, spacers=1, spacer_volume_m3=8.5e-6)
        )
    )
    (fault,) = checks.contradictions(bench)
    assert fault.value == '"100 ml"' and '[fork.air] bore = "34 mm"' in fault.message and "spacers = 1" in fault.message


# ---------------------------------------------------------------- what a command needs


def lacks(text: str, *paths: str) -> dict[str, str]:
    return {f.key: str(f) for f in checks.missing(read.read_text(text), *paths)}


def test_require_names_every_missing_key_with_an_example() -> None:
    with pytest.raises(FaultsFound) as caught:
        checks.require(read.read_text("[fork]\n[fork.air]\nspacers = 1\n"), "fork", "fork.air", "frame")
    assert str(caught.value).splitlines() == [
        '[fork] travel: missing; as in travel = "150 mm".',
        '[fork.air] bore: missing; as in bore = "34.6 mm".',
        '[fork.air] shaft: missing; as in shaft = "10 mm".',
        '[fork.air] positive_volume: missing; as in positive_volume = "245 ml".',
        '[fork.air] pressure: missing; as in pressure = "62 psi".',
        '[fork.air] negative_volume: missing, needed with negative = "self-equalising"; as in negative_volume = "45 ml".',
        '[fork.air] spacer_volume: missing, needed with spacers; as in spacer_volume = "8.5 ml".',
        '[frame]: missing; it needs head_angle = "65.5 deg", reach = "470 mm", stack = "625 mm", chainstay = "435 mm", '
        'bb_drop = "25 mm" and fork_offset = "44 mm".',
    ]


def test_a_table_above_is_named_once() -> None:
    assert set(lacks("", "fork", "fork.air")) == {"fork"}
    assert set(lacks("[fork]\ntravel = '150 mm'\n", "fork", "fork.air")) == {"fork.air"}
    assert lacks("", "fork.bumper?", "found?", "conditions") == {}


@pytest.mark.parametrize(
    ("text", "path", "keys"),
    [
        ('[fork.air]\nnegative = "separate-valve"', "fork.air", {"negative_volume", "negative_pressure"}),
        ('[fork.air]\nnegative = "coil"', "fork.air", {"negative_coil"}),
        ('[fork.air]\nnegative = "coil"\nnegative_coil = { rate = "4 N/mm" }', "fork.air", {"negative_coil.length"}),
        ('[fork.air]\nnegative = "none"', "fork.air", set()),
        ('[fork.bumper]\nlength = "8 mm"', "fork.bumper?", {"rate"}),
        ("[frame]\nfork_length = '546 mm'", "frame", {"front_radius", "rear_radius"}),
        ("[frame]\nfork_length_straight = '546 mm'\n[front_wheel]\nradius = '369 mm'", "frame", {"rear_radius"}),
        (
            "[frame]\nfork_length = '546 mm'\n[front_wheel]\nradius = '369 mm'\n[rear_wheel]\nbead_seat = '622 mm'\n"
            "tyre_height = '58 mm'",
            "frame",
            set(),
        ),
        ("[frame]\nreach = '470 mm'", "frame", {"fork_length", "front_radius", "rear_radius"}),
        ("[rider]\nmass = '82 kg'", "rider", {"front_share"}),
        ("[rider]\nmass = '82 kg'\n[found]\nsag = '30 mm'\npressure = '60 psi'", "rider", set()),
        ("[rider]\nmass = '82 kg'\n[bike]\nmass = '15 kg'", "bike", {"unsprung_front"}),
        ("[bike]\nmass = '15 kg'", "bike", set()),
        ('[change]\nby = "piston-spacer"', "change", {"spacer_solid_volume"}),
        ('[change]\nby = "chassis"', "change", {"air"}),
        ('[change]\nby = "chassis"\n[change.air]', "change", {"air"}),
        ('[change]\nby = "chassis"\n[change.air]\nbore = "35 mm"', "change", set()),
    ],
)
def test_keys_that_other_keys_call_for(text: str, path: str, keys: set[str]) -> None:
    home = path.rstrip("?")
    needed = {p[-1] for p, key in every.every_key() if ".".join(p[:-1]) == home and key.needed}
    named = {line.split(" = ")[0] for line in text.splitlines()}
    found = set(lacks(text, path))
    assert found - {f"{home}.{key}" for key in needed} == {f"{home}.{key}" for key in keys - needed}
    assert {f"{home}.{key}" for key in needed - named} <= found


def test_needs_name_tables_of_the_model() -> None:
    known = {".".join(path) for path, _ in every.tables()}
    for paths in checks.NEEDS.values():
        assert {path.rstrip("?") for path in paths} <= known


_OF_AIR, _OF_DAMPER = "bore shaft positive_volume pressure", "rod gas_pressure gas_volume"
# What each table must say before anything of it is known.
NEEDED = {
    "rider": "mass", "bike": "mass", "frame": "head_angle reach stack chainstay bb_drop fork_offset", "fork": "travel",
    "fork.air": _OF_AIR, "fork.air.negative_coil": "rate length", "fork.coil": "rate", "fork.lower_legs": "air_volume area",
    "fork.damper": _OF_DAMPER, "fork.bumper": "length rate", "fork.top_out": "length rate", "shock": "stroke",
    "shock.air": _OF_AIR, "shock.air.negative_coil": "rate length", "shock.coil": "rate", "shock.damper": _OF_DAMPER,
    "shock.bumper": "length rate", "found": "sag", "change.air": _OF_AIR, "change.air.negative_coil": "rate length", "change.coil": "rate",
}  # fmt: skip


def test_what_each_table_needs() -> None:
    needed: dict[str, set[str]] = {}
    for path, key in every.every_key():
        if key.needed:
            needed.setdefault(".".join(path[:-1]), set()).add(path[-1])
    assert needed == {table: set(words.split()) for table, words in NEEDED.items()}
