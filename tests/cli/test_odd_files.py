"""Bench files that are odd but possible: no figure of what can't be, nothing told to be set that must not be, dangers first."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import topout
from topout.__main__ import main

EXAMPLES = topout.examples()
BIKE = EXAMPLES["longer-travel"].read_text("utf-8")
COIL = EXAMPLES["coil-fork"].read_text("utf-8")
BEHIND = EXAMPLES["coil-shock-and-its-shelf"].read_text("utf-8")
CHANGE = BIKE[BIKE.index("[change]") :]


def told(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], *command: str) -> str:
    path = tmp_path / "odd.toml"
    path.write_text(text, "utf-8")
    assert main([command[0], str(path), *command[1:]]) == 0
    return re.sub(r"\s+", " ", capsys.readouterr().out)


def asked(change: str, bike: str = BIKE) -> str:
    return bike.partition("[change]")[0] + f"[change]\n{change}\n"


class Odd:
    """One command of one file, as it is read."""

    def __init__(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.tmp_path, self.capsys = tmp_path, capsys

    def __call__(self, text: str, *command: str) -> str:
        return told(text, self.tmp_path, self.capsys, *command)


@pytest.fixture
def said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Odd:
    return Odd(tmp_path, capsys)


def test_nothing_is_set_for_other_riders_on_a_build_that_locks(said: Odd) -> None:
    """Seven pressures stood there for the build that is not to be built."""
    assert "By the rider’s weight" in said(BIKE, "plan")
    locks = said(asked('travel = "160 mm"\nspacers = 14'), "plan")
    assert "Don’t build this." in locks and "By the rider’s weight" not in locks


def test_no_table_of_nothing_but_none(said: Odd) -> None:
    """On a fork that does not sag no pressure holds a share of sag: "none" stood there seven times."""
    rests = BIKE.replace('negative_volume = "48 ml"', 'negative = "none"')
    assert "none" not in said(rests, "plan")


def test_what_stays_in_the_other_chamber_under_other_riders(said: Odd) -> None:
    own = 'negative_volume = "48 ml"\nnegative = "separate-valve"\nnegative_pressure = "90 psi"'
    assert "two spacers, 90 psi in the negative chamber." in said(
        BIKE.replace('negative_volume = "48 ml"', own), "plan"
    )


def test_rates_by_weight_claim_no_more_in_the_other_system(said: Odd) -> None:
    table = said(BEHIND, "plan").partition("By the rider’s weight, at the shock")[2]
    rows = re.findall(r"kg(?: · this one)? (\d+\.\d) (\S+)", table)
    assert len(rows) == 7 and all("." not in beside for _, beside in rows), rows


@pytest.mark.parametrize("less", [400, 2_000])
def test_a_force_that_no_pressure_gives_is_not_said_to_be_set(said: Odd, less: int) -> None:
    """What other spacers come to at the same sag is near it, not it: "For bottom-out force 880 N set 1 psi"."""
    flat = BIKE.replace('pressure = "70 psi"', 'pressure = "5 psi"').replace('pressure = "69 psi"\n', "")
    words = said(flat, "target", f"--end-force-change=-{less}N")
    assert re.search(r"For bottom-out force .* N: no pressure alone does it", words) and "N set" not in words
    path = str(said.tmp_path / "odd.toml")
    assert main(["target", path, str(EXAMPLES["piston-spacer"]), f"--end-force-change=-{less}N"]) == 0
    assert re.search(r"odd\.toml\s+–", said.capsys.readouterr().out) or less == 2_000


def test_a_height_is_said_in_feet_and_the_workshop_in_its_own_degrees(said: Odd) -> None:
    words = said(BIKE.replace('[conditions]\ntemperature = "20 degC"\n', ""), "plan", "--units", "imperial")
    assert (
        "sea level (at 4 921 ft:" in words.replace("\N{NARROW NO-BREAK SPACE}", " ")
        and "68 °F" in words
        and "°C" not in words
    )


def test_a_sag_just_outside_is_said_as_finely_as_in_the_table(said: Odd) -> None:
    """9.9 % was "10 % of the travel; 10 to 35 % is common practice"."""
    words = said(asked('pressure = "130 psi"'), "plan")
    share = re.search(r"sag, share of travel \S+ % (\S+) %", words)
    assert share is not None and f"Sag is {share.group(1)} % of the travel" in words


@pytest.mark.parametrize(
    "command",
    [
        ["sag"], ["curve"], ["geometry"], ["plan"], ["inflate"], ["landing"], ["ways"], ["target", "--sag", "20%"],
    ],
)  # fmt: skip
def test_what_can_hurt_because_nobody_wrote_it_down_stands_first(said: Odd, command: list[str]) -> None:
    assert said(BIKE, *command).removeprefix("As the bike is now, before the change. ").startswith("! ")


def test_what_hurts_stands_before_what_is_only_an_estimate(said: Odd) -> None:
    words = said(BIKE, "plan")
    assert words.index("let it out, both chambers") < words.index("Sag is an estimate")


def test_a_pressure_above_the_limit_is_never_told_to_be_set_without_a_word(said: Odd) -> None:
    """The limit of 120 psi stood in the file; filling, riding and other ways said 300, 130 and 149 psi and no more."""
    above = "psi is above the maker’s limit of 120 psi"
    inflated = said(BIKE, "inflate", "--to", "300 psi")
    assert inflated.index(f"Don’t pump to that: 300 {above}") < inflated.index("round")
    near = said(asked('pressure = "118 psi"'), "ride", "--temperature=-10degC")
    assert re.search(rf"! There it sits .* deeper\. Don’t make up for it by the pressure here: \d+ {above}", near)
    assert " Set " not in near
    ways = said(asked('travel = "60 mm"'), "ways")
    assert re.match(rf"! Another shaft, the same sag in %: \d+ {above}", ways)
    wanted = said(BIKE, "target", "--sag", "5%")
    assert re.search(r"! For sag 5 % it would take \d+ psi: above the maker’s limit of 120 psi", wanted)
    assert "set 1" not in wanted
    for command in (
        ["ride", "--temperature=-10degC"],
        ["ways"],
        ["inflate", "--to", "300 psi"],
        ["target", "--sag", "5%"],
    ):
        change = 'pressure = "118 psi"' if command[0] == "ride" else 'travel = "60 mm"'
        (said.tmp_path / "one.toml").write_text(asked(change), "utf-8")
        assert main([command[0], str(said.tmp_path / "one.toml"), str(EXAMPLES["piston-spacer"]), *command[1:]]) == 0
        told = " ".join(said.capsys.readouterr().out.split())  # where a line ends hangs on the folder's name
        assert re.search(r"! \S*one\.toml: above the maker’s pressure limit", told), command


def test_on_a_coil_no_air_is_let_out_and_no_can_is_pushed(said: Odd) -> None:
    words = said(COIL, "plan")
    assert "air out" not in words and "seal head" not in words
    behind = said(BEHIND, "plan")
    assert (
        "force on the collar" in behind
        and "can’s" not in behind
        and "To keep one thing behind as it was, fit" in behind
    )


def test_no_height_and_no_depth_of_nothing(said: Odd) -> None:
    empty = BIKE.replace('pressure = "70 psi"', 'pressure = "0 psi"').replace(
        'pressure = "69 psi"', 'pressure = "0 psi"'
    )
    assert said(empty, "landing").count("uses all the fork’s travel") == 1 and "0.00 m" not in said(empty, "landing")
    stands = BIKE.replace('negative_volume = "48 ml"', 'negative = "none"')
    assert "Leave it alone: there it sits as it does here." in said(stands, "ride", "--altitude", "1500 m")


def test_what_an_answer_lacks_is_said_with_how_it_is_written(said: Odd) -> None:
    path = said.tmp_path / "odd.toml"
    path.write_text(BIKE.partition("[rider]")[0] + BIKE[BIKE.index("[frame]") :], "utf-8")
    for command in (["landing"], ["rebound"], ["ride", "--temperature=0degC"], ["target", "--sag", "20%"]):
        assert main([command[0], str(path), *command[1:]]) == 2
        lines = said.capsys.readouterr().err.splitlines()
        assert [line.partition(":")[0] for line in lines] == ["[rider]", "[bike]"]
        assert all(re.search(r'as in mass = "\d+ kg"', line) for line in lines), lines


FOUND = BIKE + '\n[found]\nsag = "{}"\npressure = "70 psi"\n'


@pytest.mark.parametrize(
    "command", [["landing"], ["rebound"], ["ride", "--temperature=0degC"], ["target", "--sag", "20%"]]
)
def test_a_sag_found_past_the_travel_is_refused_by_every_answer(said: Odd, command: list[str]) -> None:
    """A plan refused it; a landing said that a chamber would have no room left, which was not so."""
    path = said.tmp_path / "odd.toml"
    path.write_text(FOUND.format("150 mm"), "utf-8")
    assert main([command[0], str(path), *command[1:]]) == 2
    shown = said.capsys.readouterr()
    assert shown.out == "" and "[found] sag = 150.0" in shown.err and "Measure it again." in shown.err


def test_no_gauge_is_blamed_for_hundreds_of_psi(said: Odd) -> None:
    """A sag found of next to nothing was explained by a gauge that shows 522 psi too little."""
    words = said(FOUND.format("0.5 mm"), "plan")
    assert "on the front wheel; 30 to 55 % is common practice" in words and "A gauge that shows" not in words
    assert re.search(r"A gauge that shows \d+ psi too much would do it", said(FOUND.format("50 mm"), "plan"))


def test_a_reading_held_in_past_the_travel_is_refused_in_front_as_behind(said: Odd) -> None:
    """In an exact file it was taken, and said nothing."""
    path = said.tmp_path / "odd.toml"
    held = '[[found.reading]]\ntravel = "{}"\npressure = "180 psi"\n'
    path.write_text(FOUND.format("30 mm") + held.format("100 mm"), "utf-8")
    assert main(["plan", str(path), "--json"]) == 0
    said.capsys.readouterr()
    for text, words in (
        (
            FOUND.format("30 mm") + held.format("150 mm"),
            'held in by less than the travel is expected, [fork] travel = "150 mm"',
        ),
        (COIL + '[found]\nsag = "30 mm"\n' + held.format("100 mm"), "a coil has no pressure to read"),
    ):
        path.write_text(text, "utf-8")
        assert main(["plan", str(path)]) == 2
        shown = said.capsys.readouterr()
        assert shown.out == "" and words in shown.err and "[[found.reading]]" in shown.err


def test_a_force_known_to_a_few_newtons_is_said_no_finer_than_any(said: Odd) -> None:
    """One force, one rounding: a ride said 2 244 N, 2 242 N to 2 247 N where the plan has 2 240."""
    near = BIKE.replace('"250 ml"', '"250 ± 0.1 ml"').replace(' psi"', ' psi u 0.0001 psi"')
    row = said(near, "ride", "--temperature=0degC").partition("bottom-out force")[2]
    newtons = re.findall(r"(\d)\sN", row)
    assert newtons and set(newtons) == {"0"}, row


def test_one_interval_is_rounded_alike_in_every_answer(said: Odd) -> None:
    """Limits are rounded away from each other: a plan said up to 2 260 N, a ride of the same fork 2 250."""
    near = asked('travel = "160 mm"\nspacers = 2').replace('"250 ml"', '"250 ± 0.1 ml"')
    plan = re.search(r"bottom-out force after ([\d ]+ N) ([\d ]+ N) ([\d ]+ N)", said(near, "plan"))
    ride = re.search(
        r"bottom-out force ([\d ]+ N), ([\d ]+ N) to ([\d ]+ N)", said(near, "ride", "--temperature=0degC")
    )
    assert plan is not None and ride is not None and plan.groups() == ride.groups()
    ways = re.search(
        r"bottom-out force ([\d ]+ N) to ([\d ]+ N)", said(near, "ways").partition("sag at this pressure")[2]
    )
    assert ways is not None and ways.groups() == plan.groups()[1:]
    kept = re.search(r"pressure for the same sag in % (\d+ psi) (\d+ psi) (\d+ psi)", said(near, "plan"))
    assert kept is not None
    assert "{} ({} to {}), two volume spacers: the same sag in %".format(*kept.groups()) in said(near, "options")


def test_the_limits_along_a_curve_hold_what_they_are_of(said: Odd) -> None:
    """They were rounded to the nearest: 187.4 N from below was "from 187 N", 194.6 N "to 195"."""
    near = BIKE.replace('"250 ml"', '"250 ± 5 ml"')
    band = json.loads(said(near, "curve", "--json"))
    rows = re.findall(r"(\d+\.\d) mm (−?[\d ]+) N (−?[\d ]+) N (−?[\d ]+) N", said(near, "curve"))
    assert len(rows) == 21
    for at, (_, *shown) in enumerate(rows):
        _, low, high = (float(each.replace(" ", "").replace("−", "-")) for each in shown)
        assert low <= band["force_n_low95"][10 * at] and high >= band["force_n_high95"][10 * at], rows[at]


def test_a_port_past_full_extension_never_opens(said: Odd) -> None:
    """By a piston spacer that comes out it lies 10 mm past it: "port opens at −10 mm"."""
    out = 'travel = "140 mm"\nby = "piston-spacer"\nspacer_solid_volume = "4 ml"'
    words = said(asked(out), "ways")
    assert re.search(r"port opens at 0 mm never 0 mm", words) and "−10 mm" not in words


def test_a_name_with_a_comma_in_it_is_one_thing(said: Odd) -> None:
    """Two names of which one is “nearly locked, as found” were read as three."""
    path = said.tmp_path / "odd.toml"
    path.write_text(
        BIKE.replace('pressure = "70 psi"', 'pressure = "125 psi"').replace('"69 psi"', '"125 psi"'), "utf-8"
    )
    assert main(["plan", str(path), str(EXAMPLES["piston-spacer"])]) == 0
    words = re.sub(r"\s+", " ", said.capsys.readouterr().out)
    assert "odd.toml: pressure; nearly locked" in words


def test_no_minus_before_a_zero_for_programs(said: Odd) -> None:
    assert said(COIL, "curve", "--json").count("-0.0") == 0
    assert json.loads(said(COIL, "curve", "--json"))["terms"]["negative_n"][0] == 0.0
