"""`topout options`: its JSON for programs, its page for people at 80 columns, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import topout
from topout.__main__ import main
from topout.bench_file.parts import VolumeSpacer
from topout.planner import defaults_words, summary
from topout.planner.options.words import fits, of_its_plan
from topout.units import BENCH

BIKE = str(topout.examples()["parts-on-the-shelf"])
KEYS = {
    "travel_m", "spacers", "offset_m", "tyre_height_m", "rear_tyre_height_m", "rate_n_per_m", "keep", "pressure_pa", "pressure_set_pa",
    "difference", "part", "lacks", "cost", "waiting_days", "stance", "curve", "alike", "given_up", "rear", "miss",
    "preload_m", "negative_pressure_pa",
}  # fmt: skip


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    return shown.out


def test_the_json_has_the_keys_that_others_rely_on(capsys: pytest.CaptureFixture[str]) -> None:
    answer: Any = json.loads(said(capsys, "options", BIKE, "--json", "--limit", "5"))
    assert set(answer) == {"options", "excluded", "neutral", "tried", "not_looked_at", "drawn", "ends"}
    assert len(answer["options"]) == 5 and all(set(each) == KEYS for each in answer["options"])
    first = answer["options"][0]
    assert first["difference"]["geometry"]["sagged"]["head_angle_deg"] == pytest.approx(0.603, abs=1e-3)
    assert first["keep"] == "sag" and first["pressure_set_pa"] / 6894.757293168361 == pytest.approx(70)
    assert first["part"][0]["kind"] == "tyre" and first["lacks"] == ["shaft"] and first["cost"] is None
    assert answer["excluded"]["fork-length"] > 0 and answer["excluded"]["part-does-not-fit"] == 1
    assert set(answer["neutral"]) == {"head-angle", "trail", "bb-height"}
    assert answer["neutral"]["head-angle"] == {
        "fork_length_m": pytest.approx(0.5051, abs=1e-4), "travel_m": pytest.approx(0.13),
    }  # fmt: skip
    assert answer["drawn"] is None


def test_people_read_it_at_eighty_columns_in_their_own_units(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    text = said(capsys, "options", BIKE)
    assert max(map(len, text.splitlines())) <= 80
    plain = text.replace("\u00a0", " ")
    assert "Nearest to how it sits now: 120 mm shaft" in " ".join(plain.split())
    assert "Parts that do not fit: another bore, family or wheel size" in plain
    assert "tyre to brace, rear tyre to frame" in " ".join(plain.split())
    assert " ".join(plain.split()).endswith("A part is measured before it is fitted. The maker’s sheet comes first.")
    for system, unit, other in (("metric", " bar", " psi"), ("imperial", " psi", " bar")):
        text = said(capsys, "options", BIKE, "--units", system).replace("\u00a0", " ")
        assert unit in text and other not in text
    assert " in" in text and " mm" not in text
    both = said(capsys, "options", BIKE, "--units", "both")
    assert max(map(len, both.splitlines())) <= 80


def test_a_row_of_csv_is_an_option(capsys: pytest.CaptureFixture[str]) -> None:
    rows = list(csv.DictReader(io.StringIO(said(capsys, "options", BIKE, "--csv", "--limit", "4"))))
    assert [row["option"] for row in rows] == ["1", "2", "3", "4"]
    assert rows[1]["spacers"] == "3" and rows[0]["cost"] == "" and json.loads(rows[0]["lacks"]) == ["shaft"]


def test_several_files_make_one_table(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, "options", BIKE, str(topout.examples()["longer-travel"]))
    assert "Nearest to how it sits now" in text and "120" in text


def test_several_files_say_once_what_their_figures_lean_on(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the words of each file alone: by itself where both say it, behind its name where one does; nothing of it as JSON or CSV."""
    monkeypatch.setenv("COLUMNS", "160")
    files = [BIKE, str(topout.examples()["longer-travel"])]

    def plain(*words: str) -> str:
        return " ".join(said(capsys, "options", *words).replace("\xa0", " ").split())

    leans = [
        [each for lines in of_its_plan(topout.options(topout.read(file), limit=1)) for each in lines] for file in files
    ]
    assert all(len(each) == 3 for each in leans) and leans[0][:2] == leans[1][:2] and leans[0][2] != leans[1][2]
    text = plain(*files)
    danger, estimate = (" ".join(each.replace("\xa0", " ").split()) for each in leans[0][:2])
    assert text.startswith(f"! {danger} ") and text.count(danger) == 1 == text.count(estimate)
    assert text.index("ways") < text.index(estimate), "under the table"
    for name, (*_, own) in zip(("parts-on-the-shelf", "longer-travel"), leans, strict=True):
        assert re.search(rf"{name}\.toml: {re.escape(' '.join(own.replace(chr(0xA0), ' ').split()))}", text), own
    for form in ("--csv", "--json"):
        assert "taken all the same" not in plain(*files, form)


def test_an_offset_and_a_family_count(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    answer = json.loads(said(capsys, "options", BIKE, "--json", "--limit", "200", "--offset", "51 mm"))
    assert {round(each["offset_m"], 3) for each in answer["options"]} == {0.044, 0.051}
    file = tmp_path / "family.toml"
    file.write_text(Path(BIKE).read_text().replace('marking = "S-140"', 'marking = "S-140"\nfamily = "Fell 34"'))
    answer = json.loads(said(capsys, "options", str(file), "--json", "--family", "Corrie 36"))
    assert answer["excluded"]["part-does-not-fit"] == 2


def test_where_nothing_fits_it_says_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "none.toml"
    file.write_text(Path(BIKE).read_text().replace('tyre_room = "536 mm"', 'tyre_room = "520 mm"'))
    text = said(capsys, "options", str(file))
    assert text.startswith("Nothing that could be fitted or set keeps within the limits.")
    assert "Too little room between tyre and crown" in text
    assert json.loads(said(capsys, "options", str(file), "--json"))["options"] == []
    rows = list(csv.reader(io.StringIO(said(capsys, "options", str(file), "--csv"))))
    assert len(rows) == 2


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--limit", "0"), "a whole number is expected, 1 to 10000."),
        (("--offset", "510 mm"), "an offset is -50 to 150 mm."),
        (("--target", "rear sag 95 %"), "a share of the stroke is 1 to 90 %."),
        (("--target", "head angle 64"), 'needs a unit, "64 deg"'),
        (("--target", "saddle 64 mm"), "one of sag, end-force,"),
        (("--end", "behind"), 'one of "front", "rear", "both" is expected.'),
        (("--gauge", "0 psi"), "what a gauge can show is 0.01 to 100 psi."),
    ],
)
def test_a_wrong_option_is_one_line(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], message: str) -> None:
    assert main(["options", BIKE, *words]) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and message in shown.err and shown.err.count("\n") == 1


def test_the_rear_alone_and_both_ends_near_to_what_is_wanted(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    can, coil = (str(topout.examples()[name]) for name in ("air-shock-and-its-shelf", "coil-shock-and-its-shelf"))
    answer: Any = json.loads(said(capsys, "options", can, "--json"))
    assert answer["ends"] == ["rear"] and answer["neutral"] == {}
    first = answer["options"][0]
    assert set(first["rear"]) == {
        "stroke_m", "spacers", "rate_n_per_m", "preload_m", "keep", "pressure_pa", "pressure_set_pa",
    }  # fmt: skip
    assert first["rear"]["spacers"] == 3 and first["pressure_set_pa"] is None and first["miss"] is None
    assert first["difference"]["sag"]["rear"]["share_of_stroke"] == pytest.approx(0.0, abs=0.01)
    wanted: Any = json.loads(said(capsys, "options", coil, "--json", "--target", "rear sag 30 %", "--limit", "1"))
    (best,) = wanted["options"]
    assert best["rear"]["rate_n_per_m"] == 70e3 and best["part"][0]["marking"] == "400 x 2.6" and best["miss"] < 0.3
    assert wanted["excluded"]["rear-coil-bind"] == 3 and wanted["not_looked_at"] == ["rear-coil-bind"]
    monkeypatch.setenv("COLUMNS", "80")
    text = said(capsys, "options", can, "--end", "both", "--target", "sag=20%", "--target", "rear-sag=28%")
    assert max(map(len, text.splitlines())) <= 80
    plain = " ".join(text.replace("\u00a0", " ").split())
    assert (
        plain.startswith("Nearest to what is wanted:") and "in front as it is wanted, behind as it is wanted" in plain
    )
    rows = list(csv.DictReader(io.StringIO(said(capsys, "options", can, "--csv", "--limit", "2"))))
    assert len(rows) == 2 and rows[0]["rear.spacers"] == "3"
    # A bike without a shock, and a fork that is not looked at: said at once, nothing printed.
    assert main(["options", BIKE, "--end", "rear"]) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and "[shock]" in shown.err
    assert main(["options", can, "--end", "rear", "--target", "sag 20%"]) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and "reached at the fork, which is not looked at" in shown.err


def test_it_says_which_spacers_and_what_the_plan_of_the_first_way_leans_on(capsys: pytest.CaptureFixture[str]) -> None:
    """A shelf with spacers of 6 and of 8 ml had ten rows of “two spacers more”; what the plan takes for granted stood there alone."""
    for name, kinds in (("air-shock-and-its-shelf", ["two spacers of 6 ml more", "two spacers of 8 ml more"]), ("parts-on-the-shelf", ["two spacers more"])):  # fmt: skip
        file = str(topout.examples()[name])
        text = " ".join(said(capsys, "options", file).replace("\xa0", " ").split())
        assert [kind in text.lower() for kind in kinds] == [True] * len(kinds) and ("ml more" in text) == (len(kinds) > 1)  # fmt: skip
        bench = topout.read(file)
        first = replace(bench, change=topout.options(bench, limit=1).options[0].change)
        of = summary.of_plan(first, topout.plan(first))
        (estimate,) = (f"{each.name}. {each.text}" for each in of.heard if each.code == "load-assumed")
        dangers = [f"! {each}" for each in defaults_words.dangers(of.defaults, BENCH)]
        expected = [*dangers, estimate, defaults_words.closing(of.defaults, BENCH)]
        assert len(expected) >= 3
        assert " ".join(" ".join(expected).split()) in text[: text.index("Change at sag")]


def test_a_second_kind_of_spacer_names_each_in_the_fork_too() -> None:
    bench = topout.read(BIKE)
    (spacer,) = (each for each in bench.shelf if isinstance(each, VolumeSpacer))
    found = topout.options(bench, [*bench.shelf, replace(spacer, gives_m3=6e-6)]).options
    more = [fits(each).replace("\xa0", " ") for each in found if any(used.part.kind == "volume spacer" for used in each.parts)]  # fmt: skip
    out = [fits(each) for each in found if each.spacers == 0]
    assert {"of 6 ml more", "of 8.5 ml more"} == {kind for each in more for kind in re.findall(r"of [\d.]+ ml more", each)}  # fmt: skip
    assert all(" ml more" in each for each in more) and out and all("spacer out" in each for each in out)


def test_every_fault_of_a_shelf_is_said_with_its_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    file.write_text(
        '[fork]\ntravel = "150 mm"\n[[shelf]]\nkind = "tyre"\ngives = "58 mm"\n[[shelf]]\nkind = "tire"\ngives = "3 mm"\n'
        '[[shelf]]\nkind = "volume spacer"\ngives = "8 mm"\ncost = -3\n[[shelf]]\nkind = "coil"\n'
    )
    assert main(["options", str(file)]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert [line.partition(":")[0] for line in shown.err.splitlines()] == [
        'line 7, [[shelf]] kind = "tire"',
        'line 11, [[shelf]] gives = "8 mm"',
        "line 12, [[shelf]] cost = -3",
        "line 13, [[shelf]] gives",
    ]


def test_what_it_needs_and_does_not_find_is_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "short.toml"
    file.write_text('[fork]\ntravel = "150 mm"\n[fork.air]\nbore = "34 mm"\n')
    assert main(["options", str(file)]) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and all(word in shown.err for word in ("shaft", "positive_volume", "[rider]", "[frame]"))


def test_the_api_refuses_a_limit_below_one() -> None:
    with pytest.raises(ValueError, match="one option is the least"):
        topout.options(topout.read(BIKE), limit=0)


def test_what_could_be_set_and_is_not_tried_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    whole = topout.examples()["air-shock-and-its-shelf"].read_text("utf-8")
    own = '[shock.air]\nnegative = "separate-valve"\nnegative_pressure = "150 psi"\n'
    file = tmp_path / "own-valve.toml"
    file.write_text(whole.replace("[shock.air]\n", own), encoding="utf-8")
    text = " ".join(said(capsys, "options", str(file)).split())
    assert "The shock’s negative chamber has a valve of its own: its pressure stays, no other was tried." in text
    assert "no other was tried" not in " ".join(said(capsys, "options", BIKE).split())


def test_a_shock_beside_a_fork_whose_travel_nobody_wrote(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A traceback at the terminal, at --json and on the page: the fork's travel was said of every way."""
    shelf = topout.examples()["air-shock-and-its-shelf"].read_text(encoding="utf-8")
    text = "".join(line for line in shelf.splitlines(keepends=True) if not line.startswith("travel = "))
    file = tmp_path / "no-travel.toml"
    file.write_text(text, encoding="utf-8")
    assert main(["options", str(file)]) == 0 and "Nearest to how it sits now" in capsys.readouterr().out
    assert main(["options", str(file), "--json"]) == 0
    assert {each["travel_m"] for each in json.loads(capsys.readouterr().out)["options"]} == {None}
    assert main(["options", str(file), "--csv"]) == 0
