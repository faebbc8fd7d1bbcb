"""Air by the day, and only of the days that are shared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from math import isnan, nan
from typing import Any

import pytest

from journal.model import Journal, LoggerFile
from journal.settings import Share
from journal.sharing.redact import redaction_of


def redacted(journal: Journal, share: Share) -> Journal:
    return redaction_of(journal, share).journal


TOML = '[journal]\ntime_zone = "Europe/London"\n[tents.hut]\n[tents.loft]\n'
FILES = {
    "journal.toml": TOML,
    "c.md": "---\nkind: culture\nid: C-1\nreceived from: unknown\ndate: 2026-10-01\n---\n",
    "b.md": "---\nkind: batch\nid: B-1\nculture: C-1\ntent: hut\ndate: 2026-10-06 15:00\n---\n",
    "n1.md": "---\nkind: note\nabout: B-1\nmoved to: loft\ndate: 2026-10-09 09:00\n---\n",
    "n2.md": "---\nkind: note\nabout: B-1\nstage: spent\ndate: 2026-10-11\n---\n",
}


def log(tent: str, base_pct: float, first: datetime, hours: int, **more: Any) -> LoggerFile:
    """A reading an hour: the humidity its base and the hour of the day, the temperature the day of the month."""
    stamps = [first + timedelta(hours=hour) for hour in range(hours)]
    return LoggerFile(
        path=f"{tent}.csv", tent=tent, stamps_s=tuple(stamp.timestamp() for stamp in stamps),
        temperature_c=tuple(float(stamp.day) for stamp in stamps),
        humidity_pct=tuple(base_pct + stamp.hour / 10 for stamp in stamps), humidity_accuracy_pct=3.0, **more,
    )  # fmt: skip


@pytest.fixture(scope="module")
def wood(make_journal: Callable[..., Journal]) -> Journal:
    start = datetime(2026, 10, 1, tzinfo=UTC)
    return make_journal(FILES, logs=[log("hut", 80, start, 24 * 20), log("loft", 60, start, 24 * 20)])


def air(journal: Journal, *about: str, **more: Any) -> dict[str, list[tuple[date, float, float]]]:
    logs = redacted(journal, Share(name="m", about=about, **more)).logs
    assert {True} == {log.by_day for log in logs}
    return {
        log.tent: [
            (datetime.fromtimestamp(stamp, UTC).date(), celsius, pct)
            for stamp, celsius, pct in zip(log.stamps_s, log.temperature_c, log.humidity_pct, strict=True)
        ]
        for log in logs
    }


def test_a_batch_brings_the_air_of_the_days_on_which_it_stood_in_each_tent(wood: Journal) -> None:
    rows = air(wood, "B-1")
    assert [6, 7, 8, 9] == [day.day for day, _, _ in rows["not-shared-1"]]
    assert [9, 10, 11] == [day.day for day, _, _ in rows["not-shared-2"]]


def test_a_named_tent_brings_all_its_days_from_the_first_that_is_shared(wood: Journal) -> None:
    assert 21 == len(air(wood, "hut")["hut"])  # the last hours are on the 21st by London's summer time
    assert date(2026, 10, 15) == air(wood, "hut", since=date(2026, 10, 15))["hut"][0][0]
    assert {"hut", "not-shared-1"} == set(air(wood, "hut", "B-1"))


def test_a_row_holds_the_medians_of_a_day_and_is_at_noon(wood: Journal) -> None:
    day, celsius, pct = air(wood, "hut")["hut"][4]
    assert date(2026, 10, 5) == day
    # From 23:00 of the 4th to 22:00 of the 5th in UTC: hours 23, 0 … 22 of 80 + hour / 10.
    assert (5.0, pytest.approx(81.2, abs=0.05)) == (celsius, pct)
    stamps = redacted(wood, Share(name="m", about=("hut",))).logs[0].stamps_s
    assert {12 * 3600} == {stamp % 86400 for stamp in stamps}


def test_no_tent_that_nothing_shared_stood_in_brings_air(wood: Journal) -> None:
    assert {} == air_without_check(wood, "C-1", since=date(2027, 1, 1))


def air_without_check(journal: Journal, *about: str, **more: Any) -> dict[str, object]:
    return {log.tent: log for log in redacted(journal, Share(name="m", about=about, **more)).logs}


def test_a_day_on_which_one_of_the_two_was_not_read_has_only_the_other(make_journal: Callable[..., Journal]) -> None:
    whole = log("hut", 80, datetime(2026, 10, 5, tzinfo=UTC), 20)
    journal = make_journal(FILES, logs=[replace(whole, temperature_c=(nan,) * 20)])
    (_, celsius, pct), *_ = air(journal, "hut")["hut"]
    assert isnan(celsius)
    assert not isnan(pct)


def test_a_logger_that_hung_reveals_nothing(make_journal: Callable[..., Journal]) -> None:
    whole = log("hut", 80, datetime(2026, 10, 5, tzinfo=UTC), 48)
    stuck = replace(whole, temperature_c=(15.3,) * 48, humidity_pct=(80.4,) * 48)
    assert {} == air_without_check(make_journal(FILES, logs=[stuck]), "hut")


def test_a_journal_without_loggers_has_no_air(make_journal: Callable[..., Journal]) -> None:
    assert () == redacted(make_journal(FILES), Share(name="m", about=("B-1", "hut"))).logs
