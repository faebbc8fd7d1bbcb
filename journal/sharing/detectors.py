"""The check at the end of every share: every byte of it is searched for what must not be shared.

What to search for is derived from the whole journal and the grant, not from the redacted journal, so that the check
finds what redaction missed.
"""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from journal.analysis.species_names import english_names
from journal.cache.resources import find_resources
from journal.cache.static_files import static_digests
from journal.geo import coarsen
from journal.geo.directions import directions_in
from journal.geo.known_positions import KnownPlaces
from journal.model import Entry, Journal
from journal.reading.private_passages import split_private
from journal.settings import Share
from journal.sharing.clean_text import file_names_of
from journal.sharing.decoders import Unwanted, texts_in
from journal.sharing.grant import FIELDS, Grant, grant_of, withheld_fields
from journal.sharing.normalise import WORD, Normalised, normalise, parted
from journal.sharing.program_words import own_words, page_texts
from journal.sharing.redact import all_places
from journal.sharing.secrets import METHODS, NO_BROKEN_ENTRIES, BrokenEntries, Secrets, secrets_of

RUN_WORDS = 5
"""This many words in the same order as in something that is not shared are no coincidence."""
RUN_WORDS_OF_AN_INDEX = 9
"""A script of the search index has each word of an entry once, so that words which were apart are side by side."""

_CLOCK = re.compile(r"(?<![0-9:.])([0-9]{2}:[0-5][0-9])(?![0-9])")
_CLOCK_OTHERWISE = re.compile(
    r"(?=[0-9])(?<![0-9:.])(?:(?<=\bat )([01]?[0-9]|2[0-3])\.([0-5][0-9])(?![0-9.]| ?[%°A-Za-z])"
    r"|([01]?[0-9]|2[0-3])h([0-5][0-9])(?!\w)"
    r"|([01][0-9]|2[0-3])([0-5][0-9]) ?(?:hrs|hours)\b)"
)
_PERSONS = frozenset({"by", "author", "identified_by"})
_PATHS = frozenset({"path", "entries", "lines", "date", "digest"})


@dataclass(frozen=True, slots=True)
class Mention:
    """Something that must not be shown: its kind, and its place in the normalised text."""

    what: str
    start: int
    end: int


@dataclass(frozen=True)
class Detectors:
    """Everything that must not be shown. rare: words of unshared text that occur in nothing shared and in none of the
    program's own texts. runs: word sequences that are too long to be a coincidence. clocks: times of day (`14:05`) of
    what is shared by the day. strings: names of files and more, as written, in lower case. way_words: all words of the
    shared texts that describe a way, which their author has looked at."""

    secrets: Secrets
    places: KnownPlaces
    rare: frozenset[str]
    runs: frozenset[tuple[str, ...]]
    clocks: frozenset[str]
    strings: tuple[str, ...]
    way_words: frozenset[str] = frozenset()

    def found_in(self, text: str, run_words: int = RUN_WORDS) -> Iterator[Mention]:
        """Every such thing in a text; run_words: how many words in a row are no coincidence there, 5 or more."""
        folded = Normalised.loosely(text)
        for start, end, secret in self.secrets.mentions_in(folded):
            yield Mention(f"{'an' if secret.kind == 'ID' else 'a'} {secret.kind}", start, end)
        yield from (Mention("a position", *span) for span in self.places.mentions_in(folded.plain))
        yield from self._words(folded, run_words)
        for start, end in directions_in(folded.plain):
            words = set(WORD.findall(folded.low[start:end]))
            if " ".join(folded.plain[start:end].split()) not in _own_directions() and not words <= self.way_words:
                yield Mention("a way from which a place could be calculated", start, end)
        for pattern in (_CLOCK, _CLOCK_OTHERWISE) if self.clocks else ():
            for found in pattern.finditer(folded.plain):
                if ":".join(filter(None, found.groups())).zfill(5) in self.clocks:
                    yield Mention("a time of day", *found.span())

    @cached_property
    def _by_word(self) -> dict[str, list[tuple[str, int]]]:
        """The first word of each string -> the string, and the offset of that word in it."""
        found: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for string in self.strings:
            if word := WORD.search(string):
                found[word.group()].append((string, word.start()))
        return found

    @cached_property
    def _begin_runs(self) -> frozenset[str]:
        return frozenset(run[0] for run in self.runs)

    def _words(self, folded: Normalised, run_words: int) -> Iterator[Mention]:
        by_word = self._by_word
        has_one = not (self.rare.isdisjoint(folded.vocabulary) and by_word.keys().isdisjoint(folded.vocabulary))
        for word, start, end in folded.words if has_one else ():
            if word in self.rare:
                yield Mention("a word of what is not shared", start, end)
            for string, before in by_word.get(word, ()):
                at, after = start - before, start - before + len(string)
                if at >= 0 and folded.low.startswith(string, at) and not folded.low[after : after + 1].isalnum():
                    yield Mention("a name of a file or setting", at, after)
        said, begins = folded.word_list, self._begin_runs
        first = [at for at, word in enumerate(said) if word in begins and tuple(said[at : at + RUN_WORDS]) in self.runs]
        in_a_row, before = RUN_WORDS, -RUN_WORDS
        for at in first:
            in_a_row = in_a_row + 1 if at == before + 1 else RUN_WORDS
            before = at
            if in_a_row >= run_words:
                words = folded.words
                yield Mention("a sentence of what is not shared", words[at][1], words[at + RUN_WORDS - 1][2])


@cache
def _own_texts() -> tuple[Normalised, ...]:
    """The texts that may be on any page, normalised, each once."""
    return tuple(map(Normalised.loosely, dict.fromkeys(page_texts())))


@cache
def _own_directions() -> frozenset[str]:
    found = ((text.plain, span) for text in _own_texts() for span in directions_in(text.plain))
    return frozenset(" ".join(text[start:end].split()) for text, (start, end) in found)


@cache
def _own_runs() -> frozenset[tuple[str, ...]]:
    return frozenset(_runs(page_texts()))


def detectors_of(
    journal: Journal,
    share: Share,
    files: Iterable[str] = (),
    strings: Iterable[str] = (),
    broken: BrokenEntries = NO_BROKEN_ENTRIES,
    kept_out: frozenset[tuple[str, str]] = frozenset(),
) -> Detectors:
    """What a share of a journal must not show. files: paths of other files in the journal's folder. strings: further
    strings that must not occur, in any case of letters, unless shared text has all of their words. broken: the content
    of entries with errors. kept_out: path and field of texts that the author leaves out. Raises Refusal if the share
    cannot be made."""
    grant, files = grant_of(journal, share), tuple(files)
    shared, left_out = _texts_of(journal, grant, kept_out)
    shared += _english_names_of(journal, grant)
    read = (form for text in shared for form in dict.fromkeys((text, parted(text))))
    shared_words = set(own_words() | METHODS).union(*map(_words_of, read))
    paths = (row.path for rows in (journal.entries(), journal.photos, journal.logs) for row in rows)
    others_words = (word for text in (*left_out, *files, *paths) for word in _words_of(text))
    worded = (e for e in journal.public.finds if grant.why_left_out(e) is None and not grant.is_wordless(e))
    positions = (coarsen.shown(find.position, find.locality, share) for find in worded)
    shown_places = dict.fromkeys((position.lat_deg, position.lon_deg) for position in positions if position)
    hidden_places = [place for place in all_places(journal) if place not in shown_places]
    cameras = {photo.camera for photo in journal.photos} | {clock.camera for clock in journal.settings.camera_clocks}
    named = (one.lower() for one in (*strings, *filter(None, cameras)))
    others = (one for one in named if not shared_words.issuperset(WORD.findall(one)))
    return Detectors(
        secrets=_not_said_by_program(secrets_of(journal, grant, broken)),
        places=KnownPlaces((*hidden_places, *broken.positions), tuple(shown_places)),
        rare=frozenset(w for w in others_words if len(w) >= 4 and not w.isdigit()) - shared_words,
        runs=frozenset(_runs(left_out)) - frozenset(_runs(shared)) - _own_runs(),
        clocks=_clocks(journal, grant) if share.times == "day" else frozenset(),
        strings=tuple(sorted({*_file_strings(journal, grant, files), *others})),
        way_words=frozenset(w for text in shared if any(True for _ in _ways(text)) for w in _words_of(text)),
    )


def _english_names_of(journal: Journal, grant: Grant) -> Iterator[str]:
    """The program's names of the shared species, by which the search of a share finds them."""
    for entry in journal.public.entries():
        if grant.why_left_out(entry) is None:
            yield from (name for names in english_names(getattr(entry, "species", None)).values() for name in names)


def _ways(text: str) -> Iterator[tuple[int, int]]:
    return directions_in(Normalised.loosely(text).plain)


def _not_said_by_program(secrets: Secrets) -> Secrets:
    """The secrets that are neither in the program's own texts nor among its counters (`T1`, `day-3`)."""
    plain = replace(secrets, keen=False)
    said = {secret for text in _own_texts() for _, _, secret in plain.mentions_in(text)}
    own = own_words()
    names = (one for one in secrets.secrets if one not in said and not (len(one.words) == 1 and one.words[0] in own))
    said_ids = {secret.words[0] for secret in said if secret.kind == "ID"}
    ids = (id for id in secrets.ids if id.lower() not in said_ids and not _is_counted(id.lower()))
    return replace(plain, secrets=tuple(names), ids=tuple(ids))


_COUNTED = re.compile(r"([a-z]+)-?(0|[1-9][0-9]{0,2})")


def _is_counted(id: str) -> bool:
    """Whether an ID looks like a counter of pages: a transfer, a generation of spawn, a day, a flush."""
    found = _COUNTED.fullmatch(id)
    return found is not None and (found[1] in {"t", "g"} or (len(found[1]) > 2 and found[1] in own_words()))


def _file_strings(journal: Journal, grant: Grant, files: Iterable[str]) -> Iterator[str]:
    """Names of files, with their suffixes, and stems that no page contains anyway."""
    for name in file_names_of(journal, files):
        stem = name.rpartition(".")[0]
        if not (stem and (grant.has(stem) or stem in own_words())):
            yield name
    yield from (source.files.lower() for source in journal.settings.climate)
    if journal.settings.site_url:
        yield journal.settings.site_url.lower()


def _clocks(journal: Journal, grant: Grant) -> frozenset[str]:
    """Times of day of entries and photos, except hours of light that are shared and times in the program's own
    texts."""
    dates = [entry.date for entry in (*journal.entries(), *journal.public.entries())]
    moments = [date.moment for date in dates] + [photo.taken for photo in journal.photos]
    clocks = {moment.strftime("%H:%M") for moment in moments if moment is not None}
    lights = [e.light for e in journal.public.tent_entries if e.light and not grant.why_left_out(e)]
    clocks -= {clock for light in lights for clock in (light.lit_from, light.lit_to) if clock}
    clocks -= {clock for text in page_texts() for clock in _CLOCK.findall(text)}
    return frozenset(clock for clock in clocks if int(clock[:2]) + int(clock[3:]) != 24)


def _texts_of(journal: Journal, grant: Grant, kept_out: frozenset[tuple[str, str]]) -> tuple[list[str], list[str]]:
    """(author's texts that may be shared, those that may not): the public journal's texts by field, and all others."""
    private = {entry.path for entry in journal.entries() if entry.private}
    rows: list[tuple[Any, bool]] = [(entry, False) for entry in journal.entries()]
    rows += [(e, grant.why_left_out(e) is None and e.path not in private) for e in journal.public.entries()]
    rows += [(tent, grant.has(tent.id)) for tent in journal.settings.tents]
    rows.append((replace(journal.settings, tents=()), True))
    texts: dict[bool, list[str]] = {True: [], False: []}
    for row, is_shared in rows:
        is_entry = isinstance(row, Entry)
        gone = withheld_fields(row, grant) if is_entry else frozenset()
        for one in fields(row):
            if one.name in _PATHS:
                continue
            if is_entry and one.name == "title" and one.name in gone and "title" not in row.lines:
                continue  # made from the entry's other fields
            way = FIELDS[type(row)].get(one.name, "gone")
            is_person = way == "person" or one.name in _PERSONS
            passes = is_shared and way != "gone" and one.name not in gone and (grant.share.by or not is_person)
            is_single = not isinstance(getattr(row, one.name), tuple)  # of several, others may be shared
            passes = passes and not (is_entry and is_single and (row.path, one.name) in kept_out)
            if is_entry and one.name == "text":
                for passage, is_private_passage in split_private(row.text):
                    texts[passes and not is_private_passage].append(passage)
            else:
                texts[passes] += _leaves(getattr(row, one.name))
    return texts[True], texts[False]


def _leaves(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif is_dataclass(value) and not isinstance(value, type):
        yield from _leaves([getattr(value, field.name) for field in fields(value) if field.name not in _PATHS])
    elif isinstance(value, tuple | frozenset | list):
        for one in value:
            yield from _leaves(one)


def _words_of(text: str) -> list[str]:
    return WORD.findall(Normalised.loosely(text).low)


def _runs(texts: Iterable[str]) -> Iterator[tuple[str, ...]]:
    for words in map(_words_of, texts):
        for at in range(len(words) - RUN_WORDS + 1):
            yield tuple(words[at : at + RUN_WORDS])


MOST_OF_A_KIND = 3
"""At most this many findings of one kind are reported per file; further ones would say the same."""


@dataclass(frozen=True, slots=True, order=True)
class Leak:
    """Something that a share contains and must not. file: from the folder's root. what: its kind. where: how to get to
    it. shown: the words themselves, with those around them; "" if there are none."""

    file: str
    what: str
    where: str
    shown: str = ""

    def __str__(self) -> str:
        words = f": “{self.shown}”" if self.shown else ""
        return f"{self.where} reveals {self.what}{words}"


class Search:
    """Searches for what a share must not contain; content without findings is not searched again."""

    def __init__(self, detectors: Detectors) -> None:
        self._detectors = detectors
        self._well = set(static_digests(find_resources()))

    def leaks_in(self, folder: Path) -> tuple[Leak, ...]:
        """All findings in the files of a folder and their names. What cannot be searched counts as a leak. Raises
        OSError if a file cannot be read."""
        found: list[Leak] = []
        for path in sorted(folder.rglob("*")):
            name = path.relative_to(folder).as_posix()
            found += (Leak(name, one.what, f"the name {name}") for one in self._detectors.found_in(path.name))
            if path.is_file():
                data = path.read_bytes()
                sources = ("sw.js", "js/pool.js", "js/refusals.js") if name == "sw.js" else ()
                for source in sources:  # for the worker, only what is not its source
                    data = data.replace((find_resources() / "static" / source).read_bytes(), b"")
                found += self._leaks_in_bytes(name, data)
        return tuple(sorted(set(found)))

    def _leaks_in_bytes(self, name: str, data: bytes) -> list[Leak]:
        if self._is_well(data):
            return []
        seen: dict[tuple[str, str], int] = {}
        leaks: list[Leak] = []
        for found in texts_in(name, data, self._is_well):
            if isinstance(found, Unwanted):
                leaks.append(Leak(name, found.what, found.where, found.shown))
                continue
            plain = ""
            run_words = RUN_WORDS_OF_AN_INDEX if found.where.partition(",")[0].endswith(".js") else RUN_WORDS
            for mention in self._detectors.found_in(found.text, run_words):
                if mention.end - mention.start < found.least:
                    continue
                plain = plain or normalise(found.text)
                words = " ".join(plain[mention.start : mention.end].split())
                seen[mention.what, words] = seen.get((mention.what, words), 0) + 1
                if seen[mention.what, words] == 1 and sum(what == mention.what for what, _ in seen) <= MOST_OF_A_KIND:
                    around = " ".join(plain[max(0, mention.start - 20) : mention.end + 20].split())
                    leaks.append(Leak(name, mention.what, found.where, around))
        if not leaks:
            self._well.add(hashlib.sha256(data).hexdigest())
        return leaks

    def _is_well(self, data: bytes) -> bool:
        """Whether it is one of the program's own files, the same on every site, or was searched before without
        findings."""
        return hashlib.sha256(data).hexdigest() in self._well
