"""The address of every page and picture, relative to the site's root; each names an exact file.

The page of an ID never moves, because printed labels point to it. The four folders of IDs hold only pages of IDs, and
one page whose name no ID may have.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from journal.model import Batch, Culture, Device, Entry, Find, Journal, Note, Photo, TentEntry
from journal.settings import Tent

NOW = "index.html"
FINDS = "finds/index.html"
PATCHES = "patches/index.html"
NEAR = "near-me/index.html"
NEAR_SPOTS = "near-me/spots.js"
"""A classic script with the places of finds and patches; a share has it only if it shows places."""
CULTURES = "cultures/index.html"
COMPARE = "cultures/compare/index.html"
BATCHES = "batches/index.html"
PLAN = "plan/index.html"
LOSSES = "losses/index.html"
COSTS = "costs/index.html"
TENTS = "tents/index.html"
DIARY = "diary/index.html"
CALCULATORS = "calculators/index.html"
DEVICE = "device/index.html"
PROBLEMS = "device/problems/index.html"
FORMAT = "device/format/index.html"
SAFETY = "device/safety/index.html"
RECORD = "record/index.html"
OUTBOX = "record/outbox/index.html"
LABELS = "labels/index.html"
DUE = "due/index.html"

Named = Find | Culture | Batch | Device | Tent

_FOLDERS: dict[type, str] = {Find: "finds", Culture: "cultures", Batch: "batches", Tent: "tents"}
_FOLDERS_OF_KINDS = {"find": "finds", "culture": "cultures", "batch": "batches"}


def page_of(row: Named) -> str:
    """The page of a row with an ID. A device is in the tree of its tent, or on the list of tents if it has none."""
    if isinstance(row, Device) and not row.tent:
        return f"{TENTS}#{row.id.lower()}"
    if isinstance(row, Device):
        return f"{power_of(row.tent)}#{row.id.lower()}"
    return f"{_FOLDERS[type(row)]}/{row.id.lower()}/index.html"


def printed_page_of(row: Named) -> str:
    """The page that a label names. That of a device is its tent's, which leads on to the device."""
    if isinstance(row, Device) and row.tent:
        return f"tents/{row.tent.lower()}/index.html#{row.id.lower()}"
    return page_of(row)


def entries_page_of(row: Named) -> str:
    """The page with the dated entries about a row: its own, but a tent's history for a tent and for what is in it."""
    if isinstance(row, Tent):
        return history_of(row.id)
    return history_of(row.tent) if isinstance(row, Device) and row.tent else page_of(row).partition("#")[0]


def power_of(tent: str) -> str:
    """A tent's power and control. tent: its ID."""
    return f"tents/{tent.lower()}/power/index.html"


def history_of(tent: str) -> str:
    """What was set, done, read and written in a tent. tent: its ID."""
    return f"tents/{tent.lower()}/history/index.html"


def history_list(tent: str) -> str:
    """The folder, below `lists/`, of the folded parts of a tent's history. tent: its ID."""
    return f"history-{tent.lower()}"


def patch_of(key: str) -> str:
    """The page of a patch, or of a former patch that redirects. key: as the analysis gives it."""
    return f"patches/{key}/index.html"


def page_of_kind(kind: str, id: str) -> str | None:
    """The page that something not recorded yet will have; None for a device, which is shown on the page of its tent."""
    folder = _FOLDERS_OF_KINDS.get(kind)
    return f"{folder}/{id.lower()}/index.html" if folder else None


def door_of(tent: Tent) -> str:
    """The sheet for a tent's door, below the tent's own folder."""
    return f"tents/{tent.id.lower()}/door/index.html"


def in_comparison(line: str) -> str:
    """A line with finished batches on the page that compares lines. line: the ID it starts with."""
    return f"{COMPARE}#line-{line.lower()}"


def diary_month(first_day_iso: str) -> str:
    """The diary's page for the month of an ISO date."""
    return f"diary/{first_day_iso[:7]}/index.html"


def diary_days(first_day_iso: str) -> str:
    """The diary's page for the days from an ISO date on, in a month of more entries than one page shows."""
    return f"diary/{first_day_iso[:10]}/index.html"


def part_of_list(kind: str, key: str) -> str:
    """The page of a folded part of a list."""
    return f"lists/{kind}/{key}/index.html"


def root_from(path: str) -> str:
    """The relative path from a page to the site's root: `../../` from `finds/f25-009/index.html`."""
    return "../" * path.count("/") or "./"


def month_of(photo: Photo, entry: Entry) -> str:
    """The month a published picture is filed under: when it was taken, or else that of the entry that shows it."""
    return photo.taken.date().isoformat()[:7] if photo.taken else entry.date.first.isoformat()[:7]


def picture_file(month: str, name: str, width: int) -> str:
    return f"photos/{month}/{name}-{width}.webp"


def dated_anchors(entries: Iterable[Entry]) -> dict[str, str]:
    """Entry path -> anchor on one page: its date, with `-2` for the second of that day."""
    seen: Counter[str] = Counter()
    anchors: dict[str, str] = {}
    for entry in entries:
        day = entry.date.first.isoformat() if entry.date.exact not in ("month", "year") else entry.date.iso
        seen[day] += 1
        anchors[entry.path] = day if seen[day] == 1 else f"{day}-{seen[day]}"
    return anchors


def subjects_of(journal: Journal, entry: Entry) -> tuple[Named, ...]:
    """What a note or tent entry is about, each once; nothing for an entry that has an ID of its own."""
    if isinstance(entry, Note):
        ids = [ref.id for ref in entry.about]
    elif isinstance(entry, TentEntry):
        ids = list(entry.about)
    else:
        return ()
    found = (journal.by_id.get(name.lower()) for name in dict.fromkeys(ids))
    return tuple(row for row in found if row is not None)
