"""Which entry of the journal has a photo already."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from journal.model import Photo
from journal.reading.belonging import Album, shown_in, uses_of
from journal.reading.entries import Draft
from journal.reading.faults import Faults
from journal.reading.folder import nfc


@dataclass(frozen=True, slots=True)
class Claim:
    """entry: path of an entry that has the photo. only_of: the one day that a note has it for which does not name it,
    but has it because it lies beside; None where the entry has it on any day."""

    entry: str
    only_of: date | None = None

    def holds(self, day: date | None) -> bool:
        """Whether a photo of that day is the entry's. A note that stands alone in its folder would have every photo
        beside it, those of another day as well."""
        return self.only_of is None or day is None or day == self.only_of


def claims_in(drafts: Sequence[Draft], photos: Iterable[str]) -> Mapping[str, Claim]:
    """Photo path -> the first entry that has it; a photo that none has is not in it.

    photos: the paths of all photos of the journal.
    """
    uses = uses_of(drafts, Album(Photo(path=path, digest="") for path in photos), Faults(()))
    claims: dict[str, Claim] = {}
    for draft in drafts:
        for use in uses[draft.path]:
            claim = Claim(draft.path, _day_it_lies_beside(draft, use.path))
            if use.path not in claims or claim.only_of is None:
                claims[use.path] = claim
    return claims


def _day_it_lies_beside(draft: Draft, path: str) -> date | None:
    when = draft.values.get("date")
    if draft.kind not in ("note", "tent") or when is None or not when.counts_days:
        return None
    name = nfc(posixpath.basename(path)).casefold()
    written = [name for name, _ in draft.values.get("photos", ())]
    written += [shown.target for shown in shown_in(draft.text)]
    is_named = any(nfc(posixpath.basename(one.replace("\\", "/"))).casefold() == name for one in written)
    day: date = when.first
    return None if is_named else day
