"""The pages of a share, where they differ from its author's own."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from journal.cache.static_files import NOT_IN_A_SHARE, static_files
from journal.model import Entry, Journal, Note
from journal.site.addresses import NEAR_SPOTS
from journal.site.app import AUTHORS_OWN, ROUTES, create_app, not_in_a_share
from journal.site.build.freezing import compare_with_plan
from journal.site.pages import plan_site
from journal.site.pages.share_pages import ENTRIES, READ_ME, fingerprint
from journal.site.plan import Site
from tests.builders import batch, some
from tests.site.test_pages import OF_LONG_LISTS, TEMPLATES, WOOD, Rendered, published

STATIC = Path(__file__).parents[3] / "static"
KEY, KEYED = "0123456789", b"of this share"
LATER = "---\nkind: note\nabout: B-031\ndate: 2026-11-20\nstage: pinning\ntitle: Third pins\n---\n"


class SharedSite(Rendered):
    def __init__(self, site: Site) -> None:
        self.site = site
        self.client = create_app(site.pages, TEMPLATES, AUTHORS_OWN).test_client()

    @property
    def texts(self) -> dict[str, str]:
        return dict(self.site.texts)

    @property
    def entries(self) -> list[list[Any]]:
        """The rows that a reader's device is handed."""
        found = re.fullmatch(r"journalEntries\((\[.*\])\);\n", self.texts[ENTRIES], re.DOTALL)
        assert found is not None
        rows: list[list[Any]] = json.loads(found[1])
        return rows


@pytest.fixture(scope="module")
def share(make_journal: Callable[..., Journal]) -> Callable[..., SharedSite]:
    """Called with files on top of WOOD (and photos) it gives the site of a share that holds all of it."""

    def make(files: Mapping[str, str] | None = None, photos: Mapping[str, Any] | None = None) -> SharedSite:
        journal = replace(make_journal({**WOOD, "later.md": LATER, **(files or {})}, photos or {}), problems=())
        return SharedSite(plan_site(journal, published(*(photos or {})), KEY))

    return make


@pytest.fixture(scope="module")
def shared(share: Callable[..., SharedSite]) -> SharedSite:
    return share()


def test_it_is_the_same_site_without_mending(shared: SharedSite) -> None:
    without = not_in_a_share(shared.site.pages)
    assert AUTHORS_OWN <= without
    assert {endpoint for endpoint, _ in ROUTES} - without - OF_LONG_LISTS == {
        page.endpoint for page in shared.site.pages
    }
    compare_with_plan(create_app(shared.site.pages, TEMPLATES, without), shared.site.pages)
    for page in shared.site.pages:
        answer = shared.client.get("/" + page.path.removesuffix("index.html"))
        assert (200, False, False) == (answer.status_code, "device/problems" in answer.text, "record/" in answer.text)


def test_a_share_says_what_is_missing_and_not_what_its_author_could_write(
    share: Callable[..., SharedSite], make_journal: Callable[..., Journal]
) -> None:
    spawned = WOOD["batches/B-031/batch.md"].replace("units: 4", "units: 4\nspawn mass: 200 g")
    unknown = "---\nkind: batch\nid: B-040\nculture: PP-26A\nunits: 2\nmix: alder bark 2 kg\ndate: 2026-10-06\n---\n"
    exhaust = "---\nkind: tent\nabout: wash-house\nexhaust: every 15 min\ndate: 2026-10-20\n---\n"
    files = {"batches/B-031/batch.md": spawned, "x.md": unknown, "t.md": exhaust}
    pages = ("batches/b-031/", "batches/b-040/", "tents/wash-house/")
    for path in pages:
        words = share(files).words(path)
        assert "journal.toml" not in words
        assert not re.search(r"\b[Ww]rite\b", words), path
    own = Rendered(plan_site(make_journal({**WOOD, **files}), {}))
    assert all("journal.toml" in own.words(path) for path in pages[:2])
    for said in ("the dry share of the spawn is not known.", "in the mix is not known."):
        assert said in " ".join(map(share(files).words, pages))


def test_the_days_of_a_batch_speak_for_the_share_alone(
    shared: SharedSite, make_journal: Callable[..., Journal]
) -> None:
    none = "No other batch of its line or species is finished"
    assert f"{none} in this share, so there is nothing" in shared.words("batches/b-031/")
    assert f"{none}, so there is nothing" in Rendered(plan_site(make_journal(WOOD), {})).words("batches/b-031/")


def test_no_page_may_reach_a_host(shared: SharedSite) -> None:
    for page in some(shared.site.pages, 10):
        policy = shared[page.path.removesuffix("index.html")].head.meta["content"]
        assert "connect-src 'none'" in policy
        assert "worker-src" not in policy


def test_nothing_in_it_is_for_a_phone_to_hold_it_by(shared: SharedSite) -> None:
    assert {ENTRIES, READ_ME, NEAR_SPOTS} == {path for path in shared.texts if not path.startswith("search/")}
    named = {
        tag.get("src") or tag["href"]
        for page in shared.site.pages
        for tag in shared[page.path.removesuffix("index.html")].select("script[src], link[href]")
    }
    files = {re.sub(r"^(\.\./|\./)*", "", name) for name in named}
    statics = {name.removeprefix("static/") for name in files if name.startswith("static/")}
    assert set() == set(some(statics)) & NOT_IN_A_SHARE
    copies, texts = static_files(STATIC.parent, is_share=True)
    assert set() == statics - {name.removeprefix("static/") for name in (*copies, *texts)}
    assert {ENTRIES, NEAR_SPOTS} == files - {f"static/{name}" for name in statics}
    assert [] == shared["batches/b-031/"].select("[data-pack], [data-update]")


def test_what_is_not_in_a_share_is_there_on_the_shelf() -> None:
    assert [] == [name for name in some(NOT_IN_A_SHARE) if not (STATIC / name).is_file()]


def test_no_script_of_recording_is_in_a_share() -> None:
    assert set() == {f"js/{script.name}" for script in (STATIC / "js").glob("record*.js")} - NOT_IN_A_SHARE


@pytest.mark.parametrize(
    ("path", "called"),
    [
        ("finds/f26-001/", "F26-001"),
        ("cultures/pp-26a/", "PP-26A"),
        ("batches/b-031/", "B-031"),
        ("batches/b-031/", "B-031, 27 October 2026"),
        ("batches/b-031/", "B-031, 1 November 2026, the second of that day"),
        ("tents/wash-house/power/", "fan-1"),
        ("tents/wash-house/history/", "wash-house, 20 October 2026"),
        ("diary/2026-10/", "B-031, 27 October 2026"),
    ],
)
def test_every_entry_has_its_address_beside_it_and_can_be_asked_about(
    shared: SharedSite, path: str, called: str
) -> None:
    (row,) = (row for row in shared[path].select(".reference") if row.span.get_text() == called)
    assert row.button["data-ask"].startswith(f"About {called} in Woods\n")
    assert row.button.has_attr("hidden")  # shown by the script, without which it does nothing


def test_every_address_to_ask_about_leads_to_something(shared: SharedSite) -> None:
    tried = 0
    for page in shared.site.pages:
        for button in shared[page.path.removesuffix("index.html")].select("[data-ask]"):
            address = button["data-ask"].split("\n")[2]
            path, _, anchor = address.partition("#")
            there = shared[path.removesuffix("index.html")]
            assert anchor == "" or there.find(id=anchor) is not None, address
            tried += 1
    assert tried > 10


def test_the_authors_own_pages_ask_nothing_and_look_back_on_nothing(make_journal: Callable[..., Journal]) -> None:
    own = Rendered(plan_site(make_journal(WOOD), {}))
    for page in some(own.site.pages, 10):
        assert [] == own[page.path.removesuffix("index.html")].select("[data-ask], [data-since], .reference")


def test_the_first_page_has_what_is_new_then_what_grows_with_its_run(shared: SharedSite) -> None:
    page = shared[""]
    assert "Woods" == page.h1.get_text()
    heads = [head.get_text() for head in page.select("main h2")]
    assert ["New since your last visit", "Growing"] == heads[:2]
    assert KEY == page.select_one("[data-since]")["data-since"]
    (timeline,) = page.select("a[href$='batches/b-031/index.html#timeline']")
    assert "timeline" in timeline.get_text()
    assert shared["batches/b-031/"].find(id="timeline") is not None


def test_without_scripts_the_first_page_says_where_the_latest_stands(shared: SharedSite) -> None:
    says = shared[""].select_one("[data-since-status]").get_text()
    assert "The latest entries are below" in says


def test_a_device_is_handed_every_entry_newest_first(share: Callable[..., SharedSite]) -> None:
    pins = LATER.replace("stage: pinning\n", "stage: pinning\nphotos: p.jpg\n")
    shared = share({"later.md": pins}, {"p.jpg": {"width": 960, "height": 720}})
    address, print_, *rest = shared.entries[0]
    assert "batches/b-031/index.html#2026-11-20" == address
    assert re.fullmatch("[0-9a-f]{10}", print_)
    small = "photos/2026-11/p0-320.webp"
    page = "batches/b-031/index.html"
    assert ["B-031", page, "2026-11-20", "20 November 2026", "pinning, Third pins", small] == rest
    assert len(list(WOOD)) == len(shared.entries)  # all but journal.toml, and one more
    assert len({row[0] for row in shared.entries}) == len(shared.entries)


def test_the_same_share_planned_twice_is_the_same(share: Callable[..., SharedSite]) -> None:
    one, two = share().site, share().site
    assert one.texts == two.texts
    assert [page.digest("1") for page in one.pages] == [page.digest("1") for page in two.pages]


@pytest.fixture(scope="module")
def note(make_journal: Callable[..., Journal]) -> Note:
    (found,) = (one for one in make_journal({**WOOD, "later.md": LATER}).notes if one.path == "later.md")
    return found


@pytest.mark.parametrize("change", [{"text": "More."}, {"stage": "fruiting"}, {"harvest_g": 12.0}, {"title": "Pins"}])
def test_an_entry_that_changed_has_another_fingerprint(note: Note, change: dict[str, Any]) -> None:
    assert fingerprint(note, KEYED) != fingerprint(replace(note, **change), KEYED)


def test_where_an_entry_lies_is_not_a_change(note: Note) -> None:
    assert fingerprint(note, KEYED) == fingerprint(replace(note, path="elsewhere.md", lines={"title": 9}), KEYED)


def test_a_batch_has_not_changed_because_the_journal_goes_on() -> None:
    one = batch("B-1", units=4, known_until=date(2026, 11, 20))
    assert fingerprint(one, KEYED) == fingerprint(replace(one, known_until=date(2026, 11, 21)), KEYED)
    assert fingerprint(one, KEYED) != fingerprint(replace(one, units=5), KEYED)


def test_a_fingerprint_is_another_under_another_key(note: Note) -> None:
    assert fingerprint(note, KEYED) != fingerprint(note, b"of another share")


def test_what_holds_its_usual_value_is_in_no_fingerprint(note: Note, monkeypatch: pytest.MonkeyPatch) -> None:
    """So a field that comes new to the model marks no entry as changed."""
    from journal.site.pages import share_pages

    before = fingerprint(note, KEYED)
    usual = {one.name for one in fields(note) if one.name in ("harvest_g", "cause", "moved_to", "private")}
    monkeypatch.setattr(share_pages, "fields", lambda row: [one for one in fields(row) if one.name not in usual])
    assert before == fingerprint(note, KEYED)


def test_a_text_beside_the_pages_says_how_to_open_them(shared: SharedSite) -> None:
    text = shared.texts[READ_ME]
    assert text.startswith("Woods\n")
    words = " ".join(text.split())
    for said in ("Unpack all of it", "index.html", "it works offline", '"not shared"', '"B-031, 20 November 2026"'):
        assert said in words
    assert max(map(len, text.split("\n"))) <= 90


def test_an_empty_share_has_its_pages(make_journal: Callable[..., Journal]) -> None:
    empty = SharedSite(plan_site(make_journal({}), {}, KEY))
    assert [] == empty.entries
    assert "0 entries in total" in empty.words("device/")


def test_every_kind_of_entry_can_be_fingerprinted(make_journal: Callable[..., Journal]) -> None:
    entries: list[Entry] = list(make_journal(WOOD).entries())
    assert len(entries) == len({fingerprint(entry, KEYED) for entry in entries})


@pytest.fixture(scope="module")
def cut(make_journal: Callable[..., Journal]) -> SharedSite:
    """A share in which a culture's parent, and the culture of a batch, are kept back."""
    whole = make_journal(WOOD)
    cultures = [replace(one, sources=(), unknown_sources=1, unshared_sources=1) for one in whole.cultures]
    other = replace(
        whole.batches[0], id="B-040", path="o.md", cultures=(), unknown_sources=1, unshared_sources=1, tent=None
    )
    journal = replace(whole, finds=(), cultures=tuple(cultures), batches=(*whole.batches, other), problems=())
    return SharedSite(plan_site(journal, {}, KEY))


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("cultures/pp-26a/", "From something that is not shared ."),
        ("cultures/pp-26a/", "Where it came from is not shared."),
        ("batches/b-040/", "From a culture that is not shared ."),
        ("batches/b-040/", "Where it came from is not shared."),
        ("batches/b-031/", "Where it came from is not shared."),
    ],
)
def test_a_parent_that_is_kept_back_is_shown_as_not_shared(cut: SharedSite, path: str, says: str) -> None:
    assert says in cut.words(path)


def test_a_parent_that_nobody_knows_is_not_called_kept_back(make_journal: Callable[..., Journal]) -> None:
    lost = "---\nkind: culture\nid: PP-26A\nreceived from: unknown\ndate: 2026-09-13\n---\n"
    site = Rendered(plan_site(make_journal({**WOOD, "cultures/PP-26A.md": lost}), {}))
    for path in ("cultures/pp-26a/", "batches/b-031/"):
        assert "not shared" not in site.words(path)
        assert "not known well enough to say" in site.words(path)
