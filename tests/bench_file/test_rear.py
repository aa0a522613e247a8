"""The rear shock in a bench file: what is read, what speaks against itself, each named; nothing of it half taken."""

from __future__ import annotations

import pytest

from topout.bench_file import checks, read, write
from topout.errors import FaultsFound

AIR = """[shock]
length = "210 mm"
stroke = "55 mm"
leverage = [["0 mm", 2.85], ["70 mm", 2.56], ["140.5 mm", 2.33]]
[shock.air]
bore = "46 mm"
shaft = "30 mm"
positive_volume = "150 ml"
negative_volume = "45 ml"
pressure = "150 psi"
"""
COIL = """[shock]
stroke = "55 mm"
leverage_stroke = [["0 mm", "0 mm"], ["70 mm", "26 mm"], ["140.5 mm", "55 mm"]]
[shock.coil]
rate = "70 N/mm"
preload = "1 mm"
bind = "58 mm"
"""


def said(text: str) -> list[str]:
    with pytest.raises(FaultsFound) as caught:
        read.read_text(text)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("text", [AIR, COIL], ids=["air", "coil"])
def test_a_shock_is_read_and_written_back(text: str) -> None:
    bench = read.read_text(text)
    assert bench.shock is not None and read.read_text(write.write(bench)) == bench
    assert not checks.missing(bench, *checks.needs_behind(bench))


_TABLE = 'leverage = [["0 mm", 2.85], ["70 mm", 2.56], ["140.5 mm", 2.33]]'


@pytest.mark.parametrize(
    ("was", "now", "sentence"),
    [
        (_TABLE, 'leverage = [["0 mm", 2.85], ["70 mm", 2.56], ["60 mm", 2.33]]', "the wheel travel grows from pair to pair; pair 3 has \"60 mm\"."),
        (_TABLE, 'leverage = [["5 mm", 2.85], ["140 mm", 2.33]]', "the wheel travel begins at 0, not \"5 mm\", as in"),
        (_TABLE, 'leverage = [["0 mm", 2.85], ["140 mm", 0]]', "pair 2: a ratio is 0.5 to 6."),
        (_TABLE, 'leverage = [["0 mm", -2.85], ["140 mm", 2.3]]', "pair 1: a ratio is 0.5 to 6. Is it 2.85?"),
        (_TABLE, 'leverage = [["0 mm", 2.85], ["140 mm", nan]]', "pair 2: a ratio is 0.5 to 6."),
        (_TABLE, 'leverage = [[0, 2.85], ["140 mm", 2.3]]', "pair 1: needs a unit"),
        (_TABLE, 'leverage = [["0 mm", -2.85], ["70 mm", 9], ["60 mm", 2.33]]', "pair 1: a ratio is 0.5 to 6. Is it 2.85? Pair 2: a ratio is 0.5 to 6. Is it 0.9? The wheel travel grows from pair to pair; pair 3 has \"60 mm\"."),
        (_TABLE, f"leverage = {[[n, 2.5] for n in range(9)]}", ' Pair 6: needs a unit, "5 mm" or "0.20 in". 3 more.'),
        (_TABLE, f"leverage = {[[n, 2.5] for n in range(6)]}", ' Pair 6: needs a unit, "5 mm" or "0.20 in".'),
        (_TABLE, "leverage = []", "two pairs or more are expected, as in"),
        (_TABLE, 'leverage = [["0 mm", 2.85]]', "two pairs or more are expected, as in"),
        (_TABLE, 'leverage = [["0 mm", 2.85], ["140.5 mm", 2.33], ["150 mm", 2.3, 1]]', "two pairs or more are expected, as in"),
        (_TABLE, 'leverage = [["0 mm", 2.9], ["150 mm", 2.3]]', "its 150 mm of wheel travel take 58.0 mm of stroke; [shock] stroke is \"55 mm\"."),
        (_TABLE, 'leverage_stroke = [["0 mm", "0 mm"], ["140 mm", "60 mm"]]', "its 140 mm of wheel travel take 60.0 mm of stroke;"),
        (_TABLE, 'leverage_stroke = [["0 mm", "1 mm"], ["140 mm", "55 mm"]]', "the stroke begins at 0, not \"1 mm\""),
        (_TABLE, 'leverage_stroke = [["0 mm", "0 mm"], ["70 mm", "55 mm"], ["140 mm", "50 mm"]]', "the stroke grows from pair to pair; pair 3 has \"50 mm\"."),
        (_TABLE, 'leverage_stroke = [["0 mm", "0 mm"], ["135 mm", "20 mm"], ["140 mm", "55 mm"]]', "mm of wheel travel is"),
        (_TABLE, f'{_TABLE}\nleverage_stroke = [["0 mm", "0 mm"], ["140.5 mm", "55 mm"]]', "[shock] leverage stands too; give one of them."),
        ('shaft = "30 mm"', 'shaft = "46 mm"', "the can slides on it: below the bore, \"46 mm\"."),
        ('shaft = "30 mm"', 'shaft = "61 mm"', "a shaft is 3 to 60 mm."),
        ('stroke = "55 mm"', 'stroke = "55 mm"\nbody = "40 mm"', "the can's outside: above its bore, \"46 mm\"."),
        ('length = "210 mm"', 'length = "54 mm"', "a stroke is shorter than the shock, \"54 mm\" eye to eye."),
        ('stroke = "55 mm"', 'stroke = "55 mm"\nsag = "56 mm"', "that is more than the stroke, [shock] stroke = \"55 mm\"."),
        ('positive_volume = "150 ml"', 'positive_volume = "90 ml"', "hydraulic lock, the positive chamber is 1.4 ml short at full stroke."),
        ("[shock.air]", '[shock.coil]\nrate = "70 N/mm"\n[shock.air]', "[shock.air] stands too; give one of them."),
        ('pressure = "150 psi"', 'pressure = "150 psi"\n[change.shock]\nrate = "80 N/mm"', "belongs to [shock.coil]; the file has none."),
        ('pressure = "150 psi"', 'pressure = "150 psi"\n[rear_wheel]\nsag = "45 mm"\n[shock.bumper]\nlength = "60 mm"', "that is more than the stroke"),
        ('pressure = "150 psi"', 'pressure = "150 psi"\n[rear_wheel]\nsag = "0 mm"', "that is a hardtail's; beside [shock] it would be no load: leave it out."),
        ('stroke = "55 mm"', 'stroke = "55 mm"\nsag = "16 mm"\n[rear_wheel]\nsag = "45 mm"\n[shock.bumper]\nrate="9 N/mm"', "[rear_wheel] sag stands too; give one of them."),
    ],
)  # fmt: skip
def test_what_speaks_against_itself_is_one_finding(was: str, now: str, sentence: str) -> None:
    assert was in AIR
    if "[rear_wheel]" in now and now.startswith("stroke"):  # the tables after it belong elsewhere
        text = AIR.replace(was, now.partition("\n[")[0]) + "[" + now.partition("\n[")[2] + "\n"
    else:
        text = AIR.replace(was, now)
    (line,) = said(text)
    assert sentence in line and " 0 more" not in line, line


@pytest.mark.parametrize(
    ("was", "now", "sentence"),
    [
        ('preload = "1 mm"', 'preload = "59 mm"', "the coils would touch: below \"58 mm\"."),
        ('rate = "70 N/mm"', 'rate = "70 N/mm"\n[change.shock]\npressure = "80 psi"', "belongs to [shock.air]; the file has none."),
        ('rate = "70 N/mm"', 'rate = "400 lb/mm"', "is not a unit of rate here"),
    ],
)  # fmt: skip
def test_a_coil_that_cannot_be_is_one_finding(was: str, now: str, sentence: str) -> None:
    lines = said(COIL.replace(was, now))
    assert sentence in " ".join(lines), lines


def test_all_findings_come_at_once_each_with_its_line() -> None:
    text = AIR.replace('"210 mm"', '"2100 mm"').replace("2.56", "25.6").replace('"46 mm"', '"4.6 mm"')
    lines = said(text)
    assert [line.partition(",")[0] for line in lines] == ["line 2", "line 4", "line 6"]


def test_headings_alone_say_nothing() -> None:
    assert read.read_text("[shock]\n[shock.air]\n[shock.coil]\n[shock.damper]\n[change.shock]\n").shock is None
