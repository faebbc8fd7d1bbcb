"""Where everything is in the site."""

from datetime import UTC, date, datetime

import pytest

from journal.model import Device, Photo, When
from journal.settings import Tent
from journal.site import addresses
from tests.builders import find, note

DAY = When("2026-11-20", date(2026, 11, 20), "day")
MONTH = When("2026-11", date(2026, 11, 1), "month")


@pytest.mark.parametrize(
    ("expected", "row"),
    [
        ("finds/f26-012/index.html", find("F26-012")),
        ("tents/wash-house/index.html", Tent(id="Wash-house", name="Wash-house tent")),
        (
            "tents/wash-house/power/index.html#fan-2",
            Device(path="d.md", date=DAY, title="", by="", id="FAN-2", tent="wash-house"),
        ),
    ],
)
def test_an_id_has_one_lasting_address_in_lower_case(expected: str, row: addresses.Named) -> None:
    assert expected == addresses.page_of(row)


@pytest.mark.parametrize(
    ("expected", "path"), [("./", "index.html"), ("../", "finds/index.html"), ("../../", "finds/f1/index.html")]
)
def test_every_page_knows_the_way_back_to_the_root(expected: str, path: str) -> None:
    assert expected == addresses.root_from(path)


def test_the_second_entry_of_a_day_has_a_number_behind_its_anchor() -> None:
    days = {"a.md": DAY, "b.md": DAY, "c.md": MONTH, "d.md": DAY}
    entries = [note("B-031", day, path=path) for path, day in days.items()]
    expected = {"a.md": "2026-11-20", "b.md": "2026-11-20-2", "c.md": "2026-11", "d.md": "2026-11-20-3"}
    assert expected == addresses.dated_anchors(entries)


@pytest.mark.parametrize(
    ("expected", "taken"), [("2026-10", datetime(2026, 10, 27, 9, 0, tzinfo=UTC)), ("2026-11", None)]
)
def test_a_picture_is_filed_under_the_month_it_was_taken_else_its_entrys(expected: str, taken: datetime | None) -> None:
    assert expected == addresses.month_of(Photo(path="p.jpg", digest="0", taken=taken), note("B-031", DAY))
