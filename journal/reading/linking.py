"""Drafts, photos, tracks and logger files into one journal. Opens no file."""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import TypeVar

from journal.analysis.calendar import zone_of
from journal.analysis.identity import identifications
from journal.analysis.progress import progress_of
from journal.model import CoreLog, Find, Journal, LoggerFile, Photo, PhotoUse, Position, WeatherFile, sort_key
from journal.problems import Problem, nearest
from journal.reading import model_entries
from journal.reading.camera_clocks import clock_problems
from journal.reading.consistency import (
    check_losses,
    check_patches,
    check_permits,
    check_place_names,
    check_places,
    check_plausibility,
    check_services,
    check_times,
    stated_date,
    with_time_of_photos,
)
from journal.reading.entries import Draft, Kept, KeptSteps, ProblemList, no_entry
from journal.reading.folder import FOLDER_UNREAD, path_key
from journal.reading.id_index import IdOwner, Names, owners_in
from journal.reading.keys import KINDS
from journal.reading.links import NO_LINKS, Links, check_links_in_texts, links_of
from journal.reading.listing import SETTINGS_NAME
from journal.reading.model_entries import LinkedDraft, species_of
from journal.reading.own_maps import check_maps
from journal.reading.photo_claims import Album, uses_of
from journal.reading.public_part import public_part
from journal.reading.toml_tables import NOT_TOML
from journal.reading.tracks import Track, place_on
from journal.settings import Settings

T = TypeVar("T")

WITH_ID = frozenset({"find", "culture", "batch", "device"})


def assemble(
    settings: Settings,
    drafts: Iterable[Draft],
    *,
    not_entries: Iterable[str] = (),
    photos: Iterable[Photo] = (),
    tracks: Sequence[Track] = (),
    logs: Iterable[LoggerFile] = (),
    core_logs: Iterable[CoreLog] = (),
    weather: Iterable[WeatherFile] = (),
    problems: Iterable[Problem] = (),
    changed_on: date | None = None,
    as_before: Callable[[Journal], Journal] = lambda journal: journal,
    kept: KeptSteps | None = None,
) -> Journal:
    """The journal that these files make.

    not_entries: paths of Markdown files without front matter. problems: what was found in settings, folder, photos,
    tracks and logger files so far; the drafts bring their own. changed_on: the day on which a file of the journal was
    last written; None: not known. as_before: gives an equal journal of objects that were calculated with before. kept:
    what an earlier call of this process kept.
    Problems are in the journal's `problems` and never raised; an entry with no kind, date, or (where one is required)
    ID is left out, and what its ID would have been is unknown to the others. So is one at which the program itself
    fails: all is linked again without it. The order of what is given makes no difference. Its `public` is linked again
    from the same files, without private ones.
    """
    in_order = sorted(drafts, key=lambda draft: path_key(draft.path))
    placed = [_placed(photo, tracks) for photo in sorted(photos, key=lambda photo: path_key(photo.path))]
    logs = tuple(sorted(logs, key=lambda log: path_key(log.path)))
    newest = settings.as_of or _newest(changed_on, placed, logs, settings)
    files = _Files(settings, placed, tracks, logs, tuple(core_logs), tuple(weather), newest)
    found = [*problems, *map(_no_front_matter, not_entries)]
    return _linked_without_failures(files, in_order, found, as_before, kept or KeptSteps(keeps=False))


def _no_front_matter(path: str) -> Problem:
    fix = "start it with `---`, keys and `---`, or leave it as it is"
    return Problem(path, 0, "warning", "this is not an entry: it has no front matter", fix)


def _linked_without_failures(
    files: _Files,
    in_order: list[Draft],
    problems: Sequence[Problem],
    as_before: Callable[[Journal], Journal],
    kept: KeptSteps,
) -> Journal:
    """Links all but the entries at which the program fails. problems: those found before. as_before, kept: as in
    `assemble`."""
    left_out: set[str] = set()
    while True:
        found = ProblemList([*problems, *(problem for draft in in_order for problem in draft.problems)])
        try:
            journal = _linked(files, in_order, found, kept, as_before=as_before)
        except MemoryError:
            raise
        except Exception:
            if found.failed.keys() <= left_out:
                raise  # otherwise an entry on which the program failed was missing
        else:
            if found.failed.keys() <= left_out:
                return journal.with_public(partial(_linked_public, files, in_order), found.sorted())
        for at, draft in enumerate(in_order):
            if draft.path not in left_out and (problem := found.failed.get(draft.path)):
                in_order[at] = replace(no_entry(problem), problems=(*draft.problems, problem))
        left_out |= found.failed.keys()


@dataclass(frozen=True, slots=True)
class _Files:
    """What is linked besides the drafts: photos and logs in the order of their paths. newest: as in `Journal`."""

    settings: Settings
    photos: Sequence[Photo]
    tracks: Sequence[Track]
    logs: tuple[LoggerFile, ...]
    core_logs: tuple[CoreLog, ...]
    weather: tuple[WeatherFile, ...]
    newest: date | None


def _newest(
    changed_on: date | None, photos: Iterable[Photo], logs: Iterable[LoggerFile], settings: Settings
) -> date | None:
    """The latest day in the files themselves: a last change, a photo, a reading of a logger."""
    if changed_on is None:
        return None
    zone = zone_of(settings)
    last_read = [datetime.fromtimestamp(log.stamps_s[-1], zone).date() for log in logs if log.stamps_s]
    return max([changed_on, *last_read, *(photo.taken.date() for photo in photos if photo.taken)])


def _linked(
    files: _Files,
    drafts: Sequence[Draft],
    found: ProblemList,
    steps: KeptSteps,
    own_photos: Mapping[str, Sequence[str]] | None = None,
    as_before: Callable[[Journal], Journal] = lambda journal: journal,
) -> Journal:
    """The journal of drafts in the order of their paths, without its problems. own_photos: as `uses_of` takes it.
    steps, as_before: `kept` and the other as in `assemble`."""
    settings, photos, tracks = files.settings, files.photos, files.tracks
    steps.begin(_FILES, (settings, tuple(photos), tuple(tracks)), _are_same_files)
    uses = uses_of(drafts, Album(photos), found, own_photos, steps.of(_FILES, "uses"))
    kept, names = _kept(drafts, photos, uses, settings, found, steps)
    entries = _entries(kept, {photo.path: photo for photo in photos}, tracks, names, settings, found, steps)
    claimed = {use.path for every in uses.values() for use in every} | {own.file for own in settings.maps}
    for photo in photos:
        if photo.path not in claimed:
            found.at(photo.path, 0, "warning", "this photo is in no entry", "list it under `photos` in an entry")
    _check_shares(settings, names, found)
    check_maps(settings, photos, found)
    staying = {one.draft.path for one in kept}
    shown_by: dict[str, list[str]] = {}
    for one in kept:
        for use in one.photos:
            shown_by.setdefault(use.path, []).append(one.draft.path)
    journal = replace(
        entries,
        photos=tuple(replace(photo, entries=tuple(shown_by.get(photo.path, ()))) for photo in photos),
        logs=files.logs,
        core_logs=tuple(row for row in files.core_logs if row.entry in staying),
        weather=files.weather,
        newest=files.newest,
    )
    journal = as_before(journal)
    _keep_objects(journal, steps)
    progress = progress_of(journal)
    check_losses(progress, found)
    check_plausibility(journal, progress, found)
    for check in (check_services, check_patches, check_place_names, check_permits):
        check(journal, found)
    for problem in clock_problems(journal, tracks):
        found.add(problem)
    return journal


_FILES, _NAMES = "files", "names"
"""The stages of linking: what depends on the settings, photos and tracks alone, and what does on every ID too."""

_FileFrame = tuple[Settings, tuple[Photo, ...], tuple[Track, ...]]


def _are_same_files(before: _FileFrame, now: _FileFrame) -> bool:
    """Whether these are the very settings and tracks, and equal photos (a photo has the digest of its bytes)."""
    are_tracks = len(before[2]) == len(now[2]) and all(map(operator.is_, before[2], now[2]))
    return before[0] is now[0] and are_tracks and before[1] == now[1]


def _keep_objects(journal: Journal, steps: KeptSteps) -> None:
    """Keeps of each entry the object that the journal has now, so that the next one has it too."""
    for entry in journal.entries():
        kept = steps.of(_NAMES, f"entry of {entry.kind}")
        if kept is not None and (known := kept.get(entry.path)) and known[2] is not entry:
            kept[entry.path] = (known[0], known[1], entry)


def _linked_public(files: _Files, drafts: Sequence[Draft]) -> Journal:
    """The same journal without what is private; it is its own `public`. Only the whole journal has problems."""
    part = public_part(drafts, Album(files.photos))
    journal = _linked(files, part.drafts, ProblemList(()), KeptSteps(keeps=False), part.own_photos)
    return journal.with_public(lambda: journal)


def _placed(photo: Photo, tracks: Sequence[Track]) -> Photo:
    """The photo, with a position from a track if it has none of its own."""
    if photo.lat_deg is not None or photo.taken is None or not tracks:
        return photo
    return replace(photo, track=place_on(tracks, photo.taken))


def _kept(
    drafts: Sequence[Draft],
    photos: Sequence[Photo],
    uses: Mapping[str, tuple[PhotoUse, ...]],
    settings: Settings,
    found: ProblemList,
    steps: KeptSteps,
) -> tuple[list[LinkedDraft], Names]:
    """The drafts that become entries, linked, in the order of their paths; and every ID they define."""
    taken = {photo.path: photo.taken for photo in photos}
    names = Names(settings.tents, SETTINGS_NAME, are_tents_known=not found.has(SETTINGS_NAME, NOT_TOML))
    names.miss([*found.paths_of(FOLDER_UNREAD), *(draft.path for draft in drafts if draft.is_unread)])
    may_bear = owners_in(drafts)
    each_dated = found.each(
        drafts,
        lambda draft: _dated(draft, uses[draft.path], taken, found),
        steps.of(_FILES, "dates"),
        lambda draft: (draft, uses[draft.path]),
    )
    dated = [one for one in each_dated if one]
    owners = {one.draft.path: may_bear[one.draft.path] for one in dated if one.draft.path in may_bear}
    kept = [one for one in dated if _has_its_id(one.draft, owners, names, found)]
    staying = {one.draft.path for one in kept}
    for path, owner in may_bear.items():
        if path not in staying:
            names.leave_out(owner)
    own = {path: owner for path, owner in owners.items() if path in staying}
    renamed = [one.draft for one in kept if "formerly" in one.draft.values]
    former = {draft.path: _former_ids(draft, own, names, found) for draft in renamed}
    steps.begin(_NAMES, (steps.of(_FILES, "frame"), names), _are_same_names)
    links = links_of([one.draft for one in kept], drafts, own, names, found, steps.of(_NAMES, "links"))
    check_links_in_texts([one.draft for one in kept], own, names, found, steps.of(_NAMES, "links in texts"))
    links |= {path: replace(links[path], formerly=ids) for path, ids in former.items() if ids}
    return [_with_links(one, links[one.draft.path], steps.of(_NAMES, "linked")) for one in kept], names


def _are_same_names(before: tuple[object, Names], now: tuple[object, Names]) -> bool:
    """Whether settings, photos and tracks have stayed, and every ID means the same."""
    return before[0] is now[0] and before[1].mean_the_same(now[1])


def _with_links(one: LinkedDraft, links: Links, kept: Kept | None) -> LinkedDraft:
    """The draft with its links: the object made of the same two before, if there is one."""
    known = kept.get(one.draft.path) if kept is not None else None
    if known is not None and known[0] is one and known[2].links is links:
        before: LinkedDraft = known[2]
        return before
    linked = LinkedDraft(one.draft, one.date, one.stated, one.photos, links)
    if kept is not None:
        kept[one.draft.path] = (one, None, linked)
    return linked


def _dated(
    draft: Draft, uses: tuple[PhotoUse, ...], taken: Mapping[str, datetime | None], found: ProblemList
) -> LinkedDraft | None:
    if draft.kind is None:
        return None
    times = [time for use in uses if (time := taken[use.path]) is not None]
    stated = stated_date(draft, times)
    if stated is None:
        if "date" not in draft.lines:
            message = "this entry has no date, no photo with a time, and no date in its name"
            found.error(draft, "date", message, "write a line like `date: 2026-10-03`")
        return None
    return LinkedDraft(draft, with_time_of_photos(stated, times), stated, uses, NO_LINKS)


def _has_its_id(draft: Draft, owners: Mapping[str, IdOwner], names: Names, found: ProblemList) -> bool:
    """Whether an entry that must have an ID has a unique one; the first in order takes it."""
    if draft.kind not in WITH_ID:
        return True
    owner = owners.get(draft.path)
    if owner is None:
        return False
    holder = names.give(owner)
    if holder is not owner:
        message = f"the ID {owner.id} belongs to {holder.path} already, so this entry is left out"
        found.error(draft, "id", message, "give one of them another ID")
    return holder is owner


def _former_ids(draft: Draft, owners: Mapping[str, IdOwner], names: Names, found: ProblemList) -> tuple[str, ...]:
    """The earlier IDs of an entry's thing, except those that another thing has now, or had."""
    led = []
    for id in draft.values.get("formerly", ()) if draft.path in owners else ():
        owner = names.give_former(id, owners[draft.path])
        if owner.path == draft.path and owner.id.lower() != id.lower():
            led.append(id)
        elif owner.path != draft.path:
            message = f"`formerly` names {id}, which leads to {owner.path} already"
            found.error(draft, "formerly", message, "remove it here, or give that entry another ID")
    return tuple(dict.fromkeys(led))


def _entries(
    kept: Sequence[LinkedDraft],
    photos: Mapping[str, Photo],
    tracks: Sequence[Track],
    names: Names,
    settings: Settings,
    found: ProblemList,
    steps: KeptSteps,
) -> Journal:
    """A journal of only the model's entries, made in an order in which each finds what it needs."""
    by_kind: dict[str, dict[str, LinkedDraft]] = {kind: {} for kind in KINDS}
    for one in kept:
        by_kind[one.draft.kind or ""][one.draft.path] = one
    species: Mapping[str, str | None] = {}

    def each(
        kind: str, step: Callable[[LinkedDraft], T], name: str = "entry", among: Mapping[str, LinkedDraft] | None = None
    ) -> list[T]:
        by_path = by_kind[kind] if among is None else among
        return found.each(
            [one.draft for one in by_path.values()],
            lambda draft: step(by_path[draft.path]),
            steps.of(_NAMES, f"{name} of {kind}"),
            lambda draft: (by_path[draft.path], species.get(draft.values.get("id", ""))),
        )

    finds = each("find", lambda one: _find(one, photos, tracks, settings, found))
    notes = each("note", lambda one: model_entries.note_of(one, names, settings, found))
    named = identifications(Journal(settings, finds=tuple(finds), notes=tuple(notes)))
    now = {id: rows[-1].species for id, rows in named.items()}
    heirs = [one for kind in ("culture", "batch") for one in kept if one.draft.kind == kind]
    species = species_of(heirs, now, settings.names, found)
    cultures = each(
        "culture", lambda one: model_entries.culture_of(one, species[one.draft.values["id"]], names, settings, found)
    )
    batches = each("batch", lambda one: model_entries.batch_of(one, species[one.draft.values["id"]], settings, found))
    tent_entries = each("tent", lambda one: model_entries.tent_entry_of(one, settings, found))
    devices = each("device", lambda one: model_entries.device_of(one, settings, found))
    for kind, rows in by_kind.items():
        with_photos = {path: one for path, one in rows.items() if one.photos}
        each(kind, lambda one: check_times(one, photos, found), "times", with_photos)
    return Journal(
        settings=settings,
        finds=tuple(sorted(finds, key=sort_key)),
        cultures=tuple(sorted(cultures, key=sort_key)),
        batches=tuple(sorted(batches, key=sort_key)),
        notes=tuple(sorted(notes, key=sort_key)),
        tent_entries=tuple(sorted(tent_entries, key=sort_key)),
        devices=tuple(sorted(devices, key=sort_key)),
    )


def _find(
    one: LinkedDraft, photos: Mapping[str, Photo], tracks: Sequence[Track], settings: Settings, found: ProblemList
) -> Find:
    check_places(one, photos, settings.units, found)
    return model_entries.find_of(one, _position(one, photos, tracks), settings)


def _position(one: LinkedDraft, photos: Mapping[str, Photo], tracks: Sequence[Track]) -> Position | None:
    """Where a find is: as written, else from its first photo with a position, else from a track."""
    written: Position | None = one.draft.values.get("where")
    if written is not None:
        return written
    own = [photos[use.path] for use in one.photos]
    for photo in own:
        if photo.lat_deg is not None and photo.lon_deg is not None:
            return Position(photo.lat_deg, photo.lon_deg, photo.uncertainty_m, "photo")
    on_track = next((photo.track for photo in own if photo.track is not None), None)
    moment = one.date.moment
    return on_track or (place_on(tracks, moment) if moment is not None and tracks else None)


def _check_shares(settings: Settings, names: Names, found: ProblemList) -> None:
    known = {id.lower() for id in names.ids()}
    for share in settings.shares:
        for id in share.about:
            if id.lower() not in known:
                near = nearest(id, names.ids())
                fix = f"write {near}, if you mean that" if near else "name an ID of this journal"
                message = f"the share {share.name} is about {id}, which is not in this journal"
                found.at(SETTINGS_NAME, 0, "error", message, fix)
