"""`journal labels`: a sheet of labels to print, and IDs reserved for labels that are printed ahead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from journal.atomic_write import write_atomically
from journal.cache.resources import find_resources
from journal.commands.prompts import today_in
from journal.commands.workspace import Workspace
from journal.model import Ref
from journal.problems import Refusal, Unreadable, nearest
from journal.quantities import counted
from journal.reading.entries import Draft
from journal.reading.id_index import by_former_id
from journal.reading.label_codes import without_check
from journal.reading.listing import SETTINGS_NAME
from journal.reading.settings_file import read_settings, reserved_block
from journal.reading.toml_tables import addition_to
from journal.reading.values import parse_ref
from journal.settings import Settings
from journal.site.label_sheet import Printed, Sheet, SheetLayout, code_for, layout_of, sheets_html, size_named
from journal.site.pages.lookup import Lookup
from journal.site.pages.printed_labels import parts_of, printed, printed_ahead, usual_sheet
from journal.writing.new_entry import reserved_ids

_OURS = b'<meta name="generator" content="journal labels">'


@dataclass(frozen=True, slots=True)
class LabelsRequest:
    """What is asked for. of: an ID of which every unit or vessel gets a label. ahead: a kind, and how many new IDs.
    size, sheet: None for those of the settings. first: the place on the sheet that the first label goes to."""

    ids: tuple[str, ...] = ()
    of: str | None = None
    ahead: tuple[str, int] | None = None
    size: str | None = None
    sheet: Sheet | None = None
    first: int = 1
    to: Path = Path("labels.html")


def print_labels(workspace: Workspace, asked: LabelsRequest) -> Path:
    """Writes the sheet, and gives its path. Raises Refusal where nothing was named, a name is not known, the size does
    not fit, or a file that is not a sheet of labels is in the way."""
    if not (asked.ids or asked.of or asked.ahead):
        raise Refusal("name what to label: IDs, --of B-031 for every unit of a batch, or --new KIND N")
    target = asked.to.resolve()
    _refuse_file(target)
    read = workspace.read_whole()
    lookup = Lookup(read.journal, {})
    settings = read.journal.settings
    layout = layout_of(size_named(asked.size, settings.labels), asked.sheet or usual_sheet(settings))
    labels = list(_named(lookup, asked))
    new = _set_aside(asked, read.written.drafts, settings) if asked.ahead else ()
    if asked.ahead:
        labels += [printed_ahead(asked.ahead[0], id, settings) for id in new]
    page = sheets_html(labels, layout, asked.first, settings.title, find_resources())
    if new:
        _reserve(workspace.root / SETTINGS_NAME, str(asked.ahead[0] if asked.ahead else ""), new)
    write_atomically(target, page.encode())
    workspace.output.notice(*_notices(labels, layout, asked, new))
    return target


def _refuse_file(target: Path) -> None:
    """An earlier sheet is replaced, and nothing else."""
    if target.is_dir() or (target.exists() and _OURS not in target.read_bytes()[:4096]):
        raise Refusal(f"{target} already exists and is not a sheet of labels; name another file with --to")


def _named(lookup: Lookup, asked: LabelsRequest) -> Iterator[Printed]:
    ahead = {id.lower(): (kind, id) for kind, id in lookup.settings.labels.reserved}
    for written in asked.ids:
        reserved = ahead.get(written.lower())
        if reserved and written.lower() not in lookup.journal.by_id:  # set aside, and to be printed once more
            yield printed_ahead(*reserved, lookup.settings)
        else:
            yield printed(lookup, _known(lookup, written))
    if asked.of:
        whole = _known(lookup, asked.of)
        yield from (printed(lookup, part) for part in parts_of(lookup.journal.by_id[whole.id.lower()]))


def _known(lookup: Lookup, written: str) -> Ref:
    """An ID or part as the journal has it. Raises Refusal."""
    try:
        ref = parse_ref(without_check(written, lookup.journal.by_id))
    except Unreadable as unreadable:
        raise Refusal(f"{unreadable.message}; {unreadable.fix}") from None
    journal = lookup.journal
    row = journal.by_id.get(ref.id.lower()) or by_former_id(journal).get(ref.id.lower())
    if row is None:
        near = nearest(ref.id, (known.id for known in journal.by_id.values()))
        raise Refusal(f"there is no {ref.id} in this journal" + (f"; did you mean {near}?" if near else ""))
    found = Ref(row.id, ref.part)
    if ref.part and found not in parts_of(row):
        raise Refusal(f"{row.id} has no part {ref.part}")
    return found


def _set_aside(asked: LabelsRequest, drafts: Sequence[Draft], settings: Settings) -> tuple[str, ...]:
    kind, count = asked.ahead or ("", 0)
    today: date = settings.as_of or today_in(settings.time_zone)
    return reserved_ids(kind, count, drafts, settings, today)


def _reserve(file: Path, kind: str, ids: Sequence[str]) -> None:
    """Writes into the settings that these IDs are taken. Raises Refusal where they would not be read there."""
    if not file.is_file():
        raise Refusal(f"there is no {file}, in which the new IDs are reserved; `journal start` writes one")
    written = file.read_bytes()
    addition = addition_to(written, reserved_block(kind, ids))
    settings, problems = read_settings(written + addition)
    if not {(kind, id) for id in ids} <= set(settings.labels.reserved):
        why = next((problem.message for problem in reversed(problems)), "they are not read there")
        raise Refusal(f"the new IDs cannot be added at the end of {file} ({why}); correct it first")
    write_atomically(file, written + addition)


def _notices(labels: Sequence[Printed], layout: SheetLayout, asked: LabelsRequest, new: Sequence[str]) -> Iterator[str]:
    size = layout.size
    sheets = -(-(asked.first - 1 + len(labels)) // layout.places)
    next_place = (asked.first - 1 + len(labels)) % layout.places + 1
    yield (
        f"{counted(len(labels), 'label')} of {size.width_mm:g} x {size.height_mm:g} mm ({size.name}) on "
        f"{counted(sheets, 'sheet')} of {layout.sheet}; the next free place is {next_place}. Print at 100 %."
    )
    if new:
        which = f"{new[0]} is" if len(new) == 1 else f"{new[0]} to {new[-1]} are"
        yield f"{which} set aside in {SETTINGS_NAME}: no other new entry gets {'it' if len(new) == 1 else 'them'}."
    codes = [(label, code_for(label.texts, size)) for label in labels]
    shorter = [label.id for label, code in codes if code and code.text != label.texts[0]]
    if shorter:
        yield (
            f"The address is too long for a code on labels of this size: {counted(len(shorter), 'label')} "
            f"{'holds' if len(shorter) == 1 else 'hold'} the ID alone, which the journal's own Scan reads, and a "
            "phone's camera app only shows."
        )
    if none := [label.id for label, code in codes if code is None]:
        yield f"No code fits beside these IDs at this size: {', '.join(none[:5])}; choose a larger one."
    if crowded := [label.id for label, code in codes if not layout.has_room(label, code)]:
        yield (
            f"Not everything fits on {counted(len(crowded), 'label')} of this size, and the last lines are left out: "
            f"{', '.join(crowded[:5])}. Choose a larger one."
        )
