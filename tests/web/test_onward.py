"""Where a form leads to, said to a script in the answer's head: one way there, and the same way as without it."""

from __future__ import annotations

from topout.web.onward import HEADER
from web import people
from web.people import Cast

TOKEN = "csrfmiddlewaretoken"


def test_a_script_is_told_where_and_is_not_led_there(cast: Cast) -> None:
    client = people.browser(cast.owner)
    again = people.browser(cast.owner)
    plain = client.post("/sign-out/", {TOKEN: people.field_of(client.get("/"), TOKEN)})
    told = again.post("/sign-out/", {TOKEN: people.field_of(again.get("/"), TOKEN)}, headers={HEADER: "say"})
    assert plain.status_code == 302
    assert told.status_code == 200
    assert "Location" not in told.headers
    assert told.headers[HEADER] == plain.headers["Location"]
    assert told.content == b""
    assert told.cookies.keys() == plain.cookies.keys()
    assert again.get("/").status_code == 302, "signed out all the same"


def test_an_answer_that_leads_nowhere_stays(cast: Cast) -> None:
    page = people.browser().get("/sign-in/", headers={HEADER: "say"})
    assert page.status_code == 200
    assert HEADER not in page.headers
    assert people.browser(cast.owner).get("/no/such/", headers={HEADER: "say"}).status_code == 404
