"""`journal export`: the whole journal as JSON or tables; its finds as records for a herbarium or a GPS receiver."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal

import click

from journal.cache.resources import find_resources
from journal.commands.console import plain_json
from journal.commands.prompts import today_in
from journal.commands.workspace import Workspace
from journal.export.darwin_core import Medium, archive_of
from journal.export.document import document
from journal.export.example_journal import specimen
from journal.export.geojson import feature_collection
from journal.export.gpx import gpx_of, open_tracks
from journal.export.occurrences import OccurrenceRecord, RecordOptions, chosen_ids, records_of, share_of_finds
from journal.export.tables import refuse_unless_our_tables, tables_of, write_tables
from journal.export.voucher import sheet_of
from journal.pipeline import ReadJournal, publish
from journal.problems import Refusal
from journal.quantities import counted
from journal.settings import Settings
from journal.share_pipeline import Prepared, prepared_for
from journal.sharing.redact import TITLE
from journal.writing.blanks import write_new

Form = Literal["json", "csv", "darwin-core", "gpx", "geojson", "voucher"]
_STDOUT = Path("-")
_WHOLE_JOURNAL = ("json", "csv")


@dataclass(frozen=True, slots=True)
class ExportRequest:
    """What is asked for. to: a folder for tables, else a file; None or `-` prints. ids: of finds, `F-1,F-2`; all finds
    if there are none. area: the side of a cell in degrees. The others: what records contain, see `RecordOptions`."""

    form: Form
    to: Path | None
    ids: str | None = None
    exact: bool = False
    names: bool = True
    texts: bool = False
    photos: bool = False
    area: str = "0.1"

    @property
    def named(self) -> tuple[str, ...]:
        return tuple(filter(None, (id.strip() for id in (self.ids or "").split(","))))

    @property
    def wanted(self) -> RecordOptions:
        return RecordOptions(self.exact, self.names, self.texts)


def export_journal(workspace: Workspace, asked: ExportRequest) -> None:
    """Prints or writes what is asked for. Raises Refusal if the options contradict each other, or a file is in the
    way."""
    target = None if asked.to in (None, _STDOUT) else asked.to
    _refuse_what_does_not_fit(asked, target)
    if asked.form == "json":
        text = json.dumps(document(workspace.read()), ensure_ascii=False, indent=1)
        click.echo(plain_json(text).encode())
    elif asked.form == "csv" and target is not None:
        _write_tables(workspace, target.resolve())
    else:
        _export_records(workspace, asked, target.resolve() if target else None)


def _refuse_what_does_not_fit(asked: ExportRequest, target: Path | None) -> None:
    if asked.form == "json" and target is not None:
        raise Refusal("--to needs --as csv, or another form to write; leave out --to to print the JSON document")
    if asked.form == "csv" and target is None:
        raise Refusal("--as csv writes several files; name a folder for them with --to")
    if asked.form == "darwin-core" and target is None:
        raise Refusal("--as darwin-core makes a zip, which cannot be printed; name a file for it with --to")
    options = {"--ids": asked.named, "--exact": asked.exact, "--no-names": not asked.names, "--texts": asked.texts}
    given = [name for name, value in options.items() if value]
    if asked.form in _WHOLE_JOURNAL and given:
        raise Refusal(f"{given[0]} does not go with --as {asked.form}, which exports the whole journal as it is")
    if asked.form != "darwin-core" and asked.photos:
        raise Refusal("--photos goes with --as darwin-core alone")


def _write_tables(workspace: Workspace, target: Path) -> None:
    refuse_unless_our_tables(target, workspace.root)  # before the journal is read, which can take a while
    tables = tables_of(document(workspace.read()), document(specimen()))
    with workspace.at_target(target):
        write_tables(tables, target, workspace.root)
    rows = counted(sum(len(table.rows) for table in tables), "row")
    workspace.output.notice(f"{counted(len(tables), 'table')} with {rows} in {target}")


def _export_records(workspace: Workspace, asked: ExportRequest, target: Path | None) -> None:
    if target is not None:
        _refuse_file(target, workspace.root)
    read = workspace.read_whole()
    public = read.journal.public
    ids = chosen_ids(read.journal, asked.named)
    redacted = _redacted(workspace, read, ids, asked)
    shown = redacted.redaction.journal if redacted else public
    records = records_of(shown, public, ids, asked.wanted)
    content = _content(workspace, read, asked, records, redacted)
    if target is None:
        click.echo(content, nl=False)
    else:
        write_new(target, content)
        workspace.output.notice(f"{counted(len(records), 'record')} in {target}")
    workspace.output.notice(*_notices(read, asked, records))


def _redacted(workspace: Workspace, read: ReadJournal, ids: Sequence[str], asked: ExportRequest) -> Prepared | None:
    """The finds as a share of only them would show them; None if everything is exported as it is."""
    if not ids or (asked.exact and asked.names):
        return None
    share = share_of_finds(ids, asked.wanted, float(asked.area))
    return prepared_for(workspace.memory(), read, share)


def _content(
    workspace: Workspace,
    read: ReadJournal,
    asked: ExportRequest,
    records: Sequence[OccurrenceRecord],
    redacted: Prepared | None,
) -> bytes:
    settings = redacted.redaction.journal.settings if redacted else read.journal.settings
    if settings.title == TITLE:
        settings = replace(settings, title="Fungi")
    if asked.form == "darwin-core":
        media = tuple(_media(workspace, read, asked, records, redacted)) if asked.photos else ()
        return archive_of(records, settings, asked.names, _published_on(read.journal.settings), media)
    if asked.form == "geojson":
        text = plain_json(json.dumps(feature_collection(records), ensure_ascii=False, indent=1)) + "\n"
    elif asked.form == "gpx":
        only = [record.find for record in records] if asked.named else []
        tracks = open_tracks(read.tracks, read.journal, only) if asked.exact else ()
        text = gpx_of(records, tracks, settings.units)
    else:
        text = sheet_of(records, settings, find_resources())
    return text.encode("utf-8")


def _published_on(settings: Settings) -> date:
    return settings.as_of or today_in(settings.time_zone)


def _media(
    workspace: Workspace,
    read: ReadJournal,
    asked: ExportRequest,
    records: Sequence[OccurrenceRecord],
    redacted: Prepared | None,
) -> Iterator[Medium]:
    """The finds' own photos at their largest published size, without the metadata of cameras."""
    finds = {find.id: find for find in read.journal.public.finds}
    paths = {use.path for record in records for use in finds[record.find.id].photos}
    memory = workspace.memory()
    with workspace.output:
        published = publish(memory, read.written, paths, workspace.output.progress)
    memory.cache.save()
    for record in records:
        captions = {use.path: use.caption or "" for use in record.find.photos if asked.wanted.surroundings}
        for use in finds[record.find.id].photos:
            if made := published.get(use.path):
                data = (workspace.cache_folder / "pictures" / f"{made.name}-{made.sizes[-1].width}.webp").read_bytes()
                shown = redacted.redaction.photos[use.path] if redacted else use.path
                taken = read.journal.photo_by_path[use.path].taken
                yield Medium(record.find.id, data, captions.get(shown, ""), taken.date().isoformat() if taken else "")


def _notices(read: ReadJournal, asked: ExportRequest, records: Sequence[OccurrenceRecord]) -> Iterator[str]:
    """What the author has to know about the records before passing them on."""
    public = read.journal.public.finds
    if not asked.named and (private := len(read.journal.finds) - len(public)):
        yield f"{counted(private, 'private find')} left out."
    exact = [record for record in records if record.position and record.position.grid_deg is None]
    kept_back = sum(record.find.locality != "exact" for record in exact)
    if exact:
        yield (
            f"Exact positions of {counted(len(exact), 'find')} are in it, {kept_back:,} of them without "
            "`locality: exact`. Give it only to those who may know the places."
        )
    withheld = [record for record in records if record.withholds]
    if withheld:
        cells = sum(record.position is not None for record in withheld)
        yield (
            f"Positions withheld: {len(withheld) - cells:,}; given as a square of {asked.area}°: {cells:,}. "
            "--exact gives them as they are."
        )
    if asked.form == "gpx":
        if unplaced := sum(record.position is None for record in records):
            yield f"{counted(unplaced, 'find')} without a position to give left out."
        if read.tracks and not asked.exact:
            yield "Tracks lead to the finds, so they are in it with --exact only."
        elif len(open_tracks(read.tracks, read.journal)) < len(read.tracks):
            yield "Tracks without points, and those of the day or place of a private find, are left out."
    if asked.names and asked.form != "gpx" and records:
        yield "Names of persons (who found, who identified) are in it; --no-names leaves them out."
    if asked.photos:
        yield "Look at every photo in it first: a sign or a hilltop can reveal a place just as a position does."


def _refuse_file(target: Path, journal: Path) -> None:
    """Raises Refusal if a new file cannot be put there: an existing file is never overwritten."""
    if target.is_relative_to(journal):
        raise Refusal(f"--to {target} is in the journal; name a file outside it")
    if os.path.lexists(target):
        raise Refusal(f"--to {target} is there already; delete it, or name another file")
    if not target.parent.is_dir():
        raise Refusal(f"--to {target}: there is no folder {target.parent}; make it first")
