"""What is printed on labels: a thing or one of its parts in a few words, none of which reveals a place; and the pages
at the addresses of earlier IDs, which printed labels still name, and of IDs that were printed ahead."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from typing import Any
from urllib.parse import urlencode

from journal.model import Batch, Culture, Device, Find, Ref, sort_key
from journal.problems import Refusal
from journal.quantities import counted
from journal.reading.id_index import by_former_id
from journal.reading.label_codes import CHECK_MARK, check_character, label_text
from journal.settings import LabelSize, Settings, Tent
from journal.site import addresses, wording
from journal.site.addresses import Named
from journal.site.label_sheet import SHEETS_MM, Printed, Sheet, layout_of, size_named, sizes_of
from journal.site.pages.crop import unit_word
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Page

_AMOUNT = re.compile(r"(?<=\d) (?=(?:%|°[CF]|[kmµ]?[glL]|[cm]m|min|h|lb|oz)(?!\w))")
"""Between a number and its unit, where no line is to end."""


def printed(lookup: Lookup, ref: Ref) -> Printed:
    """The label of what the journal has under this ID, or of a part of it."""
    row = lookup.journal.by_id[ref.id.lower()]
    texts = _texts(ref, addresses.printed_page_of(row), lookup.settings)
    check = _check(ref, lookup.settings)
    if isinstance(row, Tent):
        return Printed(str(ref), texts, check, medium=_harmless(lookup, row.name))
    if isinstance(row, Device):
        return Printed(str(ref), texts, check, medium=_harmless(lookup, row.does), date=_date(row))
    words = species_words(_harmless(lookup, row.species))
    return Printed(
        str(ref),
        texts,
        check,
        species=_short(words.text, words.latin) if words else "",
        is_latin=words.latin if words else False,
        is_confirmed=bool(lookup.analysis.confirmed.get(row.id)),
        **_descent(lookup, row),
        date=_date(row),
        part=_part(row, ref.part),
        medium=_AMOUNT.sub("\u00a0", _harmless(lookup, _made_of(row))),
    )


def printed_ahead(kind: str, id: str, settings: Settings) -> Printed:
    """The label of what is not recorded yet."""
    ref = Ref(id)
    return Printed(id, _texts(ref, addresses.page_of_kind(kind, id), settings), _check(ref, settings))


MOST_THINGS, MOST_PARTS = 40, 50
"""How many things the page Labels has, the newest, and how many parts of them in all: each costs it some 1.1 kB."""


def pages(lookup: Lookup) -> Iterator[Page]:
    """The page Labels, of what is growing or kept now, and the pages of earlier IDs; a share has none of them."""
    if lookup.share is not None:
        return
    rows = _current(lookup)
    things = list(_things(lookup, rows[:MOST_THINGS]))
    sizes = sizes_of(lookup.settings.labels)
    context = {
        "title": "Labels",
        "place": None,
        "things": things,
        "sizes": sizes,
        "choices": [{"name": size.name, "words": _in_mm(size), "layouts": _layouts(size)} for size in sizes],
        "usual": size_named(None, lookup.settings.labels).name,
        "sheets": tuple(SHEETS_MM),
        "usual_sheet": usual_sheet(lookup.settings),
        "more": MORE if len(rows) > len(things) or any(thing["lacks_parts"] for thing in things) else None,
    }
    yield Page("labels", (), addresses.LABELS, "labels/labels.html", context, "main", growing=True)
    yield from _moved_pages(lookup)
    yield from _pages_set_aside(lookup)


MORE = (
    "The newest are here, with as many parts as the page holds; on the computer, `journal labels` prints labels of any "
    "ID and of all parts."
)


def _current(lookup: Lookup) -> list[Culture | Batch]:
    """The cultures and batches that are not over, the newest first."""
    rows: list[Culture | Batch] = [*lookup.journal.cultures, *lookup.journal.batches]
    living = (row for row in rows if not lookup.analysis.progress[row.id].is_over)
    return sorted(living, key=sort_key, reverse=True)


def _things(lookup: Lookup, rows: Iterable[Culture | Batch]) -> Iterator[dict[str, Any]]:
    left = MOST_PARTS
    for row in rows:
        refs = parts_of(row)
        parts = tuple(printed(lookup, ref) for ref in refs) if 1 < len(refs) <= left else ()
        left -= len(parts)
        whole = printed(lookup, Ref(row.id))
        yield {
            "label": whole,
            "words": ", ".join(filter(None, (whole.species, whole.date))),
            "parts": parts,
            "each": counted(len(parts), _part_word(row)),
            "lacks_parts": len(refs) > 1 and not parts,
        }


def _part_word(row: Culture | Batch) -> str:
    if isinstance(row, Batch):
        return unit_word(row)
    return row.form if row.form in ("plate", "slant", "syringe") else "vessel"


def _layouts(size: LabelSize) -> dict[str, Any]:
    """How labels of a size are on each sheet that holds any, in millimetres, as static/js/labels.js takes it."""
    found: dict[str, Any] = {}
    for sheet, (width, height) in SHEETS_MM.items():
        with suppress(Refusal):
            lie = layout_of(size, sheet)
            found[sheet] = {
                "width": width, "height": height, "left": lie.left_mm, "top": lie.top_mm, "cols": lie.columns,
                "places": lie.places, "w": size.width_mm, "h": size.height_mm, "gaps": size.gap_mm,
                "text": lie.text_mm, "most": lie.id_mm, "small": lie.is_small, "marks": lie.marks,
            }  # fmt: skip
    return found


def _in_mm(size: LabelSize) -> str:
    return f"{size.name}, {size.width_mm:g} × {size.height_mm:g} mm"


def usual_sheet(settings: Settings) -> Sheet:
    return settings.labels.sheet or ("Letter" if settings.units == "us" else "A4")


def _moved_pages(lookup: Lookup) -> Iterator[Page]:
    """A page at the address of each earlier ID that a thing had, which leads to the page that it has now."""
    for former, row in by_former_id(lookup.journal).items():
        path = None if isinstance(row, Device) else addresses.page_of_kind(row.kind, former)
        if path is None:
            continue
        old = next(id for id in row.formerly if id.lower() == former)
        context = {
            "title": f"{old}, now {row.id}",
            "place": None,
            "about": row.id,
            "old": old,
            "label": lookup.label(row.id),
        }
        section = f"{row.date.first:%Y-%m}"
        growing = row.id in lookup.indexes.growing
        yield Page(row.kind, (("name", former),), path, "labels/moved.html", context, section, growing)


def set_aside(lookup: Lookup) -> Iterator[tuple[str, str, str]]:
    """(kind, ID, page) of each label that was printed ahead and has no entry yet. Devices, which have no page of their
    own, are not among them; a share has none."""
    if lookup.share is not None:
        return
    taken = {*lookup.journal.by_id, *by_former_id(lookup.journal)}
    for kind, id in lookup.settings.labels.reserved:
        path = addresses.page_of_kind(kind, id)
        if path is not None and id.lower() not in taken:
            taken.add(id.lower())
            yield kind, id, path


_PLACE_AND_FORM = {"find": ("Finds", "find"), "culture": ("Cultures", "new culture"), "batch": ("Batches", "new batch")}


def _pages_set_aside(lookup: Lookup) -> Iterator[Page]:
    """A page at the address that is on a label printed ahead, which leads to Record."""
    for kind, id, path in set_aside(lookup):
        place, form = _PLACE_AND_FORM[kind]
        to = f"{addresses.RECORD}?{urlencode({'kind': form, 'id': id})}"
        context = {"title": f"{id}, not recorded yet", "place": place, "kind": kind, "id": id, "record": to}
        yield Page(kind, (("name", id.lower()),), path, "labels/set_aside.html", context, "main", growing=True)


def parts_of(row: Named) -> tuple[Ref, ...]:
    """Every unit or vessel of a thing; the thing itself where it has but one, or their number is not known."""
    count = (row.units if isinstance(row, Batch) else row.vessels if isinstance(row, Culture) else 1) or 1
    return tuple(Ref(row.id, part) for part in range(1, count + 1)) if count > 1 else (Ref(row.id),)


def _texts(ref: Ref, page: str | None, settings: Settings) -> tuple[str, ...]:
    """What the code may hold: the address where there is one, and the ID where that is too long for a size."""
    id = label_text(ref, has_check=settings.labels.has_check)
    return tuple(dict.fromkeys((label_text(ref, page, settings.site_url), id) if settings.site_url and page else (id,)))


def _check(ref: Ref, settings: Settings) -> str:
    return f"{CHECK_MARK}{check_character(str(ref))}" if settings.labels.has_check else ""


def _short(name: str, is_latin: bool) -> str:
    """`P. pulmonarius` for *Pleurotus pulmonarius*."""
    genus, _, rest = name.partition(" ")
    return f"{genus[0]}. {rest}" if is_latin and rest else name


def _date(row: Find | Culture | Batch | Device) -> str:
    return wording.when_in_few_words(row.date)


def _descent(lookup: Lookup, row: Find | Culture | Batch) -> dict[str, Any]:
    """`T3 G1`, and the IDs that it was taken from."""
    if isinstance(row, Find):
        return {}
    numbers = lookup.analysis.lineage.descents[row.id]
    refs = row.sources if isinstance(row, Culture) else row.cultures
    was_received = isinstance(row, Culture) and bool(row.received_from)
    counts = (("T", numbers.transfers), ("G", numbers.spawn_generation))
    return {
        "steps": " ".join(f"{letter}{count}" for letter, count in counts if count is not None),
        "parents": tuple(map(str, refs)),
        "origin": "received" if was_received and not refs else "",
    }


def _part(row: Find | Culture | Batch, part: int | None) -> str:
    if isinstance(row, Batch) and part:
        return f"{unit_word(row)} {part}" + (f" of {row.units}" if row.units else "")
    if isinstance(row, Batch):
        return f"{row.units} {unit_word(row)}s" if row.units and row.units > 1 else ""
    if isinstance(row, Culture) and part:
        return f"{_part_word(row)} {part}" + (f" of {row.vessels}" if row.vessels else "")
    return ""


def _made_of(row: Find | Culture | Batch) -> str | None:
    if isinstance(row, Culture):
        return ", ".join(filter(None, (row.medium, row.form))) or None
    return row.substrate if isinstance(row, Batch) else None


def _harmless(lookup: Lookup, text: str | None) -> str:
    """The author's words on one line; "" where they hold a position, or a find's place by its name."""
    line = " ".join((text or "").split())
    if not line:
        return ""
    from journal.geo.detect import positions_in  # its patterns take long to compile

    has_place = names_a_place(line.casefold(), lookup.indexes.places) or any(True for _ in positions_in(line))
    return "" if has_place else line


def names_a_place(folded: str, places: Sequence[str]) -> bool:
    """Whether a text holds one of the places, both in folded case; places as `Indexes.places` has them."""
    longest = max(map(len, places), default=0)
    for at in range(len(folded) if places else 0):
        # None of the places begins with another, so the rest can begin only with the last that does not sort after it.
        before = bisect_right(places, folded[at : at + longest])
        if before and folded.startswith(places[before - 1], at):
            return True
    return False
