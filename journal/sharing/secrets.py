"""What a share must not tell by name: IDs, places, permissions, persons, tents. One list, for the redaction that takes
them out of what is told and for the check that looks for them in what came of it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Literal

from journal.model import Batch, Culture, Entry, Find, Journal, Note
from journal.sharing.folding import Folded, fold
from journal.sharing.granting import Grant
from journal.sharing.own_words import WORD, own_words
from journal.sharing.unread import NOTHING_UNREAD, Unread
from journal.sharing.written_ids import WrittenIds

Kind = Literal["ID", "place", "permission", "person", "tent", "setting"]

METHODS = frozenset({
    "microscopy", "microscope", "sequence", "sequenced", "sequencing", "dna", "its", "barcode", "naked", "eye", "by",
    "spore", "spores", "print", "culture", "key", "chemistry", "reagent", "and",
})  # fmt: skip
"""How something is identified: words beside a person's name that name no person."""

_PARTS = re.compile(r"[,;:/&()\[\]\"“”]\s*+|(?<!\s)\s++(?:[,;:/&()\[\]\"“”]\s*+|(?:-|and|with|by|or)\s++)")
_ARTICLES = ("the", "a", "an", "at", "in", "on", "by", "near", "from", "my", "our")


@dataclass(frozen=True, slots=True)
class Secret:
    """Words that a share must not tell.

    words: in small letters, as `WORD` finds them. exact: where its letters' case must agree as well, how it is written.
    """

    kind: Kind
    words: tuple[str, ...]
    exact: str | None = field(default=None)


@dataclass(frozen=True)
class Secrets:
    """grant: what is no secret. secrets: names, each once. ids: those that are not shared.

    keen: also names as they stand in other words and forms (`Alderbanks`), and IDs as people write them in a hurry.
    """

    grant: Grant
    secrets: tuple[Secret, ...]
    ids: tuple[str, ...] = ()
    keen: bool = field(default=True, kw_only=True)

    def told_in(self, text: Folded) -> Iterator[tuple[int, int, Secret]]:
        """Where in a text a secret is told: (start, end, which), in order, none within another."""
        ids = ((start, end, Secret("ID", (id.lower(),))) for start, end, id in self._written_ids.told_in(text))
        passed = 0
        for start, end, secret in sorted([*self._names_in(text), *ids], key=lambda told: (told[0], -told[1])):
            if start >= passed:
                yield start, end, secret
                passed = end

    @cached_property
    def _written_ids(self) -> WrittenIds:
        return WrittenIds(self.ids, tuple(sorted(self.grant.ids)), keen=self.keen)

    # Names

    def _names_in(self, text: Folded) -> Iterator[tuple[int, int, Secret]]:
        words = [(found.start(), found.end()) for found in WORD.finditer(text.low)]
        for at, (start, end) in enumerate(words):
            word = text.low[start:end]
            for length in self._lengths.get(self._stem(word), ()):
                for secret in self._by_words.get(self._stems(text.low, words[at : at + length]), ()):
                    until = self._until(text, words[at : at + length], secret)
                    if until is not None:
                        yield start, until, secret
            if self.keen and len(word) > _LEAST_JOINED:
                yield from ((start, end, secret) for secret in self._begun_with(word))

    def _until(self, text: Folded, here: list[tuple[int, int]], secret: Secret) -> int | None:
        """Where a secret ends whose words these are, or None where they are something else."""
        between = [text.plain[e:s].replace(" ", "").replace("\n", "") for (_, e), (s, _) in pairwise(here)]
        if any(len(gap) > _WIDEST_GAP for gap in between):
            return None
        start, end = here[0][0], here[-1][1]
        if len(secret.words) == 1 and text.low[start:end] != secret.words[0]:
            return None
        return end if secret.exact is None or text.plain[start:end] == secret.exact else None

    def _begun_with(self, word: str) -> Iterator[Secret]:
        """The long names of one word, or run together, with which a word begins: `alderbank2026`, `Heronslipissa`."""
        for length in self._joined_lengths:
            if length < len(word) and (secret := self._joined.get(word[:length])):
                yield secret
                return

    @cached_property
    def _joined(self) -> Mapping[str, Secret]:
        whole = ("".join(one.words) for one in self.secrets)
        return {
            name: Secret(one.kind, (name,))
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
            joined = "".join(secret.words)
            if len(secret.words) > 1 and len(joined) >= _LEAST_JOINED:
                found[self._stem(joined),].append(Secret(secret.kind, (joined,)))
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
        return word[:-1] if self.keen and len(word) > 3 and word.endswith("s") else word


_WIDEST_GAP = 4
_LEAST_JOINED = 6


def secrets_of(journal: Journal, grant: Grant, unread: Unread = NOTHING_UNREAD) -> Secrets:
    """All that a share of a journal must not tell by name. unread: what stands in entries that are wrong.

    A single word in small letters that the program says of itself is no secret: the ID `fan`, or a place called
    `the wood`, tells nothing.
    """
    common = _ordinary_words(journal)
    found = [*_places(journal, unread, common), *_tents(journal, grant, common)]
    found += _persons(journal, grant, unread, common)
    return Secrets(grant, tuple(dict.fromkeys(found)), tuple(dict.fromkeys(_ids(journal, grant, unread))))


def _ids(journal: Journal, grant: Grant, unread: Unread) -> Iterator[str]:
    species = _words_of_species(journal)
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
    return frozenset(word for name in named if name for word in WORD.findall(fold(name).lower()))


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
    keeper = [] if grant.share.by else [journal.settings.keeper]
    for name in dict.fromkeys([*keeper, *_names_in(journal.entries()), *unread.persons]):
        if fold(name).lower() not in ("the keeper", "unknown", fold(journal.settings.keeper).lower()) or name in keeper:
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
    whole = _without_article(WORD.findall(fold(written)))
    parts = [_without_article(WORD.findall(part)) for part in _PARTS.split(fold(written))]
    for words in dict.fromkeys((whole, *(part for part in parts if len(part) > 1 or "".join(part).istitle()))):
        yield from _phrase(kind, words, common)
    for word in whole:
        if word[0].isupper() and len(word) > 2 and word.lower() not in common | own_words() | METHODS:
            yield Secret(kind, (word.lower(),), exact=word)


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
    elif words[0][0].isupper() and (low[0] in common | own_words() or len(low[0]) < _LEAST_OF_ANY_CASE):
        yield Secret(kind, low, exact=words[0])
    elif low[0] not in own_words():
        yield Secret(kind, low)


_LEAST_OF_ANY_CASE = 3


def _ordinary_words(journal: Journal) -> frozenset[str]:
    """Words that the keeper's own texts write in small letters."""
    texts = map(fold, prose_of(journal.entries()))
    return frozenset(word for text in texts for word in WORD.findall(text) if word.islower())


def prose_of(entries: Iterable[Entry]) -> Iterator[str]:
    """What entries say in running words: text and title."""
    for entry in entries:
        yield entry.text
        if "title" in entry.lines:
            yield entry.title
