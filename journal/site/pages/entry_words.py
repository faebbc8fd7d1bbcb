"""An entry in a few words, and its short reference for readers of a share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from journal.analysis.progress import GONE
from journal.analysis.tent_settings import FIELDS, SettingName, Value
from journal.model import Batch, Colony, Culture, Device, Entry, Find, Note, TentEntry, When
from journal.quantities import counted
from journal.settings import Exhaust, LightHours, Settings
from journal.site import wording


def value_in_words(what: SettingName, value: Value, units: wording.Units) -> str:
    """A setting as a page words it."""
    match value:
        case LightHours():
            return wording.light(value)
        case Exhaust():
            return wording.exhaust(value)
        case str():
            return value
    if what == "temperature set point":
        return wording.temperature(value, units)
    return f"{wording.number(value, 0)} K" if what == "light colour" else wording.percent(value)


def headline(entry: Entry) -> str | None:
    """The few words beside an entry's date: a note's stage, and the title that the author gave it. None where that is
    made from the rest."""
    stage = _stage(entry) if isinstance(entry, Note) and entry.stage else None
    own_title = entry.title if "title" in entry.lines else None
    return ", ".join(filter(None, (stage, own_title))) or None


def _stage(note: Note) -> str:
    """`pinning`; told of parts, or of what was lost, alone where it is theirs: `B-001.5 contaminated`."""
    stage = wording.stage_in_words(note.stage) or ""
    parts = [str(ref) for ref in note.about if ref.part is not None]
    if parts and len(parts) == len(note.about):
        return f"{wording.joined(parts)} {stage}"
    return f"{note.lost} {stage}" if note.lost and note.stage in GONE else stage


def weighed(entry: Entry, units: wording.Units) -> Iterator[str]:
    """The harvest of an entry, as a short phrase."""
    if isinstance(entry, Note) and entry.harvest_g is not None:
        flush = f", flush {entry.flush}" if entry.flush else ""
        yield f"{wording.mass(entry.harvest_g, units)} harvested{flush}"


def weighed_and_lost(entry: Entry, units: wording.Units) -> Iterator[str]:
    """The harvests and losses of an entry, as short phrases."""
    yield from weighed(entry, units)
    if isinstance(entry, Note) and entry.lost:
        yield wording.lost_by(entry)


def facts(entry: Entry, settings: Settings) -> tuple[str, ...]:
    """The keyed facts of a note or tent entry as short phrases, in the units and the currency of the settings."""
    units = settings.units
    match entry:
        case Note():
            return (*_note_facts(entry, units), *_work_and_money(entry, settings.currency))
        case TentEntry():
            facts_told = (*setting_facts(entry, units), *_reading_and_service_facts(entry, units))
            return (*facts_told, *_work_and_money(entry, settings.currency))
    return ()


def title_of_facts(entry: Entry, settings: Settings) -> tuple[str, tuple[str, ...]]:
    """A title for an entry without a headline: its first two facts, else `next: look twice a day`, `photo of B-001.5`,
    `note`; and the facts that are not in it."""
    parts, told = _parts(entry), facts(entry, settings)
    others = told[len(parts) :]
    if others:
        return ", ".join(others[:2]), (*parts, *others[2:])
    if entry.next and not entry.text.strip():
        return f"next: {entry.next[0].text}", parts
    photos = len(entry.photos)
    what = "note" if entry.text.strip() or not photos else "photo" if photos == 1 else "photos"
    return " ".join((what, *parts)), ()


def _work_and_money(entry: Note | TentEntry, currency: str | None) -> Iterator[str]:
    if isinstance(entry, Note) and entry.minutes is not None:
        yield f"{wording.number(entry.minutes, 0)} min of work"
    if entry.cost is not None:
        yield f"cost {wording.money(entry.cost, currency)}"
    if isinstance(entry, Note) and entry.sold is not None:
        yield f"sold for {wording.money(entry.sold, currency)}"


def _parts(entry: Entry) -> tuple[str, ...]:
    """`of B-001.5`, of a note about parts."""
    parts = [str(ref) for ref in entry.about if ref.part is not None] if isinstance(entry, Note) else []
    return (f"of {wording.joined(parts)}",) if parts else ()


def _note_facts(note: Note, units: wording.Units) -> Iterable[str]:
    yield from _parts(note)
    yield from weighed(note, units)
    if note.dried_g is not None:
        of = f", from {wording.mass(note.dried_from_g, units)}" if note.dried_from_g else ""
        yield f"{wording.mass(note.dried_g, units)} dried{of}"
    if note.lost:
        yield wording.lost_by(note)
    elif note.cause:
        yield f"cause: {note.cause}"
    if note.colony:
        yield f"colony {', '.join(map(colony_in_words, note.colony))}"
    if note.moved_to:
        yield f"moved to {note.moved_to}"
    if note.species:
        certainty = f", {note.certainty}" if note.certainty else ""
        yield f"named {note.species.strip('*_ ')}{certainty}"
    elif note.certainty:
        yield f"certainty: {note.certainty}"
    if note.identified_by:
        yield f"identified by {note.identified_by}"
    if note.done:
        yield _done(note)


def colony_in_words(colony: Colony) -> str:
    """`34 × 36 mm`, `no. 1: 34 × 36 mm`."""
    one, other = map(wording.number, colony.across_mm)
    return f"{f'no. {colony.part}: ' if colony.part else ''}{one} × {other} mm"


_SET: Mapping[SettingName, str] = {
    "humidity set point": "humidity set to", "humidity differential": "differential",
    "temperature set point": "temperature set to", "air movement": "air:",
}  # fmt: skip


def setting_facts(entry: TentEntry, units: wording.Units) -> Iterable[str]:
    """What an entry sets, a phrase each, and why."""
    for what, field in FIELDS.items():
        if (value := getattr(entry, field)) not in (None, ""):
            yield f"{_SET.get(what, what)} {value_in_words(what, value, units)}"
    if entry.why:
        yield f"why: {entry.why}"


def _reading_and_service_facts(entry: TentEntry, units: wording.Units) -> Iterable[str]:
    if entry.humidity_reading_pct is not None:
        yield f"{wording.percent(entry.humidity_reading_pct)} humidity read"
    if entry.temperature_reading_c is not None:
        yield f"{wording.temperature(entry.temperature_reading_c, units)} read"
    if entry.co2_ppm is not None:
        yield f"{wording.number(entry.co2_ppm, 0)} ppm CO₂ read"
    if entry.meter_kwh is not None:
        yield f"meter at {wording.number(entry.meter_kwh)} kWh"
    if entry.light_level_lux is not None:
        yield f"{wording.lux(entry.light_level_lux)} of light read"
    if entry.door:
        yield f"door {entry.door}"
    if entry.serviced:
        yield f"serviced: {', '.join(entry.serviced)}"
    if entry.tank_fill_ml is not None:
        yield f"{wording.litres(entry.tank_fill_ml)} filled into the tank"
    if entry.done:
        yield _done(entry)


def _done(entry: Entry) -> str:
    return "all tasks done" if "yes" in entry.done else f"done: {', '.join(entry.done)}"


def how_made(culture: Culture, lost: int) -> str:
    """`clone of tissue, 5 plates, 3 lost`. lost: vessels."""
    made = {"tissue": "clone of tissue", "spores": "from spores", "transfer": "transfer", "received": "received"}
    words = [made[culture.method]] if culture.method else []
    if culture.vessels is not None:
        words.append(counted(culture.vessels, "vessel") if not culture.form else vessels(culture))
    elif culture.form:
        words.append(culture.form)
    if lost:
        words.append(f"{lost} lost")
    return ", ".join(words)


_JAR = {"liquid": "jar of liquid", "grain": "jar of grain", "sawdust": "bag of sawdust", "plugs": "jar of plugs"}


def vessels(culture: Culture) -> str:
    """`5 plates`, `1 jar of grain`."""
    one = _JAR.get(culture.form or "", culture.form or "vessel")
    several = one.replace(" of", "s of") if " of" in one else f"{one}s"
    return counted(culture.vessels or 1, one, several)


def earlier_ids(row: Find | Culture | Batch | Device) -> tuple[str, str]:
    """What its former IDs are called on its page, and they; empty if it has none, as in every share."""
    return "earlier ID" if len(row.formerly) == 1 else "earlier IDs", ", ".join(row.formerly)


_NTH = ("", "", "the second", "the third", "the fourth", "the fifth", "the sixth")


@dataclass(frozen=True, slots=True)
class Question:
    """called: an entry as people name it, `B-031, 20 November 2026`; it never changes while the entry exists. address:
    from the site's root, with the entry's anchor on the page. text: the start of a message."""

    called: str
    address: str
    text: str


def question_about(id: str, entry: Entry, address: str, facts_told: str, title: str) -> Question:
    """How to ask about an entry with an ID. facts_told: what the entry is, in a few words. title: the journal's."""
    called = id if isinstance(entry, Find | Culture | Batch | Device) else _dated(id, entry.date, address)
    return Question(called, address, f"About {called} in {title}\n{wording.capitalised(facts_told)}\n{address}\n\n")


def _dated(id: str, date: When, address: str) -> str:
    """The ID and the day, and which entry of that day it is if it is not the first."""
    day = wording.when_in_words(replace(date, moment=None))
    number = address.rpartition("#")[2].partition(f"{date.first.isoformat()}-")[2]
    nth = ""
    if number.isdigit():
        nth = _NTH[int(number)] if int(number) < len(_NTH) else f"no. {number}"
    return f"{id}, {day}" + (f", {nth} of that day" if nth else "")


def names_in_keys(entry: Entry) -> list[str]:
    """Every ID that an entry's keys name, in lower case."""
    keyed: list[str | None] = []
    match entry:
        case Culture():
            keyed = [ref.id for ref in entry.sources]
        case Batch():
            keyed = [*(ref.id for ref in entry.cultures), entry.tent]
        case Note():
            keyed = [*(ref.id for ref in entry.about), entry.moved_to]
        case TentEntry():
            keyed = [*entry.about]
        case Device():
            keyed = [entry.tent, entry.powered_by, entry.controlled_by]
    return [name.lower() for name in keyed if name]
