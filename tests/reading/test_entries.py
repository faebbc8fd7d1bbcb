"""An entry file into a draft."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.model import MixPart, Next, Ref
from journal.problems import Problem
from journal.quantities import Mass, Money
from journal.reading.entries import Draft, read_entry
from journal.reading.folder import LARGEST_BYTES
from journal.reading.keys import KEYS, KINDS, names_of
from journal.reading.private_passages import COUNTS_AS_PRIVATE, is_like_private
from journal.settings import Exhaust, LightHours, Settings, ValueRange
from tests.growth import TIMES, filled, grows_faster_than_a_scan

SETTINGS = Settings(time_zone="Europe/London")


def draft(text: str | bytes) -> Draft:
    data = text if isinstance(text, bytes) else text.encode()
    found = read_entry("batches/entry.md", data, SETTINGS)
    assert found is not None
    return found


def entry(kind: str, *lines: str) -> Draft:
    """A draft of that kind with these lines of front matter; the first of them is on line 3."""
    return draft("\n".join(["---", f"kind: {kind}", *lines, "---", ""]))


def told(read: Draft) -> list[tuple[int, str]]:
    return [(problem.line, problem.severity) for problem in read.problems]


def without_common(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if name not in ("kind", "id", "date")}


def test_a_find_is_read() -> None:
    read = entry(
        "find",
        "id: F25-009",
        "date: 2026-09-12 07:40",
        "species: *Pleurotus pulmonarius*",
        "certainty: Likely",
        "where: 58.30412, -8.90177 ±8 m",
        "growing-on: alder, still standing",
        "elevation: 120 ft",
        "locality: area",
        "private: no",
    )
    where = read.values["where"]
    assert () == read.problems
    assert ("find", "F25-009", "2026-09-12T07:40:00+01:00") == (read.kind, read.values["id"], read.values["date"].iso)
    assert (58.30412, -8.90177, 8, "entry") == (where.lat_deg, where.lon_deg, where.uncertainty_m, where.source)
    assert {
        "species": "*Pleurotus pulmonarius*",
        "certainty": "likely",
        "where": where,
        "growing on": "alder, still standing",
        "elevation": pytest.approx(36.576),  # 120 × 0.3048 m
        "locality": "area",
        "private": False,
    } == without_common(read.values)


def test_a_culture_is_read() -> None:
    read = entry(
        "culture",
        "id: PP-26B",
        "from: B-031.2, PP-26A",
        "method: tissue",
        "form: Spore-Print",
        "vessels: 5",
        "transfers before: 2",
        "master: yes",
    )
    assert () == read.problems
    assert {
        "from": (Ref("B-031", 2), Ref("PP-26A")),
        "method": "tissue",
        "form": "spore print",
        "vessels": 5,
        "transfers before": 2,
        "master": True,
    } == without_common(read.values)


def test_a_batch_is_read() -> None:
    read = entry(
        "batch",
        "id: B-031",
        "culture: [PP-26A.3]",
        "units: 6",
        "mix: oak pellets 5 kg, wheat bran 1,2 kg, gypsum 50 g, water 8.6 kg",
        "wet mass: 13.8 kg in all",
        "moisture: 62 %",
        "dry mass: 874 g",
        "spawn mass: 5 oz",
        "tent: wash-house",
        "wants humidity: 90–95 %",
        "wants_temperature: 15 to 22 °C",
        "treatment: 121 °C 2.5 h",
    )
    parts = (("oak pellets", 5000), ("wheat bran", 1200), ("gypsum", 50), ("water", 8600))
    assert () == read.problems
    assert {
        "culture": (Ref("PP-26A", 3),),
        "units": 6,
        "mix": tuple(MixPart(name, g) for name, g in parts),
        "wet mass": Mass(13800, in_all=True),
        "moisture": 62,
        "dry mass": Mass(874),
        "spawn mass": pytest.approx(141.747615625),  # 5 × 28.349523125 g
        "tent": "wash-house",
        "wants humidity": ValueRange(90, 95),
        "wants temperature": ValueRange(15, 22),
        "treatment": "121 °C 2.5 h",
    } == without_common(read.values)


def test_a_note_is_read() -> None:
    read = entry(
        "note",
        "about: B-031, PP-26A",
        "date: about 2026-11-01",
        "stage: fruiting",
        "harvest: 412 g",
        "dried: 1.5 oz",
        "flush: 1",
        "lost: 0",
        "cause: green mould",
        "moved to: net-loft",
        "next:",
        "  - 2026-11-28 raise the duct's far end",
        "  - look at the damper: it sticks",
        "done: [soaked, 'turned, twice']",
        "photos:",
        "  - IMG_0533.jpg: pins: the shaded side",
        "  - bläue späte.heic",
    )
    assert () == read.problems
    assert {
        "about": (Ref("B-031"), Ref("PP-26A")),
        "stage": "fruiting",
        "harvest": 412,
        "dried": pytest.approx(42.5242846875),
        "flush": 1,
        "lost": 0,
        "cause": "green mould",
        "moved to": "net-loft",
        "next": (Next("raise the duct's far end", date(2026, 11, 28)), Next("look at the damper: it sticks", None)),
        "done": ("soaked", "turned, twice"),
        "photos": (("IMG_0533.jpg", "pins: the shaded side"), ("bläue späte.heic", None)),
    } == without_common(read.values)


def test_a_tent_entry_is_read() -> None:
    read = entry(
        "tent",
        "about: wash-house, net-loft",
        "humidity set point: 92",
        "humidity differential: 3 %",
        "temperature set point: 61 °F",
        "light: 06:30–18:30",
        "light colour: 6500",
        "exhaust: 2 min every 15 min",
        "humidity reading: 86 % RH",
        "temperature reading: 15,5 °C",
        "CO2 reading: 900 ppm",
        "door: open",
        "why: % humidity",
        "serviced:",
        "  - tank",
        "  - duct: far end raised",
        "tank fill: 5.6 l",
        "light level: 60 fc",
        "cost: £2.50",
    )
    assert () == read.problems
    assert {
        "about": ("wash-house", "net-loft"),
        "humidity set point": 92,
        "humidity differential": 3,
        "temperature set point": pytest.approx(16.1111, abs=1e-4),
        "light": LightHours(12, "06:30", "18:30"),
        "light colour": 6500,
        "exhaust": Exhaust("cycle", 2, 15),
        "humidity reading": 86,
        "temperature reading": 15.5,
        "co2 reading": 900,
        "door": "open",
        "why": "% humidity",
        "serviced": ("tank", "duct: far end raised"),
        "tank fill": pytest.approx(5600),
        "light level": pytest.approx(645.83, abs=0.01),
        "cost": Money(2.5, "£"),
    } == without_common(read.values)


def test_a_device_is_read() -> None:
    read = entry(
        "device",
        "id: fan-2",
        "tent: wash-house",
        "does: fan",
        "powered by: strip-1",
        "controlled by: [timer-1,  humid-1]",
    )
    assert () == read.problems
    assert {
        "tent": "wash-house",
        "does": "fan",
        "powered by": "strip-1",
        "controlled by": "timer-1, humid-1",
    } == without_common(read.values)


@pytest.mark.parametrize(
    ("kind", "line", "name", "value"),
    [
        ("tent", "light: 12:12", "light", LightHours(12)),
        ("note", "by: No", "by", "No"),
        ("note", "title: 2026-10-03", "title", "2026-10-03"),
        ("find", "title: Oyster #3", "title", "Oyster #3"),
        ("batch", "title: Block 3: first pins", "title", "Block 3: first pins"),
        ("find", "species: *Pleurotus*", "species", "*Pleurotus*"),
        ("tent", "why: % humidity", "why", "% humidity"),
        ("note", "harvest: 1,2 kg", "harvest", 1200),
        ("find", "habitat: [wet birch, alder]", "habitat", "wet birch, alder"),
        ("note", "moved to: [net-loft]", "moved to", "net-loft"),
        ("tent", "about: a, b, A, b", "about", ("a", "b", "A")),
        ("note", "about:\n  - B-1\n  - B-2.1, B-3", "about", (Ref("B-1"), Ref("B-2", 1), Ref("B-3"))),
        ("batch", "mix:\n  - oak 5 kg\n  - bran 1 kg", "mix", (MixPart("oak", 5000), MixPart("bran", 1000))),
        ("batch", "mix: water 1 kg, water 1 kg", "mix", (MixPart("water", 1000), MixPart("water", 1000))),
        ("note", "done: yes", "done", ("yes",)),
        ("note", "date: 2026-11-01 08:00Z", "date", datetime(2026, 11, 1, 8, tzinfo=UTC)),
    ],
)
def test_a_value_is_typed_by_its_key_and_never_guessed(kind: str, line: str, name: str, value: object) -> None:
    read = entry(kind, line).values[name]
    assert value == (read.moment if name == "date" else read)


def test_a_key_written_twice_is_wrong_and_the_first_is_used() -> None:
    read = entry("find", "id: F-1", "species: a", "SPECIES: b")
    assert ("a", [(5, "error")]) == (read.values["species"], told(read))


@pytest.mark.parametrize(
    ("kind", "line", "near"),
    [
        ("find", "speices: x", "species"),
        ("batch", "wet mas: 2 kg", "wet mass"),
        ("tent", "humidity setpoint: 92", "humidity set point"),
        ("tent", "light color: 6500", "light colour"),
        ("note", "harvested: 2 kg", "harvest"),
        ("culture", "medum: x", "medium"),
        ("note", "weight: 412 g", "harvest"),
        ("note", "yield: 412 g", "harvest"),
        ("note", "picked: 412 g", "harvest"),
        ("note", "fresh: 412 g", "harvest"),
        ("batch", "weight: 2.3 kg", "wet mass"),
        ("batch", "fresh: 2.3 kg", "wet mass"),
        ("batch", "rh: 92 %", "wants humidity"),
        ("batch", "temp: 16 °C", "wants temperature"),
        ("find", "temp: 16 °C", "weather"),
        ("tent", "CO2: 900 ppm", "co2 reading"),
        ("find", "sure: yes", "certainty"),
    ],
)
def test_an_unknown_key_is_wrong_and_names_the_nearest(kind: str, line: str, near: str) -> None:
    (problem,) = (problem for problem in entry(kind, line).problems if "is not a key" in problem.message)
    assert (3, "error", f"write {near}, if you mean that") == (problem.line, problem.severity, problem.fix)


def test_the_nearest_key_of_the_same_kind_comes_first() -> None:
    says = [p.fix for p in entry("device", "tents: x").problems if "is not a key" in p.message]
    assert ["write tent, if you mean that"] == says


@pytest.mark.parametrize(
    ("kind", "line", "fix"),
    [
        ("batch", "yield: 2 kg", "write wet mass for the substrate as bagged; what was picked goes into a note"),
        ("batch", "picked: 2 kg", "write wet mass for the substrate as bagged; what was picked goes into a note"),
        ("tent", "rh: 92 %", "write humidity reading for a manual reading, or humidity set point for a setting"),
        ("tent", "temp: 16 °C", "write temperature reading for a manual reading, or temperature set point"),
        ("note", "rh: 92 %", "a reading of the air goes into an entry of kind: tent"),
        ("note", "temp: 16 °C", "a reading of the air goes into an entry of kind: tent"),
        ("batch", "co2: 900 ppm", "a reading of the air goes into an entry of kind: tent"),
        ("find", "picked: 300 g", "write picked mass, if you mean that"),
        ("find", "altitude: 120 m", "write elevation, if you mean that"),
        ("tent", "tank: 5 l", "write tank fill, if you mean that"),
        ("tent", "electricity meter: 128 kWh", "write meter, if you mean that"),
        *((kind, "misted: twice", "`done` takes what was done: write done: misted") for kind in KINDS),
        *((kind, "tags: oyster", "no key takes tags: write the words into the text below") for kind in KINDS),
        *((kind, "notes: dry edges", "the text below the second --- takes this: move it there") for kind in KINDS),
        ("find", "humidity readings: 92", "remove it, or move it to the text below; `journal keys find` lists"),
        ("note", "wet mas: 2 kg", "remove it, or move it to the text below; `journal keys note` lists"),
    ],
)
def test_a_key_that_no_key_of_its_kind_means_is_told_what_takes_it(kind: str, line: str, fix: str) -> None:
    (problem,) = (problem for problem in entry(kind, line).problems if "is not a key" in problem.message)
    assert problem.fix.startswith(fix)


def test_a_key_like_none_is_not_said_to_be_near_one() -> None:
    (problem,) = (p for p in entry("find", "id: F-1", "xqz: 1").problems)
    assert "did you mean" not in problem.fix


def test_a_place_in_an_unknown_key_is_not_repeated() -> None:
    read = entry("find", "id: F-1", "58.30412, -8.90177: under the log")
    assert ["this is not a key of a find"] == [problem.message for problem in read.problems]


@pytest.mark.parametrize(
    "line",
    ["elevation: 58.30412, -8.90177", "id: 58.30412,-8.90177", "locality: 58° 18′ N", "certainty: 58,30412"],
)
def test_a_place_under_the_wrong_key_is_not_repeated(line: str) -> None:
    says = [problem.sentence for problem in entry("find", line).problems]
    assert not [sentence for sentence in says if "58" in sentence]
    assert any(f"{line.split(':')[0]}: it cannot be read" in sentence for sentence in says)


def test_many_unknown_keys_are_reported_in_a_few_lines() -> None:
    read = entry("find", "id: F-1", *(f"key{number}x: 1" for number in range(1000)))
    assert 21 == len(read.problems)


def test_a_key_of_another_kind_is_odd_and_not_used() -> None:
    read = entry("batch", "id: B-1", "harvest: 3 g", "humidity reading: 92 %")
    assert [(4, "warning"), (5, "warning")] == told(read)
    assert {"harvest", "humidity reading"}.isdisjoint(read.values)
    assert "harvest is a key of a note, not of a batch" == read.problems[0].message
    assert "remove it, or move it to the entry it belongs to" == read.problems[0].fix


def test_a_key_of_another_kind_names_the_key_that_means_the_same_here() -> None:
    read = entry("batch", "id: B-1", "from: PP-26A")
    assert ["write culture, if you mean that"] == [problem.fix for problem in read.problems]


@pytest.mark.parametrize(
    ("kind", "line", "near"),
    [
        ("find", "certainty: confrmed", "confirmed"),
        ("find", "locality: hiden", "hidden"),
        ("culture", "method: tisue", "tissue"),
        ("culture", "form: agr", "plate"),
        ("culture", "form: jar", "grain or liquid"),
        ("tent", "door: opend", "open"),
        ("find", "certainty: sure", "confirmed or likely"),
    ],
)
def test_an_unknown_word_is_wrong_and_names_the_nearest(kind: str, line: str, near: str) -> None:
    read = entry(kind, line)
    (problem,) = (problem for problem in read.problems if problem.line == 3)
    assert "error" == problem.severity
    assert problem.fix.startswith(f"write {near}, if you mean that")
    assert line.split(":")[0] not in read.values


def test_what_says_the_opposite_is_not_offered() -> None:
    (problem,) = (problem for problem in entry("culture", "id: A", "received from: x", "form: unplate").problems)
    assert "write one of plate" == problem.fix.partition(" ·")[0]
    assert "write one of open · shut" == next(p.fix for p in entry("tent", "about: hut", "door: unshut").problems)


@pytest.mark.parametrize(
    ("kind", "line", "value"),
    [
        ("culture", "form: agar", "plate"),
        ("culture", "form: petri", "plate"),
        ("culture", "form: Dish", "plate"),
        ("culture", "form: LC", "liquid"),
        ("culture", "form: syringe", "syringe"),
        ("culture", "form: plates", "plate"),
        ("culture", "method: clone", "tissue"),
        ("find", "certainty: not sure", "unsure"),
        ("find", "locality: secret", "hidden"),
        ("tent", "door: closed", "shut"),
    ],
)
def test_an_everyday_word_of_one_meaning_is_read(kind: str, line: str, value: str) -> None:
    read = entry(kind, "id: F-1" if kind in ("find", "culture") else "about: hut", line)
    assert (value, ()) == (read.values[line.partition(":")[0]], read.problems)


@pytest.mark.parametrize(
    ("written", "grams"),
    [
        ("2 kilos", 2000),
        ("2kg", 2000),
        ("2 KGS", 2000),
        ("3 pounds", 3 * 453.59237),
        ("3 lbs.", 3 * 453.59237),
        ("1 lb 4 oz", 20 * 28.349523125),
        ("1 lb, 4 oz", 20 * 28.349523125),
        ("1 pound and 4 ounces", 20 * 28.349523125),
    ],
)
def test_a_mass_is_read_as_people_write_it(written: str, grams: float) -> None:
    read = entry("note", "about: B-1", f"harvest: {written}")
    assert (pytest.approx(grams), ()) == (read.values["harvest"], read.problems)


@pytest.mark.parametrize("stage", ["pinning", "doubtful", "nothing there", "Put-Away", "faulty"])
def test_a_note_may_give_any_stage_that_there_is(stage: str) -> None:
    assert stage.lower().replace("-", " ") == entry("note", f"stage: {stage}").values["stage"]


@pytest.mark.parametrize(
    ("kind", "line", "severity"),
    [
        ("note", "harvest: 412", "error"),
        ("note", "harvest: 1,200 g", "warning"),
        ("note", "flush: 0", "error"),
        ("note", "lost: 1.5", "error"),
        ("note", "date: 2026-02-30", "error"),
        ("note", "date: 2026-10-25 01:30", "warning"),
        ("note", "moved to: the loft", "error"),
        ("note", "moved to: [a, b]", "error"),
        ("note", "next: 2026-11-28", "error"),
        ("batch", "units: 0", "error"),
        ("batch", "moisture: 86 %", "warning"),
        ("batch", "moisture: 85 %", ""),
        ("batch", "moisture: 99.9 %", "warning"),
        ("batch", "moisture: 100 %", "error"),
        ("batch", "moisture: 163 %", "error"),
        ("batch", "moisture: 0.62", "warning"),
        ("batch", "wet mass: 2.3", "error"),
        ("batch", "mix: oak 5 kg, bran", "error"),
        ("batch", "wants temperature: 15–22", "error"),
        ("culture", "from: PP 26A", "error"),
        ("culture", "master: perhaps", "error"),
        ("tent", "humidity reading: 120 %", "warning"),
        ("tent", "humidity set point: 0.92", "warning"),
        ("tent", "temperature reading: 61 °C", "warning"),
        ("tent", "temperature reading: 61 °F", ""),
        ("tent", "light colour: 65", "warning"),
        ("tent", "light: 12:30", "error"),
        ("find", "where: by the third alder", "error"),
        ("find", "title: a\x07b", "error"),
    ],
)
def test_a_value_that_cannot_be_used_is_reported_with_its_line_and_left_out(
    kind: str, line: str, severity: str
) -> None:
    read = entry(kind, line)
    of_line = [problem for problem in read.problems if problem.line == 3]
    name = line.split(":")[0]
    assert [severity] * bool(severity) == [problem.severity for problem in of_line]
    assert (severity != "error") == (name in read.values)
    assert 3 == read.lines[name]
    assert all(problem.message and problem.fix for problem in of_line)


def test_one_reference_that_cannot_be_read_costs_no_other() -> None:
    read = entry("note", "about:", "  - B-031", "  - the fan", "  - PP-26A")
    assert ((Ref("B-031"), Ref("PP-26A")), [(5, "error")]) == (read.values["about"], told(read))


def test_one_part_of_a_mix_that_cannot_be_read_costs_the_mix() -> None:
    assert "mix" not in entry("batch", "id: B-1", "mix: oak pellets 5 kg, some bran").values


def test_dry_basis_moisture_gets_its_hint() -> None:
    """Wet basis = dry basis / (1 + dry basis): 163 % dry-basis is 62 % wet-basis; 90 % is 47 %."""
    (problem,) = entry("batch", "id: B-1", "moisture: 90 %").problems
    assert "if it is dry-basis, write 47 %" == problem.fix


@pytest.mark.parametrize(
    "line",
    [
        "private:", "privat: yes", "private:yes", "Private: true", "private = yes", "private : yes", "private: maybe",
        "prviate: yes", "private\uff1ayes", " private: yes", "- private: yes", "private", "private yes",
        "PRIVATE: YES!", "privacy: yes", "secret: yes", "visibility: private", "share: no", "private: [yes, no]",
        "do not share: true",
        "keep-private: yes", "private: no\nprivate: yes", "private: yes\nprivate: no", "'private': yes", "private: >",
    ],
)  # fmt: skip
@pytest.mark.parametrize("kind", ["note", "find"])
def test_whatever_looks_like_a_wish_for_privacy_is_one(kind: str, line: str) -> None:
    read = entry(kind, *line.split("\n"))
    assert read.values["private"] is True
    if line not in ("Private: true", "private : yes", "'private': yes", "private: yes\nprivate: no"):
        told_of = [problem for problem in read.problems if COUNTS_AS_PRIVATE in problem.message]
        assert [True] * len(told_of) == [p.severity == "error" and p.line >= 3 and bool(p.fix) for p in told_of] != []


@pytest.mark.parametrize(
    "lines", [["private: no"], ["private : no"], ["Private: False"], ["privat: no"], ["private: no", "private: no"],
              ["title: Private land"], ["# private: yes"], ["share: yes"], ["price: 12"]],
)  # fmt: skip
def test_a_plain_no_and_other_words_are_no_wish_for_privacy(lines: list[str]) -> None:
    read = entry("note", *lines)
    assert not read.values.get("private")
    assert not [problem for problem in read.problems if COUNTS_AS_PRIVATE in problem.message]


@pytest.mark.parametrize(
    "text",
    [
        "---\nkind: note\nprivate:yes\n\nNo end of the front matter.\n",
        "---\nkind: note\n\nprivate: yes\n---\n",
        "---\nkind: note\n---\nprivate: yes\n---\nText.\n",
    ],
)
def test_a_private_below_the_front_matter_counts(text: str) -> None:
    assert draft(text).values["private"] is True


def test_no_other_key_is_taken_for_private() -> None:
    assert [] == [name for name in names_of() if name != "private" and is_like_private(name)]


def test_a_private_that_cannot_be_read_keeps_the_entry_private() -> None:
    read = entry("note", "private: perhaps")
    assert (True, [(3, "error")]) == (read.values["private"], told(read))


@pytest.mark.parametrize("kind", ["find", "note"])
def test_confirmed_by_nobody_is_odd_and_counts_as_likely(kind: str) -> None:
    read = entry(kind, "id: F-1" if kind == "find" else "about: F-1", "certainty: confirmed")
    assert ("likely", [(4, "warning")]) == (read.values["certainty"], told(read))
    named = entry(kind, "id: F-1" if kind == "find" else "about: F-1", "certainty: confirmed", "identified by: me, eye")
    assert ("confirmed", []) == (named.values["certainty"], told(named))


@pytest.mark.parametrize(
    "text",
    ["kind: find\nid: F-1\ncertainty: confirmed\nidentified by:", "kind: find\nid:", "kind:\nid: F-1"],
)
def test_a_line_that_is_there_and_empty_is_to_be_written_and_not_added(text: str) -> None:
    (problem,) = draft(f"---\n{text}\n---\n").problems
    assert problem.fix.startswith("write a line ")


@pytest.mark.parametrize(("text", "line"), [("id: F-1", 1), ("kind:\nid: F-1", 2), ("kind: fnid\nid: F-1", 2)])
def test_an_entry_without_a_readable_kind_has_none_and_says_so(text: str, line: str) -> None:
    read = draft(f"---\n{text}\ntitle: x\n---\n")
    assert (None, [(line, "error")]) == (read.kind, told(read))


def test_a_misspelled_kind_is_told_the_nearest() -> None:
    assert draft("---\nkind: fnid\n---\n").problems[0].fix.startswith("write find, if you mean that")
    assert draft("---\nkind: harvest\n---\n").problems[0].fix.startswith("write note, if you mean that")


@pytest.mark.parametrize(
    ("kind", "missing"), [("find", "id"), ("culture", "id"), ("batch", "id"), ("tent", "about"), ("device", "tent")]
)
def test_a_required_key_that_is_missing_is_wrong(kind: str, missing: str) -> None:
    says = [problem.message for problem in entry(kind).problems if problem.severity == "error"]
    assert f"a {kind} needs {missing}" in says


def test_a_required_key_that_cannot_be_read_is_reported_once() -> None:
    assert [(3, "error")] == told(entry("batch", "id: B 31"))


def test_a_note_need_not_say_what_it_is_about_by_itself() -> None:
    assert () == entry("note").problems


def test_a_draft_keeps_its_text_and_says_where_it_begins() -> None:
    read = draft("---\r\nkind: note\r\n---\r\nPins.\r\n\r\n::: private\r\nBehind the wall.\r\n")
    assert ("Pins.\n\n::: private\nBehind the wall.\n", 4) == (read.text, read.text_line)
    (problem,) = read.problems
    assert (6, "warning") == (problem.line, problem.severity)


def test_bytes_of_another_kind_are_no_entry_or_one_that_is_left_out() -> None:
    assert read_entry("a.md", b"", SETTINGS) is None
    assert read_entry("a.md", b"# Just notes\n", SETTINGS) is None
    illegible = draft(b"---\nkind: find\nplace: caf\xe9\n---\n")
    assert (None, {}, [(3, "error")]) == (illegible.kind, illegible.values, told(illegible))


def test_front_matter_never_closed_is_reported_and_its_keys_are_read() -> None:
    read = draft("---\nkind: find\nid: F-1\n\nUnder alders.\n")
    assert ("F-1", "\nUnder alders.\n", [(1, "error")]) == (read.values["id"], read.text, told(read))


UNKNOWN_KEY = "a key that nobody has {}: its value goes on\n"


@pytest.mark.parametrize(
    "shape",
    [
        filled("---\nkind: note\nabout: B-1\n---\n", "::: private\nword\n:::\n"),
        filled("---\nkind: note\nabout: ", "wash-house-of-the-laundry-porter, ", "\n---\n"),
        filled("---\nkind: note\nharvest: ", "1 ", "\n---\n"),
        filled("---\nkind: batch\nmix: ", "oak 5 ", "\n---\n"),
        lambda size: "".join(["---\nkind: note\n", *(UNKNOWN_KEY.format(n) for n in range(size // 44)), "---\n"]),
    ],
    ids=["text", "references", "number", "mix", "keys"],
)
def test_an_entry_as_large_as_one_may_be_is_read_in_one_go(shape: Callable[[int], str]) -> None:
    def read(text: str) -> None:
        assert draft(text).kind in KINDS

    read(shape(LARGEST_BYTES["entry"]))
    assert not grows_faster_than_a_scan(read, shape, LARGEST_BYTES["entry"] // (4 * TIMES))


@given(st.binary(max_size=200), st.sampled_from([b"", b"---\n", b"\xef\xbb\xbf---\r\nkind: batch\r\n"]))
def test_no_bytes_make_the_reader_stumble(data: bytes, head: bytes) -> None:
    read = read_entry("entry.md", head + data, SETTINGS)
    assert read is None or all(isinstance(problem, Problem) for problem in read.problems)


NAMES = sorted({name for kind in KINDS for name in KEYS[kind]})


@given(st.sampled_from(KINDS), st.lists(st.tuples(st.sampled_from(NAMES), st.text(max_size=30)), max_size=8))
def test_no_value_makes_the_reader_stumble(kind: str, pairs: list[tuple[str, str]]) -> None:
    read = entry(kind, *(f"{name}: {text}" for name, text in pairs))
    assert set(read.values) <= set(KEYS[kind])
    assert set(read.values) <= set(read.lines)
