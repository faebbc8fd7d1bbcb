"""What is on labels, and the pages at the addresses of earlier IDs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from journal.analysis.analysis import Analysis
from journal.model import Find, Ref
from journal.settings import LabelSettings
from journal.site.label_sheet import Printed
from journal.site.pages import plan_site
from journal.site.pages.indexes import Indexes
from journal.site.pages.lookup import Lookup
from journal.site.pages.printed_labels import names_a_place, parts_of, printed, printed_ahead
from tests.builders import find, journal_of

SITE = 'site_url = "https://journal.example/woods/"\n'
FILES = {
    "journal.toml": f'[journal]\n{SITE}[tents.hut]\nname = "Hut"\n',
    "f.md": "---\nkind: find\nid: F26-014\ndate: 2026-09-12 14:05\nspecies: Pleurotus cf. pulmonarius\n"
    "place: Alder Bank\nwhere: 58.30412, -8.90177\n---\n",
    "c.md": "---\nkind: culture\nid: PP-26A\ndate: 2026-09-13\nfrom: F26-014\nform: plate\nmedium: MEA\n"
    "vessels: 3\n---\n",
    "g.md": "---\nkind: culture\nid: PP-26A-2\ndate: 2026-10-01\nfrom: PP-26A.2\nform: grain\nmedium: rye\n---\n",
    "r.md": "---\nkind: culture\nid: CA-26R\ndate: 2026-10\nreceived from: the ferry baker\n"
    "species: poplar mushroom\n---\n",
    "b.md": "---\nkind: batch\nid: B-031\ndate: 2026-10-27\nculture: PP-26A-2\nunits: 4\ncontainer: bags\n"
    "substrate: oak pellets\nformerly: B-013\n---\n",
    "d.md": "---\nkind: device\nid: fan-1\ndate: 2026-01-02\ntent: hut\ndoes: fan\n---\n",
}


@pytest.fixture(scope="module")
def lookup(make_journal: Callable[..., Any]) -> Lookup:
    return Lookup(make_journal(FILES), {})


@pytest.mark.parametrize(
    ("ref", "expected"),
    [
        (Ref("F26-014"), {"species": "P. cf. pulmonarius", "is_latin": True, "date": "12 Sep 2026", "parents": ()}),
        (
            Ref("PP-26A", 2),
            {"steps": "T0", "parents": ("F26-014",), "part": "plate 2 of 3", "medium": "MEA, plate"},
        ),
        (Ref("PP-26A-2"), {"steps": "T1 G1", "parents": ("PP-26A.2",), "part": ""}),
        (Ref("CA-26R"), {"species": "poplar mushroom", "is_latin": False, "date": "Oct 2026", "origin": "received"}),
        (Ref("B-031", 2), {"parents": ("PP-26A-2",), "part": "bag 2 of 4", "medium": "oak pellets"}),
        (Ref("B-031"), {"part": "4 bags", "date": "27 Oct 2026", "is_confirmed": False}),
        (Ref("fan-1"), {"medium": "fan", "species": "", "is_confirmed": True}),
        (Ref("hut"), {"medium": "Hut", "date": ""}),
    ],
)
def test_what_is_on_a_label(lookup: Lookup, ref: Ref, expected: dict[str, Any]) -> None:
    label = printed(lookup, ref)
    assert {"id": str(ref), **expected} == {name: getattr(label, name) for name in ("id", *expected)}


def test_an_identity_that_is_confirmed_is_not_called_unconfirmed(make_journal: Callable[..., Any]) -> None:
    sure = FILES["f.md"].replace("where:", "certainty: confirmed\nidentified by: the ferry baker, spores\nwhere:")
    known = Lookup(make_journal({**FILES, "f.md": sure}), {})
    assert (True, True, False) == tuple(printed(known, Ref(id)).is_confirmed for id in ("F26-014", "B-031", "CA-26R"))
    other = FILES["g.md"].replace("form:", "species: Flammulina velutipes\nform:")
    known = Lookup(make_journal({**FILES, "f.md": sure, "g.md": other}), {})
    assert (True, False, False) == tuple(printed(known, Ref(id)).is_confirmed for id in ("PP-26A", "PP-26A-2", "B-031"))


@pytest.mark.parametrize(
    ("ref", "texts"),
    [
        (Ref("B-031", 2), ("https://journal.example/woods/batches/b-031/#2", "B-031.2")),
        (Ref("fan-1"), ("https://journal.example/woods/tents/hut/index.html#fan-1", "fan-1")),
    ],
)
def test_a_code_holds_the_address_and_where_that_is_too_long_the_id(
    lookup: Lookup, ref: Ref, texts: tuple[str, ...]
) -> None:
    assert texts == printed(lookup, ref).texts


def test_a_check_character_is_printed_where_it_is_wanted(lookup: Lookup) -> None:
    settings = replace(lookup.settings, site_url=None, labels=LabelSettings(has_check=True))
    assert Printed("B-031", ("B-031+X",), "+X") == printed_ahead("batch", "B-031", settings)
    assert Printed("B-031", ("B-031",)) == printed_ahead("batch", "B-031", replace(settings, labels=LabelSettings()))


@pytest.mark.parametrize("told", ["chips of Alder Bank", "chips, 58.30412, -8.90177", "rye\nfrom alder  bank"])
def test_no_label_reveals_a_place(make_journal: Callable[..., Any], told: str) -> None:
    line = " ".join(told.split())
    files = {path: text.replace("rye", line).replace("oak pellets", line) for path, text in FILES.items()}
    files["f.md"] = files["f.md"].replace("Pleurotus cf. pulmonarius", line)
    files["d.md"] = files["d.md"].replace("does: fan", f"does: {line}")
    found = Lookup(make_journal(files), {})
    labels = [printed(found, ref) for row in found.journal.by_id.values() for ref in (Ref(row.id), *parts_of(row))]
    assert 12 <= len(labels)
    for canary in ("Alder", "alder", "58.3", "-8.9", "ferry"):
        assert canary not in repr(labels)


@given(st.lists(st.text("ab é", min_size=1, max_size=4), max_size=6), st.text("ab é", max_size=12))
@example(["a", "a b", "é"], "b a c")
@example(["Straße"], "an der STRASSE")
def test_a_place_is_found_wherever_a_text_holds_it(places: list[str], text: str) -> None:
    journal = journal_of(*(find(f"F-{number}", place=place) for number, place in enumerate(places)))
    found = names_a_place(text.casefold(), Indexes(journal, Analysis(journal)).places)
    assert any(place.casefold() in text.casefold() for place in places) is found


def test_the_finds_are_looked_through_once_for_all_labels(lookup: Lookup) -> None:
    looked: list[int] = []

    class Counted(tuple[Find, ...]):
        def __iter__(self) -> Iterator[Find]:
            looked.append(1)
            return super().__iter__()

    own = Lookup(replace(lookup.journal, finds=Counted(lookup.journal.finds)), {})
    printed(own, Ref("B-031"))
    assert looked
    looked.clear()
    for part in (1, 2, 3, 4):
        printed(own, Ref("B-031", part))
    assert not looked


def test_each_unit_has_a_label_and_what_has_but_one_is_labelled_whole(lookup: Lookup) -> None:
    rows = lookup.journal.by_id
    assert tuple(Ref("B-031", part) for part in (1, 2, 3, 4)) == parts_of(rows["b-031"])
    assert ((Ref("PP-26A-2"),), (Ref("F26-014"),)) == (parts_of(rows["pp-26a-2"]), parts_of(rows["f26-014"]))


def test_the_address_of_an_earlier_id_leads_to_the_page_of_now(lookup: Lookup) -> None:
    pages = {page.path: page for page in plan_site(lookup.journal, {}).pages}
    moved, now = pages["batches/b-013/index.html"], pages["batches/b-031/index.html"]
    assert ("B-013", "B-031", "batches/b-031/index.html") == (
        moved.context["old"],
        moved.context["about"],
        moved.context["label"].address,
    )
    assert (now.section, now.growing) == (moved.section, moved.growing)  # so it is offline whenever the other is
    assert "batches/b-013/index.html" not in {page.path for page in plan_site(lookup.journal, {}, share="m").pages}


def test_an_id_that_was_printed_ahead_has_a_page_that_leads_to_record_until_it_is_taken_up(
    make_journal: Callable[..., Any],
) -> None:
    rows = (("culture", '"PP-26A", "PP-30", "Pp-30"'), ("device", '"D-9"'))
    ahead = "".join(f'[[reserved]]\nkind = "{kind}"\nids = [{ids}]\n' for kind, ids in rows)
    journal = make_journal({**FILES, "journal.toml": FILES["journal.toml"] + ahead})
    site = plan_site(journal, {})
    pages = {page.path: page for page in site.pages if page.template == "labels/set_aside.html"}
    assert ["cultures/pp-30/index.html"] == list(pages)
    page = pages["cultures/pp-30/index.html"]
    assert (True, "record/index.html?kind=new+culture&id=PP-30") == (page.growing, page.context["record"])
    index = "".join(text for path, text in site.texts if path.startswith("search/"))
    assert (1, 0) == (index.count('"cultures/pp-30/index.html"'), index.count("D-9"))
    shared = plan_site(journal, {}, share="m")
    assert not [page for page in shared.pages if "pp-30" in page.path]
    assert "PP-30" not in "".join(text for _, text in shared.texts)
