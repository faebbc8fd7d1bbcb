"""Records as entries, IDs and codes: the phone's side of tests/record_cases.json, which the reader's side reads."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator
from datetime import UTC
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from journal.analysis.limits import limit
from journal.analysis.progress import GROWING
from journal.geo.parse import distance_m, parse_position
from journal.reading.entries import read_entry
from journal.reading.keys import KEYS
from journal.reading.values import NOTATIONS
from journal.settings import Settings
from journal.site.pages.record import SENT_LIMITS
from tests.builders import examples

pytestmark = pytest.mark.browser

APART = {"kind", "id", "about", "date", "photos", "formerly"}
COMPUTER_ONLY = {"patch", "core log"}
CASES = json.loads((Path(__file__).parents[1] / "record_cases.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def page(browser: Any, recording_url: str) -> Iterator[Any]:
    context = browser.new_context()
    opened = context.new_page()
    opened.goto(recording_url)
    yield opened
    context.close()


def name_of(case: dict[str, Any]) -> str:
    return str(case["name"])


@pytest.mark.parametrize("case", CASES["records"], ids=name_of)
def test_a_record_is_written_as_the_reader_reads_it(page: Any, case: dict[str, Any]) -> None:
    write = "(record) => [new TextDecoder().decode(journalEntry.text(record)), journalEntry.folder(record)]"
    assert [case["entry"], case["folder"]] == page.evaluate(write, case["record"])


@pytest.mark.parametrize("case", CASES["ids"], ids=name_of)
def test_a_new_id_is_the_next_of_its_series(page: Any, case: dict[str, Any]) -> None:
    ask = """({ kind, today, ...context }) =>
      journalEntry.nextId(kind, { ...context, today: new Date(`${today}T12:00`) })"""
    assert case["id"] == page.evaluate(ask, case["context"])


@pytest.mark.parametrize("case", CASES["codes"], ids=lambda case: case["code"])
def test_the_phone_knows_the_receipt_code_of_a_part(page: Any, case: dict[str, Any]) -> None:
    assert case["code"] == page.evaluate("({ manifest, part }) => journalArchive.code(manifest, part)", case)


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("6GKN-NSQ2-SDGZ-T", "6GKN-NSQ2-SDGZ-T"),
        (" 6gkn nsq2 sdgz t\n", "6GKN-NSQ2-SDGZ-T"),
        ("6GKNNSQ2SDGZT", "6GKN-NSQ2-SDGZ-T"),
    ],
)
def test_a_code_is_read_as_people_type_it(page: Any, typed: str, code: str) -> None:
    assert code == page.evaluate("(typed) => journalArchive.typedCode(typed)", typed)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("6GKN-NSQ2-SDGZ-S", "is mistyped; compare it"),  # another check letter
        ("6GKN-NSQ2-SDZG-T", "is mistyped; compare it"),  # two letters exchanged
        ("6GKN-NSQ2-SDGZ-U", "is mistyped; compare it"),  # U is none of the letters
        ("6GKN-NSQ2-SDGZ", "A receipt code has 13 letters and digits; this has 12."),
        ("6GKN-NSQ2-SDGZ-TT", "A receipt code has 13 letters and digits; this has 14."),
        ("", "A receipt code has 13 letters and digits; this has 0."),
    ],
)
def test_what_is_wrong_with_a_code_is_said(page: Any, typed: str, says: str) -> None:
    fault = page.evaluate(
        "(typed) => { try { return journalArchive.typedCode(typed); } catch (error) { return error; } }", typed
    )
    assert says in str(fault)


def test_o_i_and_l_are_read_as_the_digits_they_look_like(page: Any) -> None:
    # Source: Crockford, Base 32: when decoding, O is 0, I and L are 1.
    with_both = next(case["code"] for case in CASES["codes"] if "0" in case["code"] and "1" in case["code"])
    for one in "il":
        typed = with_both.replace("0", "o").replace("1", one)
        assert with_both == page.evaluate("(typed) => journalArchive.typedCode(typed)", typed)


def test_each_kind_is_written_with_its_keys_in_the_order_of_the_format(page: Any) -> None:
    wanted = {kind: [key for key in KEYS[kind] if key not in APART] for kind in KEYS if kind != "device"}
    assert wanted == page.evaluate("() => journalEntry.KEYS")


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("412", 412), ("1.2", 1.2), ("1,2", 1.2), (" 0,125 ", 0.125), ("-4", -4), ("−4", -4), ("10,5", 10.5),
        ("1,200", None), ("12,000", None), ("1,2,3", None), ("1.200,5", None), ("", None), ("a", None), ("4 kg", None),
    ],
)  # fmt: skip
def test_a_decimal_comma_is_read_and_what_could_be_two_numbers_is_not(
    page: Any, typed: str, number: float | None
) -> None:
    assert number == page.evaluate("(typed) => journalEntry.number(typed)", typed)


@pytest.mark.parametrize(
    ("typed", "unit", "quantity"),
    [
        ("412", "g", "412 g"), ("1,2", "kg", "1.2 kg"), ("14,5oz", "g", "14.5 oz"), ("5 lb 2 oz", "g", "5 lb 2 oz"),
        ("92", "%", "92 %"), ("61 °F", "°C", "61 °F"), ("1,200 g", "g", None), ("many", "g", None), ("", "g", None),
    ],
)  # fmt: skip
def test_a_unit_is_added_where_none_was_typed(page: Any, typed: str, unit: str, quantity: str | None) -> None:
    assert quantity == page.evaluate("([typed, unit]) => journalEntry.quantity(typed, unit)", [typed, unit])


# -- what can hardly be so -------------------------------------------------------------------------------------

BAGS = {"kind": "batch", "units": 4, "unit": "bag", "wet_g": 3450, "gone": {"3": "2026-10-28"}}
LIMITS = {name: [limit(name).low, limit(name).high] for name in SENT_LIMITS}
DOUBTS = [
    ({"harvest": "90000 g"}, [["harvest", "90000 g is more than the 4 bags weighed wet (13.8 kg)."]]),
    ({"harvest": "13.8 kg"}, []),
    ({"harvest": "31 lb"}, [["harvest", "31 lb is more than the 4 bags weighed wet (13.8 kg)."]]),
    ({"harvest": "3460 g", "about": "B-001.2"}, [["harvest", "3460 g is more than the bag weighed wet (3.45 kg)."]]),
    ({"harvest": "90 kg", "about": "B-002"}, []),
    ({"harvest": "0.62 g", "bare": "harvest"},
     [["harvest", "Read as 0.62 g, since no unit was typed. Or is it 0.62 kg?"]]),
    ({"harvest": "0.62 g"}, []),
    ({"harvest": "412 g", "bare": "harvest"}, []),
    ({"harvest": "0 g", "bare": "harvest"}, []),
    ({"picked mass": "0.3 oz", "bare": "picked mass"},
     [["picked mass", "Read as 0.3 oz, since no unit was typed. Or is it 0.3 lb?"]]),
    ({"wet mass": "2300 kg", "bare": "wet mass"},
     [["wet mass", "Read as 2300 kg, since no unit was typed. Or is it 2300 g?"]]),
    ({"harvest": "120000 g", "bare": "harvest", "about": "B-002"},
     [["harvest", "Read as 120000 g, since no unit was typed."]]),
    ({"wet mass": "0.005 kg", "bare": "wet mass"}, [["wet mass", "Read as 0.005 kg, since no unit was typed."]]),
    ({"wet mass": "2.3 kg", "bare": "wet mass"}, []),
    ({"humidity reading": "890 %"}, [["humidity reading", "890 % is outside 10 to 100 %."]]),
    ({"humidity set point": "0.92 %"}, [["humidity set point", "0.92 % is outside 10 to 100 %."]]),
    ({"humidity reading": "100 %", "humidity differential": "5 %"}, []),
    ({"temperature reading": "61 °F"}, []),
    ({"temperature reading": "61 °C"}, [["temperature reading", "61 °C is outside −10 to 45 °C."]]),
    ({"temperature reading": "-61 °C"}, [["temperature reading", "−61 °C is outside −10 to 45 °C."]]),
    ({"temperature set point": "161 °F"}, [["temperature set point", "161 °F is outside 14 to 113 °F."]]),
    ({"harvest": "412 g", "about": "B-001.3"}, [["part", "B-001.3 was lost on 28 Oct, before this."]]),
    ({"lost": "1", "about": "B-001.3"}, [["part", "B-001.3 was lost on 28 Oct, before this."]]),
    ({"lost": "1", "about": "B-001.3", "date": "2026-10-28"}, []),
    ({"harvest": "412 g", "about": "B-001.3", "date": "2026-10-20 10:00+00:00"}, []),
    ({"stage": "pinning", "about": "B-003.1"}, [["part", "B-003 was lost on 2 Jan 2025, before this."]]),
    ({"moved to": "hut", "about": "B-003"}, [["moved to", "B-003 was lost on 2 Jan 2025, before this."]]),
    ({"stage": "contaminated", "about": "B-003"}, []),
    ({"date": "2027-01-05 12:00+01:00"}, [["when", "2027-01-05 12:00 is in the future by this device’s clock."]]),
    ({"date": "2026-12-01"}, [["when", "2026-12-01 is in the future by this device’s clock."]]),
    ({"date": "2026-11-30"}, []),
    ({"date": "long ago", "harvest": "412 g", "about": "B-001.3"}, []),
    ({"date": None, "stage": "pinning", "about": "B-003"}, []),
]  # fmt: skip


@pytest.fixture(scope="module")
def doubting(page: Any) -> Any:
    page.add_script_tag(url="static/js/record-doubts.js")
    return page


@pytest.mark.parametrize(("entered", "doubts"), DOUBTS, ids=lambda case: " ".join(map(str, case))[:60])
def test_what_can_hardly_be_so_is_doubted_and_says_why(
    doubting: Any, entered: dict[str, Any], doubts: list[list[str]]
) -> None:
    values = {key: value for key, value in entered.items() if key not in ("about", "date", "bare")}
    record = {
        "about": [entered.get("about", "B-001")],
        "date": entered.get("date", "2026-11-30 12:00+00:00"),
        "values": values,
    }  # fmt: skip
    gone = {**BAGS, "gone": {"": "2025-01-02"}}
    unweighed = {key: value for key, value in BAGS.items() if key != "wet_g"}
    known = {
        "units": "metric", "limits": LIMITS, "growing": [*GROWING],
        "ids": {"B-001": BAGS, "B-002": unweighed, "B-003": gone},
    }  # fmt: skip
    ask = "([record, known, bare]) => journalDoubts.of(record, known, bare, new Date('2026-11-30T13:00:00Z'))"
    assert doubts == doubting.evaluate(ask, [record, known, [entered.get("bare", "")]])


def test_of_a_journal_that_tells_no_limits_nothing_is_doubted_by_them(doubting: Any) -> None:
    ask = "(record) => journalDoubts.of(record, { ids: {} }, ['harvest'], new Date('2026-11-30T13:00:00Z'))"
    record = {"about": ["B-1"], "date": "2026-11-30", "values": {"harvest": "0.4 g", "humidity reading": "890 %"}}
    assert [] == doubting.evaluate(ask, record)


@pytest.mark.parametrize(
    ("lat", "lon", "accuracy", "us", "where"),
    [
        (58.304123, -8.901771, 7.2, False, "58.30412, -8.90177 ±8 m"),
        (58.304123, -8.901771, 7.2, True, "58.30412, -8.90177 ±24 ft"),
        (58.3041234, -8.9017706, 1.4, False, "58.304123, -8.901771 ±2 m"),
        (-0.000001, 0.000001, 12, False, "0.00000, 0.00000 ±12 m"),
        (58.3, 180, None, False, "58.30000, 180.00000"),
        (58.3, 180, None, True, "58.30000, 180.00000"),
    ],
)
def test_a_position_has_the_decimals_its_accuracy_is_worth(
    page: Any, lat: float, lon: float, accuracy: float | None, us: bool, where: str
) -> None:
    """1 ft = 0.3048 m exactly (NIST SP 811, 2008, appendix B.8)."""
    given = {"lat": lat, "lon": lon, "accuracy": accuracy}
    assert where == page.evaluate("([given, us]) => journalEntry.position(given, us)", [given, us])


@pytest.mark.parametrize(
    ("zone", "moment", "stamp"),
    [
        ("Europe/London", "2026-11-25 14:03+00:00", "2026-11-25T14:03:22+00:00"),
        ("Asia/Kolkata", "2026-11-25 19:33+05:30", "2026-11-25T19:33:22+05:30"),
        ("America/St_Johns", "2026-11-25 10:33-03:30", "2026-11-25T10:33:22-03:30"),
        ("Pacific/Auckland", "2026-11-26 03:03+13:00", "2026-11-26T03:03:22+13:00"),
    ],
)
def test_times_are_the_device_s_with_their_offset(
    browser: Any, recording_url: str, zone: str, moment: str, stamp: str
) -> None:
    context = browser.new_context(timezone_id=zone)
    page = context.new_page()
    page.goto(recording_url)
    ask = "(iso) => [journalEntry.moment(new Date(iso)), journalEntry.stamp(new Date(iso))]"
    assert [moment, stamp] == page.evaluate(ask, "2026-11-25T14:03:22Z")
    context.close()


def test_an_id_that_is_used_already_becomes_the_next_free_one(page: Any) -> None:
    after = "([id, used]) => journalEntry.after(id, used)"
    assert "F26-015-K7Q4" == page.evaluate(after, ["F26-015-K7Q4", ["F26-014"]])
    assert "F26-017-K7Q4" == page.evaluate(after, ["F26-015-K7Q4", ["f26-015-k7q4", "F26-016-K7Q4"]])
    assert "PP-26A-10-K7Q4" == page.evaluate(after, ["PP-26A-9-K7Q4", ["PP-26A-9-K7Q4"]])
    # what begins a line has no ID within another
    assert "PP-26B-K7Q4" == page.evaluate(after, ["PP-26A-K7Q4", ["PP-26A-K7Q4"]])
    assert "B-K7Q5" == page.evaluate(after, ["B-K7Q4", ["B-K7Q4"]])
    assert "Oyster-1" == page.evaluate(after, ["Oyster", ["Oyster"]])


# Any record, written in the browser and read by the program

PIECES = (
    *"abc ÅÖ\t\n\r\"'[]{}()|><#:-*&%@`~,.=?\\/_0",
    "\x00", "\x1b", "\x85", "\xa0", "\u2028", "\u202e", "\uffff",
    "e\u0301", "😀", ": ", " #", "- ", "---", "~~~", "null", "yes", "2026-11-25", "12:12", "<b>", "&amp;", "B-031",
)  # fmt: skip
LIKE_YAML = (
    "[a]", "[a", "'a'", "'a", '"a"', '"', "|", ">-", "|2 # a", "{a: b}", "a: b", "&a b", "*a", "!!x y", "# a",
    "- a", "---",
)  # fmt: skip
words_typed = st.lists(st.sampled_from(PIECES), max_size=12).map("".join) | st.sampled_from(LIKE_YAML)


def on_one_line(typed: str) -> str:
    """A value as the front matter can hold it: control characters and separators of lines are spaces."""
    spaced = re.sub(r"\s*[\x00-\x1f\x7f-\x9f\u2028\u2029\ufffe\uffff]+\s*", " ", typed)
    return unicodedata.normalize("NFC", spaced).strip()


def record_of(kind: str, values: dict[str, Any], text: str = "") -> dict[str, Any]:
    about = {"note": ["B-031.2", "PP-26A"], "tent": ["wash-house"]}.get(kind, [])
    named = {"kind": kind, "id": None if about else "F26-015-K7Q4", "about": about, "date": "2026-11-25 14:03+00:00"}
    return {"record": "0f3c9a13-5b1e-4c07-9d52-7a1c6e0b4000", **named, "values": values, "text": text, "photos": []}


@st.composite
def records(draw: st.DrawFn) -> tuple[dict[str, Any], dict[str, Any]]:
    """A record as the page makes it, and what is to be read of it."""
    kind = draw(st.sampled_from([kind for kind in KEYS if kind != "device"]))
    keys = [key for key in KEYS[kind].values() if key.name not in {*APART, *COMPUTER_ONLY}]
    values, wanted = {}, {"kind": kind}
    for key in draw(st.lists(st.sampled_from(keys), unique_by=lambda key: key.name)):
        if key.notation != "text" or key.words:
            word = "likely" if key.name == "certainty" else next(iter(key.words), None)
            typed = word or NOTATIONS[key.notation].example
            read = NOTATIONS[key.notation].read(typed, key, UTC).value
        elif key.several:
            typed = draw(st.lists(words_typed, max_size=3))
            read = tuple(filter(None, map(on_one_line, typed)))
        else:
            typed = draw(words_typed)
            read = on_one_line(typed)
        values[key.name] = typed
        wanted |= {key.name: (read,) if key.several and not isinstance(read, tuple) else read} if read else {}
    return record_of(kind, values, draw(words_typed.filter(lambda text: ":::" not in text))), wanted


@example((record_of("note", {"done": list(LIKE_YAML)}), {"kind": "note", "done": LIKE_YAML}))
@example((record_of("find", {"title": "[a]", "by": "'a"}), {"kind": "find", "title": "[a]", "by": "'a"}))
@examples(60)
@given(records())
def test_whatever_is_typed_is_read_as_it_was_typed(page: Any, made: tuple[dict[str, Any], dict[str, Any]]) -> None:
    record, wanted = made
    written = page.evaluate("(record) => new TextDecoder().decode(journalEntry.text(record))", record)
    draft = read_entry("finds/a/find.md", written.encode(), Settings())
    assert draft is not None
    assert wanted == {key: value for key, value in draft.values.items() if key not in ("id", "about", "date")}
    assert ("id" in draft.values, "about" in draft.values) == (bool(record["id"]), bool(record["about"]))
    assert () == tuple(one for one in draft.problems if "no `from`" not in one.message), written
    lines = [line.rstrip() for line in re.split(r"\r\n?|[\n\x85\u2028\u2029]", record["text"])]
    shown = unicodedata.normalize("NFC", re.sub(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", " ", "\n".join(lines)))
    assert [line.rstrip() for line in shown.split("\n") if line.strip()] == [
        line.rstrip() for line in draft.text.split("\n") if line.strip()
    ]


def beside(edges: list[float], most: float) -> st.SearchStrategy[float]:
    near = st.builds(
        lambda edge, hair: max(-most, min(most, edge + hair)), st.sampled_from(edges), st.floats(-1e-5, 1e-5)
    )
    return st.floats(-most, most) | near


@examples(5)
@given(
    st.lists(
        st.fixed_dictionaries(
            {
                "lat": beside([-90.0, -60.0, 0.0, 84.0, 90.0], 90),
                "lon": beside([-180.0, -9.0, 0.0, 180.0], 180),
                "accuracy": st.none() | st.floats(0.1, 1e6),
            }
        ),
        min_size=20,
    )
)
def test_a_position_is_read_as_the_device_gave_it(page: Any, given: list[dict[str, Any]]) -> None:
    written = page.evaluate("(rows) => rows.map((row, at) => journalEntry.position(row, at % 2 === 1))", given)
    for row, text in zip(given, written, strict=True):
        place = parse_position(text)
        away_m = distance_m(row["lat"], row["lon"], place.lat_deg, place.lon_deg)
        assert away_m <= (0.11 if (row["accuracy"] or 9) < 2 else 1.0)  # half a step of the last digit, in both axes
        assert (place.uncertainty_m or 0) >= (row["accuracy"] or 0)
