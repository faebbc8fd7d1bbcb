"""Probes held against salts: which words are a check, what it expected, and by how much the probe is off."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.analysis.calculation import Amount
from journal.analysis.sensors import SALTS, ProbeCheck, Salt, probe_checks, salt_in
from journal.model import Journal

Make = Callable[..., Journal]


@pytest.fixture
def checks(make_journal: Make) -> Callable[..., tuple[ProbeCheck, ...]]:
    """Called with what was done to a tent and to its probe it gives the checks in it."""

    def of(serviced: str = "tank filled", done: str = "wiped") -> tuple[ProbeCheck, ...]:
        device = "---\nkind: device\nid: probe-1\ndate: 2026-01-01\ntent: hut\ndoes: probe\n---\n"
        tent = f"---\nkind: tent\nabout: hut\ndate: 2026-02-01\nserviced: {serviced}\n---\n"
        note = f"---\nkind: note\nabout: probe-1\ndate: 2026-03-01\ndone: {done}\n---\n"
        return probe_checks(make_journal({"journal.toml": "[tents.hut]\n", "d.md": device, "t.md": tent, "n.md": note}))

    return of


Checks = Callable[..., tuple[ProbeCheck, ...]]


def test_a_probe_is_compared_with_the_published_humidity_over_the_salt(checks: Checks) -> None:
    """75.48 % over sodium chloride at 20 °C: Greenspan 1977, as in tests/outside."""
    (found,) = checks(done="probe read 74 % over table salt at 20 °C")
    assert ("probe-1", "table salt", 74.0, 20.0, True) == (
        found.about, found.salt, found.read_pct, found.t_c, found.t_is_written,
    )  # fmt: skip
    assert 75.48 == pytest.approx(found.expected_pct, abs=0.005)
    assert -1.48 == pytest.approx(found.off.value, abs=0.005)
    assert ("the probe read", Amount(74.0, "%")) == found.off.inputs[0]
    assert "Greenspan" in found.off.source
    assert ("n.md", "2026-03-01") == (found.path, found.when.iso)


@pytest.mark.parametrize(
    ("name", "t_c", "uncertainty_pct"),
    [
        # Greenspan 1977, table 2: at 20 °C 75.47 ± 0.14 % over sodium chloride, at 15 °C 75.61 ± 0.18 %.
        ("table salt", 20.0, 0.14), ("table salt", 18.0, 0.18), ("table salt", 15.0, 0.18), ("table salt", 30.0, 0.11),
        ("magnesium chloride", 25.0, 0.16), ("potassium sulphate", 20.0, 0.6),
        ("table salt", 14.9, None), ("table salt", 30.1, None),
        # CRC Handbook of Chemistry and Physics, section 15, Constant humidity solutions: generally ±2 %.
        ("potassium nitrate", 20.0, 2.0), ("potassium chloride", 25.0, 2.0), ("potassium chloride", 25.1, None),
    ],
)  # fmt: skip
def test_the_humidity_over_a_salt_is_uncertain_as_its_source_says(
    name: str, t_c: float, uncertainty_pct: float | None
) -> None:
    salt = salt_in(name)
    assert salt is not None
    assert uncertainty_pct == salt.uncertainty_pct(t_c)


@pytest.mark.parametrize(
    ("salt", "read_pct", "t_c", "words"),
    [
        ("table salt", 74.0, 20.0, "read 74 % above wet cooking salt, 20 °C, after a night"),
        ("table salt", 74.5, 20.0, "over NaCl at 68 °F: 74,5 %"),
        ("table salt", 73.0, 21.0, "saturated salt at 21 °C, the probe said 73% RH"),
        ("potassium chloride", 84.0, 15.5, "84 % over potassium chloride at 15.5 °C"),
        ("potassium sulphate", 96.0, 20.0, "96 % over K2SO4"),
        ("magnesium chloride", 35.0, 20.0, "against MgCl₂ it read 35 %"),
        ("table salt", 74.0, 20.0, "read 74 percent over table salt at 20 degrees C"),
        ("table salt", 78.0, 20.0, "in a jar with wet table salt, 20 °C, it shows 78 %"),
        ("table salt", 71.0, 20.0, "salt test: the probe says 71 per cent"),
        # What it should read is not what it read.
        ("table salt", 71.0, 20.0, "over table salt (75 %) it read 71 %"),
        ("table salt", 71.0, 20.0, "75 % salt test, the probe showed 71 %"),
        ("table salt", 71.0, 20.0, "71 % over table salt, should be 75 %"),
        ("potassium nitrate", 88.0, 20.0, "88 % against potassium nitrate (94.6 %)"),
    ],
)
def test_a_check_is_read_however_it_is_put(salt: str, read_pct: float, t_c: float, words: str, checks: Checks) -> None:
    (found,) = checks(serviced=words)
    assert (salt, read_pct) == (found.salt, found.read_pct)
    assert t_c == pytest.approx(found.t_c)
    assert "hut" == found.about


def test_a_temperature_that_was_not_written_is_taken_as_20_and_that_is_said(checks: Checks) -> None:
    (found,) = checks(done="read 74 % over salt")
    assert (20.0, False) == (found.t_c, found.t_is_written)
    assert "none was written" in found.off.inputs[2][0]


def test_the_probe_named_in_a_service_of_its_tent_is_the_one_that_was_checked(checks: Checks) -> None:
    assert ["probe-1"] == [one.about for one in checks(serviced="Probe-1 read 74 % over table salt at 20 °C")]


@pytest.mark.parametrize(
    "words",
    [
        "floor wiped with 5 % salt",
        "read 74 % over night",
        "read 74 over table salt at 20 °C",
        "read 74 % over sea salt at 20 °C",
        "read 740 % over table salt at 20 °C",
        "read 74 % over table salt at 80 °C",
        "salt bought",
        "over table salt: 75 %, 71 %",
    ],
)
def test_other_words_are_no_check(words: str, checks: Checks) -> None:
    assert () == checks(serviced=words)


def test_checks_stand_oldest_first(checks: Checks) -> None:
    found = checks(serviced="74 % over salt at 18 °C", done="75 % over salt at 18 °C")
    assert [74.0, 75.0] == [one.read_pct for one in found]


@pytest.mark.parametrize("salt", SALTS, ids=lambda salt: salt.name)
def test_a_salt_is_found_by_each_of_its_names_and_has_no_humidity_beyond_its_equation(salt: Salt) -> None:
    assert [salt] * (1 + len(salt.also)) == [salt_in(f"wet {name}, a cup") for name in (salt.name, *salt.also)]
    assert (None, None) == (salt.humidity_pct(-0.1), salt.humidity_pct(50.1))


NOTHING_KNOWN = "---\nkind: tent\nabout: nope\ndate: 2026-02-01\nserviced: {words}\n---\n"


@pytest.mark.parametrize(
    ("words", "about"),
    [
        ("probe-1 read 74 % over table salt at 20 °C", []),
        ("probe-2 read 74 % over table salt at 20 °C", ["probe-2"]),
    ],
)
def test_a_check_in_an_entry_about_nothing_known_counts_where_its_probe_is_known(
    make_journal: Make, words: str, about: list[str]
) -> None:
    probe = "---\nkind: device\nid: probe-2\ndate: 2026-01-01\ntent: hut\n---\n"
    files = {"journal.toml": "[tents.hut]\n", "p.md": probe, "t.md": NOTHING_KNOWN.format(words=words)}
    assert about == [check.about for check in probe_checks(make_journal(files))]


@pytest.mark.parametrize("at", ["-400 °C", "9999 °C", "99999999999999 °C"])
def test_a_temperature_that_cannot_be_makes_no_check(checks: Checks, at: str) -> None:
    assert () == checks(done=f"probe read 74 % over table salt at {at}")
