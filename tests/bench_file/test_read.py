"""Reading: the sentences as the format promises them, the three gates, what may be left out."""

from __future__ import annotations

import contextlib
import os
import threading
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_file import every
from topout.bench_file import model, read
from topout.errors import FaultsFound
from topout.units import PSI_PA


def said(text: str | bytes) -> list[str]:
    with pytest.raises(FaultsFound) as caught:
        read.read_text(text) if isinstance(text, str) else read.read_bytes(text)
    return str(caught.value).splitlines()


SAG = "The front's stands in [found] sag, with its pressure; the rear wheel's in [rear_wheel] sag, the shock's in [shock] sag."
STANCHION = "It belongs to [fork]."


NO_SAG = "What does not sag tells no load: leave it out, or let some air out and measure again."
UNSURE = 'as in "265 ± 5 ml", "265 ml u 2.5 ml" or "265 ml within 5 ml"'


@pytest.mark.parametrize(
    ("key", "written", "means"),
    [
        ("[fork.air]\npressure", "62 PSI", "62 psi"), ("[fork.air]\npressure", "62Psi", "62 psi"),
        ("[fork.air]\npressure", "4.3 BAR", "4.3 bar"), ("[fork.air]\npositive_volume", "230 cc", "230 ml"),
        ("[fork.air]\npositive_volume", "230 ccm", "230 ml"), ("[fork.air]\npositive_volume", "230 cm3", "230 ml"),
        ("[frame]\nhead_angle", "65.5 degrees", "65.5 deg"), ("[frame]\nhead_angle", "65.5 degree", "65.5 deg"),
        ("[frame]\nreach", "18 inches", "18 in"), ("[frame]\nreach", "470 MM", "470 mm"), ("[frame]\nreach", "18″", "18 in"),
        ("[rider]\nmass", "181 lbs", "181 lb"), ("[rider]\nmass", "82 kgs", "82 kg"), ("[rider]\nmass", "82 KG", "82 kg"),
        ("[conditions]\ntemperature", "20 C", "20 degC"), ("[conditions]\ntemperature", "68 F", "68 degF"),
        ("[fork.lower_legs]\narea", "1880 mm2", "1880 mm^2"),
    ],
)  # fmt: skip
def test_a_unit_is_taken_as_the_trade_writes_it(key: str, written: str, means: str) -> None:
    assert read.read_text(f'{key} = "{written}"') == read.read_text(f'{key} = "{means}"')


def test_the_three_sentences_of_the_format() -> None:
    text = "\n" * 7 + "[rider]\nmass = 82\n" + "\n" * 20 + '[fork.air]\nbore = "3.46 mm"\n' + "\n" * 11
    assert said(text + '[change]\ntravle = "140 mm"\n') == [
        'line 9, [rider] mass = 82: needs a unit, "82 kg" or "181 lb".',
        'line 31, [fork.air] bore = "3.46 mm": a bore is 10 to 80 mm. Is it 34.6 mm?',
        "line 44, [change] travle: no such key. Is it travel?",
    ]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('[fork.air]\npressure = "62 bar"', "pressure is 0 to 60 bar. Is it 62 psi?"),
        ('[fork.air]\npressure = "4,1 bar"', 'write a decimal point: "4.1 bar".'),
        ('[fork.air]\npressure = "0.4 mpa"', 'write the unit as "MPa".'),
        ('[fork.air]\nbore = "34 psi"', '"psi" is not a unit of length here; use one of mm, cm, m, in.'),
        ('[fork.air]\nshaft = "100 mm"', "a shaft is 3 to 30 mm. Is it 10 mm?"),
        (
            '[front_wheel]\nbead_seat = "29 in"',
            "a bead seat is 200 to 700 mm. A wheel of 29 in sits on 622 mm: write that.",
        ),
        (
            '[front_wheel]\nbead_seat = "27.5 in"\ntyre_height = "58 mm"',
            "a bead seat is 200 to 700 mm. A wheel of 27.5 in sits on 584 mm: write that.",
        ),
        ('[fork]\ntravel = "150 in"', "travel is 0.79 to 11.81 in. Is it 150 mm?"),
        ('[fork]\ntravel = "0.15 mm"', "travel is 20 to 300 mm. Is it 150 mm?"),
        ('[found]\nsag = "0 mm"', f"sag is 0.5 to 300 mm. {NO_SAG}"),
        ('[shock]\nsag = "0 in"', f"sag is 0.02 to 4.72 in. {NO_SAG}"),
        ('[frame]\nfork_length = "546 cm"', "a fork length is 50 to 2000 mm. Is it 546 mm?"),
        ('[frame]\nhead_angle = "6.55 deg"', "a head angle is 45 to 90 deg. Is it 65.5 deg?"),
        ('[rider]\nmass = "390 kg"', "mass is 10 to 250 kg. Is it 390 lb?"),
        ('[rider]\nmass = "-82 kg"', "mass is 10 to 250 kg. Is it 82 kg?"),
        ("[rider]\nfront_share = 42", "a front share is 0.1 to 0.9. Is it 0.42?"),
        ('[rider]\nfront_share = "0.42"', "a number stands without quotes: front_share = 0.42"),
        ('[rider]\nfront_share = "0,42"', "write a decimal point, and a number without quotes: front_share = 0.42"),
        ('[rider]\nfront_share = "0.42 ± -0.03"', f"an uncertainty is 0 or more, {UNSURE}."),
        ('[rider]\nfront_share = "0.42 ± 0.03 mm"', "a plain number has no unit, and its uncertainty none but %."),
        ('[rider]\nmass = "82 u kg"', f"the uncertainty is a number, 0 or more, {UNSURE}."),
        ('[rider]\nmass = "82 u 1e999 kg"', "an uncertainty is a number that is not endless."),
        ('[rider]\nmass = "82 kg ± 2,5 kg"', 'write a decimal point: "2.5 kg".'),
        ('[rider]\nmass = "82 ± 2 ± 1 kg"', f"one uncertainty is expected, {UNSURE}."),
        ('[rider]\nmass = "within 2 kg"', f'a value is expected before "within", {UNSURE}.'),
        ('[rider]\nmass = "82 kg ± 2 mm"', '"mm" is not a unit of mass here; use one of kg, lb.'),
        ('[rider]\nmass = "82 ± 2"', 'needs a unit, "82 kg" or "181 lb".'),
        ('[rider]\nmass = "82 ± 2 %"', 'needs a unit, "82 kg" or "181 lb".'),
        ('[rider]\nmass = "82 ± 900 kg"', "mass is 10 to 250 kg: an uncertainty wider than that says nothing."),
        ('[frame]\nhead_angle = "65.5 deg ± 1 %"', "per cent of an angle say nothing; give the uncertainty in deg."),
        (
            '[conditions]\ntemperature = "20 degC ± 5 %"',
            "per cent of a temperature say nothing; give the uncertainty in degC.",
        ),
        (
            '[fork.air]\nspacers = "1 ± 1"',
            "that is counted, not measured: a whole number without an uncertainty is expected.",
        ),
        ('[conditions]\ntemperature = "68 degC"', "temperature is -40 to 60 degC. Is it 68 degF?"),
        ("[conditions]\nambient_pressure = 101325", 'needs a unit, "101325 Pa" or "14.7 psi".'),
        ("[fork.air]\nspacers = 2.5", "a whole number is expected, 0 to 20."),
        (
            '[fork.air]\nnegative = "seperate valve"',
            'one of "self-equalising", "separate-valve", "coil", "none" is expected. Is it "separate-valve"?',
        ),
        ('[fork.air]\nbore = "30 mm"\n[fork.coil]\nrate = "5 N/mm"', "[fork.air] stands too; give one of them."),
        ('[[shelf]]\nkind = "tyre"', 'is needed for each part, as in gives = "58 mm".'),
        ('[[shelf]]\ngives = "58 mm"', 'is needed for each part, as in kind = "air shaft".'),
        (
            '[[shelf]]\nkind = "tire"\ngives = "58 mm"',
            'one of "air shaft", "volume spacer", "tyre", "coil", "stroke reducer" is expected. Is it "tyre"?',
        ),
        (
            '[[shelf]]\nkind = "volume spacer"\ngives = "58 mm"',
            '"mm" is not a unit of volume here; use one of ml, cm^3, l.',
        ),
        ('[[shelf]]\nkind = "tyre"\ngives = "58 mm"\nbore = "34.6 mm"', "a bore is 200 to 700 mm. Is it 346 mm?"),
        ('[[shelf]]\nkind = "coil"\ngives = "8 N/mm"\non_hand = -1', "a whole number is expected, 0 to 9999."),
        ('[[shelf]]\nkind = "coil"\ngives = "8 N/mm"\ncots = 3', "no such key. Is it cost?"),
        (
            '[[shelf]]\nkind = "tyre"\ngives = "58 ± 1 mm"',
            "a part of the shelf carries no uncertainty; give the value alone.",
        ),
        ('[shelf]\nkind = "tyre"', 'tables are expected, [[shelf]] with kind = "air shaft" and gives = "160 mm".'),
        ("[frok]\n", "no such table. Is it [fork]?"),
        ("[fork.lowerlegs]\n", "no such table. Is it [fork.lower_legs]?"),
        ('bore = "34 mm"', "no such key. It belongs to [fork.air] or [shock.air]."),
        ('[front_wheel]\nsag = "30 mm"', SAG),
        *((f'{table}sag = "30 mm"', f"no such key. {SAG}") for table in ("", "[fork]\n", "[change]\n", "[rider]\n")),
        *(
            (f'{table}stanchion = "36 mm"', f"no such key. {STANCHION}")
            for table in ("", "[fork.air]\n", "[change.air]\n")
        ),
        ('[fork]\npressure = "70 psi"', "no such key. It belongs to [fork.air], [shock.air] or [found]."),
        ('[fork.air]\ntravel = "140 mm"', "no such key. It belongs to [fork] or [change]."),
        ("[fork.air]\npsi = 70", 'no such key. It is [fork.air] pressure = "62 psi".'),
        ('[rider]\nweight = "70 kg"', "no such key. It is mass here: [rider] mass, dressed to ride; [bike] mass."),
        ('[frame]\noffset = "44 mm"', "no such key. Is it fork_offset?"),
        ('[fork.air]\nvolume = "230 ml"', "no such key. Is it positive_volume, negative_volume or spacer_volume?"),
        ("[fork.air]\nspacer = 2", "no such key. Is it spacer_volume, spacer_limit or spacers?"),
        ('[air]\nbore = "34 mm"', "no such table. Is it [fork.air]?"),
        ('[lower_legs]\narea = "1880 mm^2"', "no such table. Is it [fork.lower_legs]?"),
        ('[fork.air]\nbore = "34 mm"\n\nbore = "35 mm"', "it stands twice, first in line 2; keep one."),
        ('fork.travel = "150 mm"\nfork.travel = "160 mm"', "it stands twice, first in line 1; keep one."),
        ("[fork]\n[rider]\n[fork]", "it stands twice, first in line 1; put all its keys under one."),
        ("[fork]\nair = 3\n[fork.air]", "it stands twice, first in line 2; keep one."),
        ('[fork]\ntravel = "9 mm"\ntravel = [\n1,\n2]', "it stands twice, keep one."),
        ('[fork.air]\nnegative_coil = { rate = "4 N/mm", rate = "5 N/mm" }', "rate stands twice in it; keep one."),
        ('[[fork]]\ntravel = "150 mm"', "one table is expected, [fork]."),
        ("fork = 3", "one table is expected, [fork]."),
        ('[rider.mass]\nvalue = "82 kg"', 'a value with a unit is expected, as in "82 kg" or "181 lb".'),
        ("[rider]\nmass = 82 kg", 'a value with a unit stands in quotes: "82 kg".'),
        ("[fork.air]\npressure = 4,1 bar", 'write a decimal point: "4.1 bar".'),
        ("[rider]\nfront_share = 0,42", "write a decimal point: 0.42"),
        ("[rider\nmass = 3", "this can't be read as TOML (expected ']' at the end of a table declaration)."),
    ],
)
def test_what_is_said(text: str, sentence: str) -> None:
    (line,) = said(text)
    assert line.endswith(f": {sentence}")
    assert line.startswith("line ")


@pytest.mark.parametrize(("text", "sentence"), [
    ('[frame]\npositive_volume = "240 ml"', "line 2, [frame] positive_volume: no such key. It belongs to [fork.air] or [shock.air]."),
    ('[frame]\nbind = "160 mm"', "line 2, [frame] bind: no such key. It belongs to [fork.coil], [shock.coil] or [change.shock]."),
])  # fmt: skip
def test_a_key_of_a_spring_in_another_table_is_sent_to_the_spring(text: str, sentence: str) -> None:
    assert said(text) == [sentence]


def test_all_at_once_in_the_order_of_the_file() -> None:
    lines = said('[change]\nby = "magic"\n[rider]\nmass = 82\nname = "x"\n[wheel]\n[fork]\ntravel = "2 km"\n')
    assert [line.split(",")[0] for line in lines] == ["line 2", "line 4", "line 5", "line 6", "line 8"]


def test_inline_and_dotted_and_quoted_keys_have_their_lines() -> None:
    text = 'rider = { mass = 82 }\nfork.air.bore = "3 mm"\n"fork".\'travel\' = "3 mm"\n[bike]\n"ma\\u0073s" = 3\n'
    assert [line.split(" =")[0] for line in said(text)] == [
        "line 1, [rider] mass", "line 2, [fork.air] bore", "line 3, [fork] travel", "line 5, [bike] mass",
    ]  # fmt: skip


def test_a_syntax_fault_is_alone() -> None:
    (line,) = said("[rider]\nmass = 82\ntravel = = 3\n")
    assert line.startswith("line 3, [rider] travel = = 3: this can't be read as TOML (")


def test_units_and_defaults() -> None:
    bench = read.read_text(
        '[fork]\ntravel = "6 in"\n[fork.air]\nbore = "3.5 cm"\npressure = "62 psi"\n[rider]\nmass = "180 lb"\n'
    )
    assert bench.fork is not None and bench.fork.air is not None and bench.rider is not None
    assert bench.fork.travel_m == pytest.approx(0.1524, rel=1e-15)
    assert bench.fork.air.bore_m == pytest.approx(0.035, rel=1e-15)
    assert bench.fork.air.pressure_gauge_pa == 62 * PSI_PA
    assert bench.rider.mass_kg == pytest.approx(81.6466266, rel=1e-12)
    assert bench.conditions == model.Conditions(temperature_k=293.15, fast_exponent=1.3)
    air = bench.fork.air
    assert (air.spacers, air.oil_on_piston_m3, air.grease_in_negative_m3) == (0, 0, 0)
    assert (air.port_position_m, air.port_length_m, air.negative) == (None, 0, "self-equalising")
    assert (bench.fork.friction_n, bench.fork.friction_per_bar_n, bench.fork.friction_side) == (None, 0, 0)
    assert bench.fork.overtravel_m == 0 and model.Change().by == "shaft"
    assert read.read_text("") == model.BenchFile()


def test_change_air_holds_what_it_names() -> None:
    bench = read.read_text('[change]\nby = "chassis"\n[change.air]\nbore = "36 mm"\nspacers = 0\nnegative = "none"\n')
    assert bench.change is not None
    assert bench.change.air == {"bore_m": 36 * 1e-3, "spacers": 0, "negative": "none"}


def test_tables_are_read_like_text() -> None:
    tables = {"rider": {"mass": "82 kg"}, "fork": {"air": {"spacers": 2}}}
    assert read.read_tables(tables) == read.read_text('[rider]\nmass = "82 kg"\n[fork.air]\nspacers = 2\n')
    with pytest.raises(FaultsFound) as caught:
        read.read_tables({"rider": {"mass": "82"}}, "the form")
    assert str(caught.value) == 'the form: [rider] mass = "82": needs a unit, "82 kg" or "181 lb".'


# ---------------------------------------------------------------- the first gate: the text itself


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"#" * (256 * 1024 + 1), "the file: more than 256 KiB; a bench file has about 2."),
        (b"a = 1\nb = \0", "line 2, the text: a NUL byte stands here; a bench file is plain text in UTF-8."),
        ("[rider]\n".encode("utf-16"), "the file: this is UTF-16; save it as UTF-8."),
        (b"a = 1\nb = '\xe9'", "line 2, the text: a letter here is not UTF-8; save the file as UTF-8."),
    ],
)
def test_what_is_not_text_is_refused_before_parsing(data: bytes, sentence: str) -> None:
    assert said(data) == [sentence]


def test_256_kib_are_read() -> None:
    text = b'[rider]\nmass = "82 kg"\n'
    assert read.read_bytes(text + b"#" * (256 * 1024 - len(text))).rider == model.Rider(mass_kg=82)


def test_marks_and_line_ends_of_other_systems_are_read() -> None:
    data = b'\xef\xbb\xbf[rider]\r\nmass = "82 kg"\r\nfront_share = 0.42\r\n'
    assert read.read_bytes(data).rider == model.Rider(mass_kg=82, front_share=0.42)
    assert said(b"\xef\xbb\xbf[rider]\r\nmass = 82\r\n")[0].startswith("line 2, ")


def test_lone_surrogates_are_refused() -> None:
    assert said("a = '\ud800'") == ["line 1, the text: a letter here is not UTF-8; save the file as UTF-8."]


def test_files_that_are_none(tmp_path: Path) -> None:
    def one(path: str | Path) -> str:
        with pytest.raises(FaultsFound) as caught:
            read.read(path)
        (fault,) = caught.value.faults
        return str(fault)

    assert one(tmp_path / "none.toml") == f"{tmp_path / 'none.toml'}: there is no such file."
    assert one(tmp_path) == f"{tmp_path}: that is a folder; a bench file is expected."
    assert one(tmp_path / "two\nlines\x1b[2J") == f"{tmp_path}/two\\u000alines\\u001b[2J: there is no such file."
    assert one("") == '"": there is no such file.'
    assert "can't be read" in one("a\0b") and "can't be read" in one("x" * 5000)
    assert one("/dev/zero") == "/dev/zero: that is neither a file nor a pipe; write the bench file to one first."


def test_a_pipe_is_read_like_a_file_and_no_further_than_a_file_may_be_long(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for data in (b'[fork]\ntravel = "150 mm"\n', b"#" * (read.MAX_BYTES * 3)):
        writer = threading.Thread(target=_write_to, args=(pipe, data))
        writer.start()
        if len(data) < 100:
            bench = read.read(pipe)
            assert bench.fork is not None and bench.fork.travel_m == 0.15
        else:
            with pytest.raises(FaultsFound, match="more than 256 KiB"):
                read.read(pipe)
        writer.join(10)
        assert not writer.is_alive()


def _write_to(pipe: Path, data: bytes) -> None:
    with contextlib.suppress(BrokenPipeError):
        pipe.write_bytes(data)


def test_a_table_whose_standing_there_means_something_says_nothing_without_a_key() -> None:
    """An empty [found] was a load to be worked out from nothing; an empty [change.air] another air spring."""
    empty = "".join(f"[{path}]\n" for path in sorted(model.MEANT - {"change"}))
    assert read.read_text(empty) == model.BenchFile(fork=model.Fork())
    assert read.read_text("[found]\n[change]\n") == model.BenchFile()


# ---------------------------------------------------------------- anything at all


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=200) | st.binary(max_size=200))
def test_anything_is_read_or_refused(data: str | bytes) -> None:
    try:
        read.read_text(data) if isinstance(data, str) else read.read_bytes(data)
    except FaultsFound as found:
        assert found.faults and all(str(f).isprintable() for f in found.faults)


KEYS = [path for path, _ in every.every_key()]
VALUES = st.one_of(
    st.sampled_from([every.sample_of(p) for p in KEYS]),
    st.floats().map(repr),
    st.integers(-(10**6), 10**6).map(str),
    st.builds(
        lambda v, u: f'"{v!r} {u}"', st.floats(), st.sampled_from(["mm", "psi", "ml", "kg", "N", "deg", "K", ""])
    ),
    st.sampled_from(["true", "[]", "{}", "{ rate = 3 }", "2024-01-01", '""']),
)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(KEYS), VALUES), max_size=30))
def test_any_values_for_our_keys_are_read_or_refused(pairs: list[tuple[every.Path, str]]) -> None:
    file: every.File = {}
    for path, value in pairs:
        file = every.put(file, ".".join(path), value)
    try:
        read.read_text(every.text(file))
    except FaultsFound as found:
        assert all(f.line is not None or "TOML" in f.message for f in found.faults)
