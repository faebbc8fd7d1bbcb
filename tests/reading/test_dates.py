"""Dates as an author writes them."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.model import Next
from journal.problems import Unreadable
from journal.quantities import Parsed
from journal.reading.dates import in_zone, journal_zone, read_next, read_when, when_in_name

LONDON = ZoneInfo("Europe/London")


@pytest.mark.parametrize(
    ("text", "iso", "exact"),
    [
        ("2026-10-03", "2026-10-03", "day"),
        ("2026-10", "2026-10", "month"),
        ("2026", "2026", "year"),
        ("about 2026-10-03", "2026-10-03", "about"),
        ("About 2026-10", "2026-10-01", "about"),
        ("2026-10-03 14:05", "2026-10-03T14:05:00+01:00", "minute"),
        ("2026-10-03  9:05", "2026-10-03T09:05:00+01:00", "minute"),
        ("2026-12-03 14:05", "2026-12-03T14:05:00+00:00", "minute"),
        ("2026-10-03T14:05+01:00", "2026-10-03T14:05:00+01:00", "minute"),
        ("2026-10-03T14:05:09-05:00", "2026-10-03T14:05:09-05:00", "minute"),
        ("2026-10-03T14:05\u221205:00", "2026-10-03T14:05:00-05:00", "minute"),
        ("2026-10-03 14:05 +0530", "2026-10-03T14:05:00+05:30", "minute"),
        ("2026-10-03T14:05+01", "2026-10-03T14:05:00+01:00", "minute"),
        ("2026-10-03T14:05Z", "2026-10-03T14:05:00+00:00", "minute"),
        ("1758-10-03 01:05", "1758-10-03T01:05:00-00:01", "minute"),  # local mean time: 1 min 15 s behind
        ("2028-02-29", "2028-02-29", "day"),
    ],
)
def test_a_date_is_read_as_far_as_it_is_known(text: str, iso: str, exact: str) -> None:
    read = read_when(text, LONDON)
    assert (iso, exact, ()) == (read.value.iso, read.value.exact, read.remarks)


def test_what_is_less_exact_than_a_day_sorts_at_its_start_and_counts_no_days() -> None:
    for text, first in (
        ("2026", date(2026, 1, 1)),
        ("2026-10", date(2026, 10, 1)),
        ("about 2026-10-03", date(2026, 10, 3)),
    ):
        when = read_when(text, LONDON).value
        assert (text, first, False, None) == (when.written, when.first, when.counts_days, when.moment)


@pytest.mark.parametrize(
    "text",
    [
        "", "soon", "03.10.26", "03/10/26", "2026-13-01", "2026-02-30", "2027-02-29", "2026-1-32", "20261303",
        "31.02.2026", "31/02/2026", "3 Octember 2026", "3 October", "Oct 3", "3 October 2026 or so", "14 2026",
        "13.13.2026", "3 Oct 20266",
        "26-10-03", "0206-10-03", "2026-10-03 25:00", "2026-10-03 14:60", "2026-10-03 14:05 CET",
        "2026-10-03 14", "2026-10-03T14:05+15:00", "2026-10 14:05", "about",
        "about 2026-02-30", "2026-W40-6", "2026-10-03 14:05:61", "٢٠٢٦-10-03",
    ],
)  # fmt: skip
def test_what_no_calendar_or_clock_has_is_not_read(text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        read_when(text, LONDON)
    assert fault.value.fix


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("2026/09/03", "2026-09-03"),
        ("3 September 2026", "2026-09-03"),
        ("3 Oct 2026", "2026-10-03"),
        ("Oct 3, 2026", "2026-10-03"),
        ("03.09.2026", "2026-09-03"),
        ("3. 9. 2026", "2026-09-03"),
        ("2026.9.3", "2026-09-03"),
        ("2026-9-3", "2026-09-03"),
        ("20261003", "2026-10-03"),
        ("October 3rd 2026", "2026-10-03"),
        ("3rd of October 2026", "2026-10-03"),
        ("Saturday, 3 October 2026", "2026-10-03"),
        ("sat 3 sept. 2026", "2026-09-03"),
        ("3-Oct-2026", "2026-10-03"),
        ("2026 Oct 3", "2026-10-03"),
        ("23/10/2026", "2026-10-23"),
        ("10/23/2026", "2026-10-23"),
        ("3/3/2026", "2026-03-03"),
        ("October 2026", "2026-10"),
        ("3 October 2026 14:05", "2026-10-03 14:05"),
        ("Oct 3, 2026, 14:05", "2026-10-03 14:05"),
        ("03.10.2026 at 14:05", "2026-10-03 14:05"),
        ("about 3 October 2026", "about 2026-10-03"),
    ],
)
def test_a_date_that_can_be_read_in_but_one_way_is_read_and_its_iso_form_given(text: str, iso: str) -> None:
    read, as_iso = read_when(text, LONDON), read_when(iso, LONDON).value
    assert (as_iso.first, as_iso.exact, as_iso.moment) == (read.value.first, read.value.exact, read.value.moment)
    assert [(f'"{text}" was read as {iso}', f"write {iso}")] == [(one.message, one.fix) for one in read.remarks]
    assert text == read.value.written


@pytest.mark.parametrize("text", ["03/10/2026", "3/10/2026", "03-10-2026", "3 10 2026", "03/10/2026 14:05"])
def test_a_date_that_can_be_read_in_two_ways_is_not_read_and_both_are_named(text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        read_when(text, LONDON)
    assert "can be 2026-10-03 (day first) or 2026-03-10 (month first)" in fault.value.message
    assert "write 2026-10-03 or 2026-03-10" == fault.value.fix


@pytest.mark.parametrize(
    ("text", "read", "remark"),
    [
        ("28 November 2026 raise the duct", Next("raise the duct", date(2026, 11, 28)), "was read as 2026-11-28"),
        ("28.11.2026: raise the duct", Next("raise the duct", date(2026, 11, 28)), "was read as 2026-11-28"),
        ("03/10/2026 raise the duct", Next("03/10/2026 raise the duct", None), "so this never falls due"),
        ("November 2026 raise the duct", Next("November 2026 raise the duct", None), None),
    ],
)
def test_what_is_to_be_done_may_begin_with_such_a_day_too(text: str, read: Next, remark: str | None) -> None:
    found = read_next(text)
    assert read == found.value
    assert bool(remark) == bool(found.remarks)
    assert (remark or "") in "".join(one.message for one in found.remarks)


@pytest.mark.parametrize(
    ("text", "zone", "moment", "what"),
    [
        # IANA tz database, rule EU and zone Europe/London: clocks go back on the last Sunday of October at 01:00 UTC
        # and forward on the last Sunday of March; America/New_York by rule US: first Sunday of November.
        ("2026-10-25 01:30", "Europe/London", "2026-10-25T01:30:00+01:00", "occurs twice"),
        ("2026-11-01 01:30", "America/New_York", "2026-11-01T01:30:00-04:00", "occurs twice"),
        ("2026-03-29 01:30", "Europe/London", "2026-03-29T00:30:00+00:00", "does not exist"),
        ("2026-03-08 02:30", "America/New_York", "2026-03-08T01:30:00-05:00", "does not exist"),
    ],
)
def test_of_a_time_that_the_clock_change_spoils_the_earlier_is_taken_and_odd(
    text: str, zone: str, moment: str, what: str
) -> None:
    read = read_when(text, ZoneInfo(zone))
    assert datetime.fromisoformat(moment) == read.value.moment
    assert moment == read.value.iso
    assert 1 == len(read.remarks)
    assert what in read.remarks[0].message
    offsets = re.findall(r"[+-][0-9]{2}:[0-9]{2}", read.remarks[0].fix)
    settled = [read_when(text + offset, ZoneInfo(zone)) for offset in offsets]
    assert [()] * 2 == [one.remarks for one in settled]
    one, other = (one.value.moment for one in settled)
    assert one
    assert other
    assert timedelta(hours=1) == abs(one - other)


@pytest.mark.parametrize("text", ["2026-10-25 00:59", "2026-10-25 02:00", "2026-03-29 02:00", "2026-10-25 01:30+01:00"])
def test_a_time_beside_the_clock_change_is_not_odd(text: str) -> None:
    assert () == read_when(text, LONDON).remarks


@given(
    st.datetimes(datetime(1990, 1, 1), datetime(2035, 1, 1)), st.sampled_from(["Europe/London", "Australia/Lord_Howe"])
)
def test_a_wall_clock_is_never_put_later_than_it_can_be(wall: datetime, name: str) -> None:
    zone = ZoneInfo(name)
    read = in_zone(wall, zone)
    both = [wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
    assert min(both) == read.value
    assert (both[0] != both[1]) == bool(read.remarks)
    assert isinstance(read.value.tzinfo, timezone)


@given(st.datetimes(datetime(1800, 1, 1), datetime(2900, 1, 1)), st.integers(-14 * 60, 14 * 60))
def test_a_moment_written_with_its_offset_is_read_back(wall: datetime, minutes: int) -> None:
    moment = wall.replace(microsecond=0, tzinfo=timezone(timedelta(minutes=minutes)))
    assert moment == read_when(moment.isoformat(), LONDON).value.moment


@pytest.mark.parametrize(
    ("name", "iso"),
    [
        ("2026-10-27-pins.md", "2026-10-27"),
        ("2026-09-12-alder-bank", "2026-09-12"),
        ("2026-09-12.gpx", "2026-09-12"),
        ("2026-11-20T1803.json", "2026-11-20"),
        ("2026-09 alder bank", "2026-09"),
        ("20261027.md", "2026-10-27"),
        ("2026_10_27_pins.md", "2026-10-27"),
        ("27 October 2026 pins.md", "2026-10-27"),
        ("27.10.2026.md", "2026-10-27"),
    ],
)
def test_a_date_that_begins_a_name_is_found(name: str, iso: str) -> None:
    found = when_in_name(name)
    assert found is not None
    assert iso == found.iso


@pytest.mark.parametrize(
    "name",
    [
        "find.md",
        "B-031",
        "pins-2026-10-27.md",
        "2026-02-30-x.md",
        "2026-10-271.md",
        "20261327.md",
        "03-10-2026.md",
        "2026",
    ],
)
def test_no_date_is_found_where_none_begins_a_name(name: str) -> None:
    assert when_in_name(name) is None


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("2026-11-28 raise the duct's far end", Next("raise the duct's far end", date(2026, 11, 28))),
        ("2026-11-28: soak", Next("soak", date(2026, 11, 28))),
        ("shake the jars", Next("shake the jars", None)),
        ("12 plates to pour", Next("12 plates to pour", None)),
    ],
)
def test_what_is_next_is_read_with_its_day(text: str, due: Next) -> None:
    assert Parsed(due) == read_next(text)


def test_what_is_next_without_a_whole_day_is_odd() -> None:
    read = read_next("2026-11 raise the duct")
    assert Next("2026-11 raise the duct", None) == read.value
    assert read.remarks


@pytest.mark.parametrize("text", ["2026-11-28", "2026-11-31 soak"])
def test_what_is_next_needs_words_and_a_day_that_exists(text: str) -> None:
    with pytest.raises(Unreadable):
        read_next(text)


@pytest.mark.parametrize("name", ["Europe/Nowhere", "", "../etc", "Europe", "\x00"])
def test_a_zone_that_is_none_is_utc(name: str) -> None:
    assert UTC == journal_zone(name)


@given(st.text(alphabet=st.sampled_from("0123456789-:T+Z about"), max_size=30))
def test_no_text_makes_the_reader_of_dates_stumble(text: str) -> None:
    with suppress(Unreadable):
        assert isinstance(read_when(text, LONDON), Parsed)
