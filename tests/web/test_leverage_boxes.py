"""The leverage of a frame in the Book: rows typed or pasted, in either system, and every contradiction at its box."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.test import Client

from topout.bench_file import model
from topout.web.access.change import change
from topout.web.book import keeping, pairs, tables
from topout.web.book.forms import BikeForm, UnitForm
from topout.web.book.models import Bike, Rider, Unit
from topout.web.jobs import core
from topout.web.jobs.records import changes
from web import people

RATIO, STROKE = (model.keys(model.Shock)[word][1] for word in tables.LINKAGE)
READ = [["0 mm", 2.85], ["70 mm", 2.56], ["140.5 mm", 2.33]]


@pytest.mark.parametrize(
    "text",
    [
        "0 2.85\n70 2.56\n140.5 2.33",
        "0 2,85\r\n70 2,56\r\n140,5 2,33\r\n",  # decimal commas
        "0,2.85\n70,2.56\n140.5,2.33",  # a table with commas between
        "wheel travel [mm]\tratio\n0\t2,85\n70\t2,56\n140,5\t2,33\n",  # pasted with its heading
        "0 mm; 2.85;\n\n70 mm; 2.56;\n140.5 mm : 2.33",
        "0 | 2,85\n70 , 2.56\n140,5|2.33",
    ],
)
def test_rows_are_read_as_they_are_typed_or_pasted(workshop: object, text: str) -> None:
    assert pairs.typed(text, RATIO) == READ
    assert pairs.typed(pairs.text_of(READ), RATIO) == READ


def test_inches_and_pairs_of_stroke(workshop: object) -> None:
    assert pairs.typed('0 2.9\n5.5 in 2,4\n6" 2.3', RATIO) == [["0 mm", 2.9], ["5.5 in", 2.4], ["6 in", 2.3]]
    assert pairs.typed("0 in 0 in\n2.75in 1.02in", STROKE) == [["0 in", "0 in"], ["2.75 in", "1.02 in"]]
    assert pairs.typed("0 0\n70,0 25,9 mm", STROKE) == [["0 mm", "0 mm"], ["70.0 mm", "25.9 mm"]]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0 2.9\n50,2\n100 2.4", "row 2, “50,2”"),  # 50.2, or 50 and 2?
        ("0 2.9\n100", "row 2, “100”"),
        ("0 2.9 7\n100 2.4", "row 1, “0 2.9 7”"),
        ("0 2.9 mm\n100 2.4", "a ratio has no unit"),
        ("0 2.9\nabout 2.4", "row 2, “about 2.4”"),
        ("\n".join(f"{at} 2.5" for at in range(pairs.ROWS + 2)), "at most 200 fit here"),
    ],
)
def test_what_is_no_row_is_named_with_its_number(workshop: object, text: str, said: str) -> None:
    with pytest.raises(pairs.RowFault) as found:
        pairs.typed(text, RATIO)
    assert said in str(found.value) and "Wheel travel and ratio are expected in each row" in str(found.value)


GOOD = {"name": "S", "kind": "shock", "shock-length": "210 mm", "shock-stroke": "55 mm", "shock-leverage": "0 2.85\n70 2.56\n140.5 2.33"}  # fmt: skip


@pytest.mark.parametrize(
    ("instead", "box", "said"),
    [
        ({"shock-leverage": "0 2.9\n70 2.6\n60 2.4"}, "shock-leverage", "grows from row to row; row 3 has 60 mm"),
        ({"shock-leverage": "0 2.9\n70 -2.6"}, "shock-leverage", "row 2"),
        ({"shock-leverage": "0 2.9\n70 29"}, "shock-leverage", "0.5 to 6"),
        ({"shock-leverage": "10 2.9\n70 2.6"}, "shock-leverage", "begins at 0"),
        ({"shock-leverage": "0 2.9"}, "shock-leverage", "two rows or more"),
        ({"shock-leverage": "0 2.85\n70 2.56\n150 2.33"}, "shock-leverage", "of stroke; Rear shock at free length, stroke is 55 mm"),
        ({"shock-leverage_stroke": "0 0\n140 55"}, "shock-leverage_stroke", "give one of them"),
        ({"shock-leverage": "", "shock-leverage_stroke": "0 0\n70 40\n140 55"}, "shock-leverage_stroke", "leverage ratio at"),
        ({"shock-leverage": "", "shock-leverage_stroke": "0 0\n70 30\n140 30"}, "shock-leverage_stroke", "stroke grows from row to row"),
    ],
)  # fmt: skip
def test_what_speaks_against_itself_is_named_at_its_box(
    workshop: object, instead: dict[str, str], box: str, said: str
) -> None:
    assert UnitForm(dict(GOOD)).is_valid(), UnitForm(dict(GOOD)).errors
    form = UnitForm({**GOOD, **instead})
    assert not form.is_valid() and list(form.errors) == [box], form.errors
    told = " ".join(str(each) for each in form.errors[box])
    assert said in told and "[[" not in told and "[shock]" not in told, told


def _bike(cast: people.Cast, shock: tables.Tables | None) -> tuple[Bike, Unit | None]:
    with change(cast.owner, "bike", {"for": "leverage"}) as doing:
        rider = keeping.make_rider(doing, name="Odile Fenn")
        bike = keeping.make_bike(doing, rider=rider, name="Tarn", tables={})
        unit = keeping.make_unit(doing, bike=bike, name="Sorrel", kind="shock", tables=shock) if shock else None
    return bike, unit


def test_the_bike_holds_its_leverage_and_lends_it_to_the_shock(technician_in: Client, cast: people.Cast) -> None:
    bike, unit = _bike(cast, {"shock": {"stroke": "55 mm"}})
    assert unit is not None
    place = f"/book/bikes/{bike.pk}/change/"
    wrong = people.send(technician_in, place, {"name": "Tarn", "shock-leverage": "0 2.9\n140 2.9"})
    assert wrong.status_code == 422 and "48.3 mm of stroke" in unescape(wrong.content.decode())
    bike.refresh_from_db()
    assert bike.tables == {}
    assert (
        people.send(technician_in, place, {"name": "Tarn", "shock-leverage": GOOD["shock-leverage"]}).status_code == 303
    )
    bike.refresh_from_db()
    assert bike.tables == {"shock": {"leverage": READ}}
    shown = unescape(technician_in.get(f"/book/bikes/{bike.pk}/").content.decode())
    assert tables.LINKAGE_TITLE in shown and "140.5\xa0mm: 2.33" in shown
    out = technician_in.get(f"/book/units/{unit.pk}/bench-file.toml").content.decode()
    assert re.search(r'"140.5 mm",\s*2.33', out) and 'stroke = "55 mm"' in out
    # the shock's stroke is held against the bike's table, and a table of its own stands in its place
    form = UnitForm({"name": "S", "kind": "shock", "shock-stroke": "65 mm"}, unit=unit)
    assert not form.is_valid() and "they agree within" in str(form.errors).lower()
    assert UnitForm(
        {"name": "S", "kind": "shock", "shock-stroke": "60 mm", "shock-leverage_stroke": "0 0\n150 60"}, unit=unit
    ).is_valid()


def test_two_leverages_of_one_bike_have_one_author(cast: people.Cast) -> None:
    bike, unit = _bike(cast, {"shock": {"stroke": "55 mm", "leverage": READ}})
    assert unit is not None
    form = BikeForm({"name": "Tarn", "shock-leverage": "0 2.9\n140 2.4"}, bike=bike)
    assert not form.is_valid() and "Sorrel has a leverage of its own" in str(form.errors["shock-leverage"])
    with change(cast.owner, "job", {"for": "leverage"}) as doing:
        rider = Rider.objects.get()
        job = changes.take_in(doing, rider=rider, bike=bike, unit=unit, asked_title="can", asked="Seals.")
    bike.tables = {"shock": {"leverage_stroke": [["0 mm", "0 mm"], ["150 mm", "60 mm"]]}}  # came by another road
    bike.save()
    job.bike = bike
    assert core.tables(job, {})["shock"] == {"stroke": "55 mm", "leverage": READ}


@pytest.mark.parametrize(("wrong", "more"), [(3, ""), (4, ""), (5, "; 1 more."), (9, "; 5 more.")])
def test_of_many_wrong_rows_four_are_named_and_the_rest_counted(workshop: object, wrong: int, more: str) -> None:
    with pytest.raises(pairs.RowFault) as found:
        pairs.typed("0 2.9\n" + "\n".join(f"row{n}" for n in range(wrong)), RATIO)
    assert str(found.value).count("“row") == min(wrong, 4) and ("more" in str(found.value)) is bool(more)
    assert more in str(found.value)
