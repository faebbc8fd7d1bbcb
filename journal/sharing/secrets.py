"""What a share must not tell by name: IDs, places, permissions, persons, tents; also what stands in entries that could
not be read.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

from journal.geo.known_positions import Place
from journal.geo.parse import parse_position
from journal.model import Batch, Culture, Entry, Find, Journal, Note
from journal.problems import Unreadable, nearest
from journal.reading.front_matter import FrontMatter
from journal.reading.keys import KEYS
from journal.sharing.grant import Grant
from journal.sharing.normalise import Normalised, WrittenIds, normalise
from journal.sharing.program_words import WORD, is_given_name_too, is_ordinary, own_words

# What stands in entries that are wrong and so are no part of the journal, or not wholly: names and places in them must
# not be told either, and a reader that gives up on a line knows of none.

_TELLING = ("id", "place", "permission", "by", "identified by", "received from", "where")
_KEYS = frozenset(name for keys in KEYS.values() for name in keys)


@dataclass(frozen=True, slots=True)
class Unread:
    """As they were written: IDs, names of places, permissions, names of persons. spots: those positions that can be
    read."""

    ids: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    permissions: tuple[str, ...] = ()
    persons: tuple[str, ...] = ()
    spots: tuple[Place, ...] = ()


NOTHING_UNREAD = Unread()


def unread_of(fronts: Iterable[FrontMatter]) -> Unread:
    """What the keys of wrong entries say; a key that is misspelt counts as the one that it is most like."""
    told: dict[str, list[str]] = {name: [] for name in _TELLING}
    for front in fronts:
        for name, text in _values(front):
            told[name].append(text)
    persons = (*told["by"], *told["identified by"], *told["received from"])
    return Unread(
        ids=tuple(told["id"]),
        places=tuple(told["place"]),
        permissions=tuple(told["permission"]),
        persons=persons,
        spots=tuple(spot for text in told["where"] for spot in _spots(text)),
    )


def _values(front: FrontMatter) -> Iterator[tuple[str, str]]:
    for one in front.fields:
        name = one.name if one.name in _KEYS else nearest(one.name, _KEYS)
        if name in _TELLING:
            yield from ((name, item.text) for item in one.items if item.text)


def _spots(text: str) -> Iterator[Place]:
    try:
        place = parse_position(text)
    except Unreadable:
        return
    yield place.lat_deg, place.lon_deg


# What a share must not tell by name: IDs, places, permissions, persons, tents. One list, for the redaction that takes
# them out of what is told and for the check that looks for them in what came of it.

Kind = Literal["ID", "place", "permission", "person", "tent", "setting"]

METHODS = frozenset({
    "microscopy", "microscope", "sequence", "sequenced", "sequencing", "dna", "its", "barcode", "naked", "eye", "by",
    "spore", "spores", "print", "culture", "key", "chemistry", "reagent", "and",
})  # fmt: skip
"""How something is identified: words beside a person's name that name no person."""

_PARTS = re.compile(r"[,;:/&()\[\]\"“”]\s*+|(?<!\s)\s++(?:[,;:/&()\[\]\"“”]\s*+|(?:-|and|with|by|or)\s++)")
_JOINTS = re.compile(
    r"(?<!\s)\s++(?:at|of|in|on|near|from|under|behind|beside|below|above|beyond|off|opposite|past|to)\s++"
)
_ARTICLES = ("the", "a", "an", "at", "in", "on", "by", "near", "from", "my", "our")


@dataclass(frozen=True, slots=True)
class Secret:
    """Words that a share must not tell.

    words: in small letters, as `WORD` finds them. exact: where its letters' case must agree as well, how it is written.
    distinct: whether it is one word that no language has but as a name, so that it is known within others too.
    """

    kind: Kind
    words: tuple[str, ...]
    exact: str | None = field(default=None)
    distinct: bool = field(default=False)


@dataclass(frozen=True)
class Secrets:
    """grant: what is no secret. secrets: names, each once. ids: those that are not shared.

    excused: shared names, word by word in small letters, within which a secret may stand. keen: also such names as are
    ordinary words in other words and forms, and IDs as people write them in a hurry.
    """

    grant: Grant
    secrets: tuple[Secret, ...]
    ids: tuple[str, ...] = ()
    excused: frozenset[tuple[str, ...]] = frozenset()
    keen: bool = field(default=True, kw_only=True)

    def told_in(self, text: Normalised) -> Iterator[tuple[int, int, Secret]]:
        """Where in a text a secret is told: (start, end, which), in order, none within another."""
        ids = ((start, end, Secret("ID", (id.lower(),))) for start, end, id in self._written_ids.told_in(text))
        passed = 0
        names = list(self._names_in(text))
        if names and self.excused:
            excused = list(self._excused_in(text))
            names = [one for one in names if not any(start <= one[0] and one[1] <= end for start, end in excused)]
        for start, end, secret in sorted([*names, *ids], key=lambda told: (told[0], -told[1])):
            if start >= passed:
                yield start, end, secret
                passed = end

    @cached_property
    def _written_ids(self) -> WrittenIds:
        return WrittenIds(self.ids, tuple(sorted(self.grant.ids)), keen=self.keen)

    # Names

    def _names_in(self, text: Normalised) -> Iterator[tuple[int, int, Secret]]:
        words = [(found.start(), found.end()) for found in WORD.finditer(text.low)]
        for at, (start, end) in enumerate(words):
            word = text.low[start:end]
            for length in self._lengths.get(self._stem(word), ()):
                for secret in self._by_words.get(self._stems(text.low, words[at : at + length]), ()):
                    until = self._until(text, words[at : at + length], secret)
                    if until is not None:
                        yield start, until, secret
            if len(word) > _LEAST_JOINED:
                yield from ((start, end, secret) for secret in self._within(word))

    def _excused_in(self, text: Normalised) -> Iterator[tuple[int, int]]:
        words = [(found.group(), found.start(), found.end()) for found in WORD.finditer(text.low)]
        firsts: dict[str, list[tuple[str, ...]]] = defaultdict(list)
        for name in self.excused:
            firsts[name[0]].append(name)
        for at, (word, start, _) in enumerate(words):
            for name in firsts.get(word, ()):
                here = words[at : at + len(name)]
                if tuple(one for one, _, _ in here) == name:
                    yield start, here[-1][2]

    def _until(self, text: Normalised, here: list[tuple[int, int]], secret: Secret) -> int | None:
        """Where a secret ends whose words these are, or None where they are something else."""
        between = [text.plain[e:s].replace(" ", "").replace("\n", "") for (_, e), (s, _) in pairwise(here)]
        if any(len(gap) > _WIDEST_GAP for gap in between):
            return None
        start, end = here[0][0], here[-1][1]
        if len(secret.words) == 1 and text.low[start:end] not in _forms(secret):
            return None
        return end if secret.exact is None or text.plain[start:end] == secret.exact else None

    def _within(self, word: str) -> tuple[Secret, ...]:
        """The long names of one word, or run together, that a word holds which is itself none of the language:
        `alderbank2026`, `Heronslipissa`, `OldSandsound`."""
        if word not in self._within_words:
            is_none = len(word) > _LONGEST_HOLDING or is_ordinary(word)
            self._within_words[word] = () if is_none else tuple(self._held_by(word))
        return self._within_words[word]

    def _held_by(self, word: str) -> Iterator[Secret]:
        for length in self._joined_lengths:
            for at in range(len(word) - length + 1 if length < len(word) else 0):
                secret = self._joined.get(word[at : at + length])
                if secret and (secret.distinct or (self.keen and not at)):
                    yield secret
                    return

    @cached_property
    def _within_words(self) -> dict[str, tuple[Secret, ...]]:
        return {}

    @cached_property
    def _joined(self) -> Mapping[str, Secret]:
        whole = ("".join(one.words) for one in self.secrets)
        return {
            name: Secret(one.kind, (name,), distinct=one.distinct or len(one.words) > 1)
            for one, name in zip(self.secrets, whole, strict=True)
            if one.exact is None and len(name) >= _LEAST_JOINED and name not in own_words()
        }

    @cached_property
    def _joined_lengths(self) -> tuple[int, ...]:
        return tuple(sorted({len(name) for name in self._joined}, reverse=True))

    @cached_property
    def _by_words(self) -> Mapping[tuple[str, ...], tuple[Secret, ...]]:
        """Those of the same words; also by all their words run together."""
        found: dict[tuple[str, ...], list[Secret]] = defaultdict(list)
        for secret in self.secrets:
            found[tuple(map(self._stem, secret.words))].append(secret)
            if secret.distinct:
                found[f"{secret.words[0]}e",].append(secret)
            joined = "".join(secret.words)
            if len(secret.words) > 1 and len(joined) >= _LEAST_JOINED:
                found[self._stem(joined),].append(Secret(secret.kind, (joined,), distinct=True))
        return {words: tuple(secrets) for words, secrets in found.items()}

    @cached_property
    def _lengths(self) -> Mapping[str, tuple[int, ...]]:
        """First word -> of how many words those are that begin with it, the most first."""
        found: dict[str, set[int]] = defaultdict(set)
        for words in self._by_words:
            found[words[0]].add(len(words))
        return {word: tuple(sorted(lengths, reverse=True)) for word, lengths in found.items()}

    def _stems(self, low: str, here: list[tuple[int, int]]) -> tuple[str, ...]:
        return tuple(self._stem(low[start:end]) for start, end in here)

    def _stem(self, word: str) -> str:
        """A word without the ending of several: `banks` is `bank`."""
        return word[:-1] if len(word) > 3 and word.endswith("s") else word


def _forms(secret: Secret) -> tuple[str, ...]:
    """How a secret of one word is written; that of several, and whose, only where it is none of the language."""
    word = secret.words[0]
    return (word, f"{word}s", f"{word}es") if secret.distinct else (word,)


_WIDEST_GAP = 4
_LEAST_JOINED = 6
_LONGEST_HOLDING = 64


def secrets_of(journal: Journal, grant: Grant, unread: Unread = NOTHING_UNREAD) -> Secrets:
    """All that a share of a journal must not tell by name. unread: what stands in entries that are wrong.

    A single word in small letters that the program says of itself is no secret: the ID `fan`, or a place called
    `the wood`, tells nothing.
    """
    common = _ordinary_words(journal.public)
    found = [*_places(journal, unread, common), *_tents(journal, grant, common)]
    found += _persons(journal, grant, unread, common)
    secrets = Secrets(grant, tuple(dict.fromkeys(found)), tuple(dict.fromkeys(_ids(journal, grant, unread))))
    shared = {tuple(WORD.findall(normalise(name).lower())) for name in _shared_names(journal, grant)} - {()}
    bare = replace(secrets, ids=())
    return replace(secrets, excused=frozenset(name for name in shared if any(bare.told_in(Normalised(" ".join(name))))))


def _shared_names(journal: Journal, grant: Grant) -> Iterator[str]:
    """Names that a share tells since it was asked to: of IDs, of tents, of species."""
    yield from grant.ids
    yield from (tent.name for tent in journal.settings.tents if grant.has(tent.id))
    for entry in journal.entries():
        if isinstance(entry, Find | Culture | Batch | Note) and entry.species and grant.kept_back(entry) is None:
            yield entry.species


def _ids(journal: Journal, grant: Grant, unread: Unread) -> Iterator[str]:
    species = _words_of_species(journal.public)
    for id in (*(row.id for row in journal.by_id.values()), *filter(_ID.fullmatch, unread.ids)):
        low = id.lower()
        if not grant.has(id) and low not in own_words() and low not in species:
            yield id


_ID = re.compile(r"[A-Za-z][A-Za-z0-9-]{0,31}")


def _words_of_species(journal: Journal) -> frozenset[str]:
    """An ID that is one of them (`oyster`) is no secret: it would be taken out of the names of species."""
    rows: tuple[Find | Culture | Batch | Note, ...]
    rows = (*journal.finds, *journal.cultures, *journal.batches, *journal.notes)
    named = (row.species for row in rows)
    return frozenset(word for name in named if name for word in WORD.findall(normalise(name).lower()))


def _places(journal: Journal, unread: Unread, common: frozenset[str]) -> Iterator[Secret]:
    for place in (*(find.place for find in journal.finds), *unread.places):
        yield from _named("place", _without_ids(place, journal), common)
    for permission in (*(find.permission for find in journal.finds), *unread.permissions):
        yield from _named("permission", _without_ids(permission, journal), common)


def _without_ids(written: str | None, journal: Journal) -> str | None:
    """What is written without the journal's IDs, which are secrets of their own, or are shared; but for one that is an
    ordinary word."""
    return written and _ID_WITH_A_NUMBER.sub(
        lambda found: "" if found.group().lower() in journal.by_id else found.group(), written
    )


_ID_WITH_A_NUMBER = re.compile(r"(?<![\w-])[A-Za-z][A-Za-z0-9-]*[0-9][A-Za-z0-9-]*(?![\w-])")


def _tents(journal: Journal, grant: Grant, common: frozenset[str]) -> Iterator[Secret]:
    for tent in journal.settings.tents:
        if not grant.has(tent.id):
            yield from _named("tent", tent.name, common)


def _persons(journal: Journal, grant: Grant, unread: Unread, common: frozenset[str]) -> Iterator[Secret]:
    """Persons; where a share shows them, those that nothing shared names as its own."""
    shown = [entry for entry in journal.entries() if grant.share.by and grant.kept_back(entry) is None]
    known = {secret for name in _names_in(shown) for secret in _named("person", name, common)}
    author = [] if grant.share.by else [journal.settings.author]
    for name in dict.fromkeys([*author, *_names_in(journal.entries()), *unread.persons]):
        if (
            normalise(name).lower() not in ("the author", "unknown", normalise(journal.settings.author).lower())
            or name in author
        ):
            yield from (secret for secret in _named("person", name, common) if secret not in known)


def _names_in(entries: Iterable[Entry]) -> Iterator[str]:
    for entry in entries:
        yield entry.by
        if isinstance(entry, Find | Note) and entry.identified_by:
            yield entry.identified_by
        if isinstance(entry, Culture) and entry.received_from:
            yield entry.received_from


def _named(kind: Kind, written: str | None, common: frozenset[str]) -> Iterator[Secret]:
    """A name whole, its parts, and those of its words that are names themselves."""
    if not written:
        return
    whole = _without_article(WORD.findall(normalise(written)))
    if is_bare(written):
        yield from (Secret(kind, (before, whole[0].lower())) for before in _BEFORE_A_NUMBER)
        return
    parts = (_without_article(WORD.findall(part)) for part in _PARTS.split(normalise(written)))
    within = (_without_article(WORD.findall(part)) for part in _JOINTS.split(normalise(written)))
    several = [part for part in parts if len(part) > 1]
    several += [part for part in within if len(part) > 1 and any(word[0].isupper() for word in part)]
    for words in dict.fromkeys((whole, *several)):
        yield from _phrase(kind, words, common)
    for word in whole:
        low = word.lower()
        if len(word) > 2 and word.isalpha() and low not in own_words() | METHODS:
            if _is_distinct(kind, word, common):
                yield Secret(kind, (low,), distinct=True)
            elif word[0].isupper() and low not in common:
                yield Secret(kind, (low,), exact=word)


_BEFORE_A_NUMBER = ("place", "spot", "site", "plot", "patch", "compartment", "number")


def is_bare(name: str) -> bool:
    """Whether a name is a number or a letter alone, which is looked for only behind a word such as `plot`: pages hold
    too many of them."""
    words = _without_article(WORD.findall(normalise(name)))
    return len(words) == 1 and (not any(sign.isalpha() for sign in words[0]) or (len(words[0]) == 1 and name.isascii()))


def _is_distinct(kind: Kind, word: str, common: frozenset[str]) -> bool:
    """Whether a word of a name means that name in any case and form, and nothing else."""
    low = word.lower()
    if is_ordinary(low):
        return kind == "person" and word[0].isupper() and low not in common and is_given_name_too(low)
    return word[0].isupper() or (len(word) > _LEAST_OF_ANY_CASE and low not in common)


def _without_article(words: list[str]) -> tuple[str, ...]:
    while len(words) > 1 and words[0].lower() in _ARTICLES:
        words = words[1:]
    return tuple(words)


def _phrase(kind: Kind, words: tuple[str, ...], common: frozenset[str]) -> Iterator[Secret]:
    """A name of several words is a secret in any spelling. Of one word that is an ordinary word too, only the spelling
    with a capital letter means the name."""
    low = tuple(word.lower() for word in words)
    if not words or set(low) <= METHODS:
        return
    if len(words) > 1:
        yield Secret(kind, low)
    elif words[0].isalpha() and low[0] not in own_words() and _is_distinct(kind, words[0], common):
        yield Secret(kind, low, distinct=True)
    elif words[0][0].isupper() and (low[0] in common | own_words() or len(low[0]) < _LEAST_OF_ANY_CASE):
        yield Secret(kind, low, exact=words[0])
    elif low[0] not in own_words():
        yield Secret(kind, low)


_LEAST_OF_ANY_CASE = 3


def _ordinary_words(journal: Journal) -> frozenset[str]:
    """Words that the author's own texts write in small letters."""
    texts = map(normalise, prose_of(journal.entries()))
    return frozenset(word for text in texts for word in WORD.findall(text) if word.islower())


def prose_of(entries: Iterable[Entry]) -> Iterator[str]:
    """What entries say in running words: text and title."""
    for entry in entries:
        yield entry.text
        if "title" in entry.lines:
            yield entry.title
