"""Linked drafts into the model's entries, and the checks that need the whole entry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from journal.analysis.species_names import OwnNames, is_another_species, likely_meant
from journal.analysis.substrate import dry_mass
from journal.model import Batch, Culture, Device, Find, Note, PhotoUse, Position, TentEntry, When
from journal.problems import shortened
from journal.quantities import Mass, Money
from journal.reading.entries import Draft, ProblemList
from journal.reading.everyday_words import fix_of_word, stages_of, word_meant
from journal.reading.id_index import Names
from journal.reading.keys import KEYS, STAGES
from journal.reading.links import Links
from journal.settings import Settings


@dataclass(frozen=True, slots=True)
class LinkedDraft:
    """A draft that becomes an entry. stated: its date before its photos' time of day was taken over."""

    draft: Draft
    date: When
    stated: When
    photos: tuple[PhotoUse, ...]
    links: Links


def find_of(kept: LinkedDraft, position: Position | None, settings: Settings) -> Find:
    values = kept.draft.values
    return Find(**_common(kept, settings, _title("Find", values["id"], values.get("species"))), position=position)


def culture_of(
    kept: LinkedDraft, species: str | None, names: Names, settings: Settings, problems: ProblemList
) -> Culture:
    """A culture of this species, its own or what it has from its parents."""
    draft, links = kept.draft, kept.links
    _check_origin(draft, problems)
    method = draft.values.get("method") or _usual_method(draft, links, names)
    common = _common(kept, settings, _title("Culture", draft.values["id"], species))
    return Culture(
        **common | {"species": species, "method": method}, sources=links.sources, unknown_sources=links.unknown_sources
    )


def _check_origin(draft: Draft, problems: ProblemList) -> None:
    has_parent, was_received = ("from" in draft.lines, "received from" in draft.lines)
    if has_parent and was_received:
        message = "this culture has both `from` and `received from`; `from` counts"
        problems.warning(draft, "received from", message, "keep the one that is true")
    elif not has_parent and not was_received:
        fix = "add `from` with an ID, or `received from` (write `unknown` if you do not know)"
        problems.error(draft, "from", "this culture does not say what it came from", fix)
    elif was_received and draft.values.get("method") == "transfer":
        message = "a transfer was taken from a culture, but this one was received"
        problems.warning(draft, "method", message, "write `method: received`, or `from` with the culture's ID")


def _usual_method(draft: Draft, links: Links, names: Names) -> str | None:
    """`tissue` from a find or batch, `transfer` from a culture; None where the parent cannot be followed."""
    if "method" in draft.lines:
        return None
    if links.sources:
        parent = names.get(links.sources[0].id)
        return "transfer" if parent is not None and parent.kind == "culture" else "tissue"
    return "received" if "received from" in draft.values and "from" not in draft.lines else None


def batch_of(kept: LinkedDraft, species: str | None, settings: Settings, problems: ProblemList) -> Batch:
    """A batch of this species, its masses per unit."""
    draft, links = kept.draft, kept.links
    common = _common(kept, settings, _title("Batch", draft.values["id"], species))
    return Batch(
        **common | {"units": _units(draft)},
        **_masses(draft, settings, problems),
        **_money(draft, settings, problems),
        species=species,
        cultures=links.sources,
        unknown_sources=links.unknown_sources,
        tent=links.tent,
    )


def _masses(draft: Draft, settings: Settings, problems: ProblemList) -> dict[str, Any]:
    """wet_g, dry_g, dry_from. Where `units` cannot be read, nothing that was weighed in all is shared out."""
    values = draft.values
    units = _units(draft)
    wet_g = _per_unit(values.get("wet mass"), units)
    dry = dry_mass(
        dry_g=_per_unit(values.get("dry mass"), units),
        wet_g=wet_g,
        moisture_pct=values.get("moisture"),
        mix=values.get("mix", ()) if units or wet_g is not None else (),
        units=units,
        measured=settings.ingredients,
        shown_in=settings.units,
    )
    for remark in dry.remarks:
        problems.warning(draft, remark.way, remark.message, remark.fix)
    return {"wet_g": wet_g, "dry_g": dry.dry_g, "dry_from": dry.dry_from}


def _units(draft: Draft) -> int | None:
    """1 if `units` is not written; None if it cannot be read."""
    return draft.values.get("units") or (None if "units" in draft.lines else 1)


def _per_unit(mass: Mass | None, units: int | None) -> float | None:
    if mass is None or not mass.in_all:
        return mass.g if mass else None
    return mass.g / units if units else None


def note_of(kept: LinkedDraft, names: Names, settings: Settings, problems: ProblemList) -> Note:
    """A note; its stage and harvest are dropped where what it is about cannot have them."""
    draft, about = kept.draft, kept.links.about
    kinds = {ref.id: owner.kind for ref in about if (owner := names.get(ref.id))}
    values = _common(kept, settings, "")
    if "stage" in values:
        values["stage"] = _stage(draft, kinds, problems)
    if not _harvest_fits(draft, kinds, problems):
        del values["harvest_g"]
    if draft.values.get("lost") and len(kinds) > 1:
        message = f"this loss could belong to any of {', '.join(kinds)}, so it is not counted"
        problems.warning(draft, "lost", message, "write a note for each")
    if not _colony_fits(draft, kinds, problems):
        del values["colony"]
    keys = [key for key in ("species", "certainty", "identified by") if key in draft.values]
    if keys and kinds and "find" not in kinds.values():
        message = f"`{keys[0]}` in a note identifies a find, but this note is about none"
        fix = "put the find's ID under `about`, or correct the culture or batch itself"
        problems.warning(draft, keys[0], message, fix)
    values["title"] = values["title"] or _title_of_note(draft, kept.links, values.get("stage"), "harvest_g" in values)
    return Note(**values, **_money(draft, settings, problems), about=about, moved_to=kept.links.moved_to)


def _stage(draft: Draft, kinds: Mapping[str, str], problems: ProblemList) -> str | None:
    """The stage of everything the note is about, or None and a problem. Tents have none and are passed by; where the
    note is about nothing that is known, any kind's stage will do."""
    written: str = draft.values["stage"]
    staged = {id: kind for id, kind in kinds.items() if kind != "tent"} or kinds
    meant = {kind: word_meant(stages_of(kind), written, STAGES[kind]) for kind in staged.values() or STAGES}
    for id, kind in staged.items():
        if meant[kind] is None:
            fix = fix_of_word(stages_of(kind), written, STAGES[kind])
            fix = fix if STAGES[kind] else "write in the text what happened"
            problems.error(draft, "stage", f"{shortened(written)} is not a stage of a {kind} ({id})", fix)
            return None
    found = tuple(dict.fromkeys(filter(None, meant.values())))
    if not found:
        fix = "name under `about` what it is a stage of; `journal keys note` lists the stages"
        problems.error(draft, "stage", f"{shortened(written)} is not a stage", fix)
        return None
    if staged and len(found) > 1:
        message = f"{shortened(written)} means another stage of a {' than of a '.join(meant)}"
        problems.error(draft, "stage", message, "write a note for each")
        return None
    return found[0]


def _harvest_fits(draft: Draft, kinds: Mapping[str, str], problems: ProblemList) -> bool:
    if "harvest" not in draft.values:
        return True
    batches = [id for id, kind in kinds.items() if kind == "batch"]
    if len(batches) > 1:
        message = f"one harvest cannot be from {' and '.join(batches)}"
        problems.error(draft, "harvest", message, "write a note for each batch, with its own harvest")
        return False
    if "flush" not in draft.lines and not (kinds and set(kinds.values()) <= {"find", "tent"}):
        problems.warning(draft, "harvest", "this harvest has no flush", "add `flush: 1` (or 2, 3 …)")
    return True


def _colony_fits(draft: Draft, kinds: Mapping[str, str], problems: ProblemList) -> bool:
    if "colony" not in draft.values or list(kinds.values()) == ["culture"]:
        return True
    message = f"a colony is measured on one culture, but this note is about {' and '.join(kinds) or 'none'}"
    problems.error(draft, "colony", message, "write a note for each culture, with its ID under `about`")
    return False


def tent_entry_of(kept: LinkedDraft, settings: Settings, problems: ProblemList) -> TentEntry:
    ids = [ref.id for ref in kept.links.about]
    words = f"Tent {', '.join(ids)}" if ids else "Tent"
    return TentEntry(**_common(kept, settings, words), **_money(kept.draft, settings, problems), about=tuple(ids))


def device_of(kept: LinkedDraft, settings: Settings, problems: ProblemList) -> Device:
    """A device; its tent is "" where it names none."""
    draft, links = kept.draft, kept.links
    return Device(
        **_common(kept, settings, _title("Device", draft.values["id"], draft.values.get("does"))),
        **_money(draft, settings, problems),
        tent=links.tent or "",
        powered_by=", ".join(links.powered_by) or None,
        controlled_by=", ".join(links.controlled_by) or None,
    )


_FIELDS: Mapping[str, Mapping[str, str]] = {
    kind: {name: key.field for name, key in keys.items() if key.field and not key.linked} for kind, keys in KEYS.items()
}
"""By kind: the model's field of each key whose value it takes as it is."""


def _common(kept: LinkedDraft, settings: Settings, title: str) -> dict[str, Any]:
    """The model's fields of its keys that need no linking. title: where the entry has none of its own."""
    draft = kept.draft
    values, fields = draft.values, _FIELDS[draft.kind or ""]
    former = {"formerly": kept.links.formerly} if "formerly" in KEYS[draft.kind or ""] else {}
    return {
        **{fields[name]: value for name, value in values.items() if name in fields},
        **former,
        "path": draft.path,
        "date": kept.date,
        "title": values.get("title") or title,
        "by": values.get("by") or settings.author,
        "text": draft.text,
        "photos": kept.photos,
        "lines": draft.lines,
    }


def _money(draft: Draft, settings: Settings, problems: ProblemList) -> dict[str, Any]:
    """What it cost and was sold for, in the journal's currency; what is in another is reported, and left out."""
    found = {}
    for name in ("cost", "sold"):
        money: Money | None = draft.values.get(name)
        if money is None:
            continue
        if money.is_in(settings.currency):
            found[name] = money.amount
        elif settings.currency:
            fix = f"write the amount in {settings.currency}"
            problems.error(draft, name, f"{money.currency} is not the journal's currency, {settings.currency}", fix)
        else:
            fix = 'add a line like currency = "GBP" under [journal] in journal.toml, or write the amount alone'
            problems.error(draft, name, f"the settings do not say that the currency is {money.currency}", fix)
    return found


def _title(kind: str, id: str, words: str | None) -> str:
    bare = (words or "").strip("*_ ")
    return f"{kind} {id}, {bare}" if bare else f"{kind} {id}"


def _title_of_note(draft: Draft, links: Links, stage: str | None, has_harvest: bool) -> str:
    """What a note is about and the first of: stage, harvest, loss, move, what was done."""
    about = ", ".join(map(str, links.about))
    what = (
        stage
        or (has_harvest and "harvest")
        or (draft.values.get("lost") and "loss")
        or (links.moved_to and f"moved to {links.moved_to}")
        or next((words for words in draft.values.get("done", ()) if len(words) <= 40), None)
    )
    return ": ".join(filter(None, (f"Note on {about}" if about else "Note", what or None)))


def species_of(
    kept: Iterable[LinkedDraft], of_finds: Mapping[str, str | None], names: OwnNames, problems: ProblemList
) -> dict[str, str | None]:
    """The species of each find, culture and batch, by ID: its own, else that of the first parent that has one.

    kept: cultures and batches, with no circle among them. of_finds: what each find is taken to be now. names: the
    author's own. Parents that disagree are a warning, and so is a culture of another species than every parent.
    """
    rows = {one.draft.values["id"]: one for one in kept}
    known, wild = dict(of_finds), set(of_finds)
    for start in rows:
        trail = [start]
        while trail:
            parents = [ref.id for ref in rows[trail[-1]].links.sources]
            waiting = [parent for parent in parents if parent not in known and parent in rows]
            trail.extend(waiting)
            if not waiting and (id := trail.pop()) not in known:
                known[id] = _species(rows[id], parents, known, names, problems)
                if wild.intersection(parents):
                    wild.add(id)
                if rows[id].draft.kind == "batch":
                    from_finds = {one: known[one] for one in parents if one in wild}
                    _tell_mixed(rows[id], {one: named for one, named in from_finds.items() if named}, names, problems)
    return known


def _species(
    one: LinkedDraft, parents: list[str], known: Mapping[str, str | None], names: OwnNames, problems: ProblemList
) -> str | None:
    own: str | None = one.draft.values.get("species")
    above = {parent: species for parent in dict.fromkeys(parents) if (species := known.get(parent))}
    if own is not None:
        if above and all(is_another_species(own, species, names) for species in above.values()):
            parent, species = next(iter(above.items()))
            message = f"this is {shortened(own)}, but {parent}, which it came from, is {shortened(species)}"
            fix = (
                "correct `from`, if this was logged to the wrong parent, or `species`; if both names mean one species, "
                "say so under [names] in journal.toml"
            )
            problems.warning(one.draft, "species", message, fix)
        elif above and (meant := likely_meant(own, names)):
            message = f"{shortened(own)} is spelled like no species that is known here; did you mean {meant}?"
            fix = "correct the spelling; if it is right, put the name under [names] in journal.toml"
            problems.warning(one.draft, "species", message, fix)
        return own
    if one.draft.kind == "culture" and _are_of_different_species(above, names):
        message = f"its parents are of different species: {_listed(above)}; the first one is used"
        problems.warning(one.draft, "from", message, "correct `from`, or write `species`")
    return next(iter(above.values()), None)


def _tell_mixed(one: LinkedDraft, from_finds: Mapping[str, str], names: OwnNames, problems: ProblemList) -> None:
    """Warns of a batch of several species. from_finds: the species of its cultures that go back to finds, by ID; what
    was received is confirmed by nobody, and what it is mixed with makes it no less so."""
    if _are_of_different_species(from_finds, names):
        message = f"its cultures are of different species: {_listed(from_finds)}; it is listed as the first"
        fix = "correct `culture`, if one of them was not used; if they were mixed on purpose, leave it as it is"
        problems.warning(one.draft, "culture", message, fix)


def _are_of_different_species(species: Mapping[str, str], names: OwnNames) -> bool:
    pairs = combinations(dict.fromkeys(species.values()), 2)
    return any(is_another_species(first, second, names) for first, second in pairs)


def _listed(species: Mapping[str, str]) -> str:
    return ", ".join(f"{id} is {named}" for id, named in species.items())
