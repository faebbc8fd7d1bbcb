"""A photo as a page shows it."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

from journal.model import Entry, Journal, Photo
from journal.site.addresses import month_of, picture_file
from journal.site.plan import Published
from journal.site.wording import clock, day_in_words


@dataclass(frozen=True, slots=True)
class Picture:
    """sources: (file from the site's root, width in px), smallest first; empty where the pixels cannot be read.

    width, height: of the largest, for the page's layout. taken: in words.
    """

    sources: tuple[tuple[str, int], ...]
    width: int
    height: int
    placeholder: str
    alt: str
    caption: str | None = None
    taken: str | None = None

    @property
    def small(self) -> str | None:
        return self.sources[0][0] if self.sources else None

    @property
    def large(self) -> str | None:
        return self.sources[-1][0] if self.sources else None


class Pictures:
    """Makes the pictures of a journal and remembers which published files they need."""

    def __init__(self, journal: Journal, published: Mapping[str, Published]) -> None:
        self._published = published
        self._photos: dict[str, Photo] = {}
        for photo in journal.photos:
            self._photos[unicodedata.normalize("NFC", photo.path)] = photo
        first_entry: dict[str, Entry] = {}
        for entry in journal.entries():
            for use in entry.photos:
                first_entry.setdefault(use.path, entry)
        shown = [photo for photo in journal.photos if photo.path in first_entry]
        self._month = {photo.path: month_of(photo, first_entry[photo.path]) for photo in shown}
        # One published picture has one file, whatever number of photos have its content.
        self._month_of_name: dict[str, str] = {}
        for path in sorted(self._month):
            if path in published:
                self._month_of_name.setdefault(published[path].name, self._month[path])
        self.files: dict[str, tuple[str, int]] = {}
        """File from the site's root -> (published name, width), for all pictures made so far."""

    def by_path(self, nfc_path: str) -> Photo | None:
        return self._photos.get(nfc_path)

    def of(self, path: str, alt: str, caption: str | None = None) -> Picture:
        """The picture of one photo; alt is used where there is no caption."""
        photo = self._photos[unicodedata.normalize("NFC", path)]
        taken = _taken_in_words(photo)
        published = self._published.get(photo.path)
        if published is None:
            return Picture((), photo.width or 0, photo.height or 0, "", caption or alt, caption, taken)
        month = self._month_of_name[published.name]
        sources = []
        for size in published.sizes:
            file = picture_file(month, published.name, size.width)
            self.files[file] = (published.name, size.width)
            sources.append((file, size.width))
        largest = published.sizes[-1]
        return Picture(
            tuple(sources), largest.width, largest.height, published.placeholder, caption or alt, caption, taken
        )

    def of_entry(self, entry: Entry, alt: str | None = None) -> tuple[Picture, ...]:
        """Every picture of an entry, those shown within its text included."""
        return tuple(self.of(use.path, alt or entry.title, use.caption) for use in entry.photos)

    def beside(self, entry: Entry) -> tuple[Picture, ...]:
        """The pictures of an entry that its text does not show."""
        return tuple(self.of(use.path, entry.title, use.caption) for use in entry.photos if not use.in_text)


def _taken_in_words(photo: Photo) -> str | None:
    """`22 November 2025, 14:05`, or the day alone where no more may be told."""
    if photo.taken is None:
        return None
    day = day_in_words(photo.taken.date())
    return day if photo.by_day else f"{day}, {clock(photo.taken)}"
