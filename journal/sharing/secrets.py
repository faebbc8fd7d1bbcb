"""Names that a share must not contain: of IDs, places, permissions, persons, tents, including those in entries that
cannot be read."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

from journal.geo.known_positions import Place
from journal.geo.parse import parse_position
from journal.model import Batch, Culture, Entry, Find, Journal, Note
from journal.problems import Unreadable, nearest
from journal.reading.front_matter import FrontMatter
from journal.reading.id_index import by_former_id
from journal.reading.keys import KEYS
from journal.sharing.grant import Grant
from journal.sharing.normalise import WORD, Normalised, WrittenIds, normalise
from journal.sharing.program_words import is_given_name_too, is_ordinary, own_words

_KEYS = frozenset(name for keys in KEYS.values() for name in keys)


@dataclass(frozen=True, slots=True)
class BrokenEntries:
    """The content of entries with errors, as written, which must not be shared either. positions: those that can be
    read."""

    ids: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    permissions: tuple[str, ...] = ()
    persons: tuple[str, ...] = ()
    positions: tuple[Place, ...] = ()


NO_BROKEN_ENTRIES = BrokenEntries()


def broken_entries_of(fronts: Iterable[FrontMatter]) -> BrokenEntries:
    """The values of keys in entries with errors; a misspelled key counts as the one that it resembles most."""
    texts: dict[str | None, list[str]] = defaultdict(list)
    for front in fronts:
        for one in front.fields:
            name = one.name if one.name in _KEYS else nearest(one.name, _KEYS)
            texts[name] += [item.text for item in one.items if item.text]
    positions = []
    for text in texts["where"]:
        with suppress(Unreadable):
            positions.append(parse_position(text))
    return BrokenEntries(
        ids=tuple(texts["id"]),
        places=(*texts["place"], *texts["patch"]),
        permissions=tuple(texts["permission"]),
        persons=(*texts["by"], *texts["identified by"], *texts["received from"]),
        positions=tuple((position.lat_deg, position.lon_deg) for position in positions),
    )


Kind = Literal["ID", "place", "permission", "person", "tent", "setting"]

METHODS = frozenset({
    "microscopy", "microscope", "sequence", "sequenced", "sequencing", "dna", "its", "barcode", "naked", "eye", "by",
    "spore", "spores", "print", "culture", "key", "chemistry", "reagent", "and",
})  # fmt: skip
"""How something was identified: words beside a person's name that are not a name."""

_PARTS = re.compile(r"[,;:/&()\[\]\"“”]\s*+|(?<!\s)\s++(?:[,;:/&()\[\]\"“”]\s*+|(?:-|and|with|by|or)\s++)")
_JOINTS = re.compile(
    r"(?<!\s)\s++(?:at|of|in|on|near|from|under|behind|beside|below|above|beyond|off|opposite|past|to)\s++"
)
_ARTICLES = ("the", "a", "an", "at", "in", "on", "by", "near", "from", "my", "our")


@dataclass(frozen=True, slots=True)
class Secret:
    """Words that a share must not contain. words: in lower case, as `WORD` finds them. exact: as written, if the case
    of letters must match as well. distinct: whether it is one word that can only be a name, so that it is found within
    other words too."""

    kind: Kind
    words: tuple[str, ...]
    exact: str | None = None
    distinct: bool = False


@dataclass(frozen=True)
class Secrets:
    """grant: what is not secret. secrets: names, each once. ids: those that are not shared. excused: shared names, word
    by word in lower case, within which a secret may occur. keen: also find names that are ordinary words within other
    words and in other forms, and IDs as people write them in a hurry."""

    grant: Grant
    secrets: tuple[Secret, ...]
    ids: tuple[str, ...] = ()
    excused: frozenset[tuple[str, ...]] = frozenset()
    keen: bool = field(default=True, kw_only=True)
    _beginnings: dict[str, tuple[Collection[int], tuple[Secret, ...]]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    """What `_begun_by` gave for each word for which it gave something."""
    _mute: set[str] = field(default_factory=set, init=False, repr=False, compare=False)
    """The words for which it gave nothing."""

    def mentions_in(self, text: Normalised) -> Iterator[tuple[int, int, Secret]]:
        """Where a text contains a secret: (start, end, which), in order, none within another."""
        ids = [(start, end, Secret("ID", (id.lower(),))) for start, end, id in self._written_ids.mentions_in(text)]
        names = list(self._names_in(text))
        if names and self.excused:
            excused = self._excused_in(text)
            names = [one for one in names if not any(start <= one[0] and one[1] <= end for start, end in excused)]
        passed = 0
        for start, end, secret in sorted([*names, *ids], key=lambda one: (one[0], -one[1])):
            if start >= passed:
                yield start, end, secret
                passed = end

    @cached_property
    def _written_ids(self) -> WrittenIds:
        return WrittenIds(self.ids, tuple(sorted(self.grant.ids)), keen=self.keen)

    def _names_in(self, text: Normalised) -> Iterator[tuple[int, int, Secret]]:
        for word in text.vocabulary.difference(self._mute, self._beginnings):
            if found := self._begun_by(word):
                self._beginnings[word] = found
            else:
                self._mute.add(word)
        if self._mute.issuperset(text.vocabulary):
            return
        words, telling = text.words, self._beginnings
        for at, (word, start, end) in enumerate(words):
            if word not in telling:
                continue
            lengths, within = telling[word]
            for length in lengths:
                here = words[at : at + length]
                for secret in self._by_words.get(tuple(_stem(one) for one, _, _ in here), ()):
                    if _is_there(text, [(s, e) for _, s, e in here], secret):
                        yield start, here[-1][2], secret
            yield from ((start, end, secret) for secret in within)

    def _begun_by(self, word: str) -> tuple[Collection[int], tuple[Secret, ...]] | None:
        """The lengths in words of the names that may begin with a word, and the name within that word; None if there is
        neither."""
        lengths = self._lengths.get(_stem(word), ())
        within = self._within(word) if len(word) > _LEAST_JOINED else ()
        return (lengths, within) if lengths or within else None

    def _excused_in(self, text: Normalised) -> list[tuple[int, int]]:
        words = text.words
        return [
            (words[at][1], words[at + length - 1][2])
            for length in {len(name) for name in self.excused}
            for at in range(len(words) - length + 1)
            if tuple(word for word, _, _ in words[at : at + length]) in self.excused
        ]

    def _within(self, word: str) -> tuple[Secret, ...]:
        """The long name within a word that is not itself in the dictionary: `alderbank2026`, `Heronslipissa`."""
        names = {} if len(word) > 64 or is_ordinary(word) else self._joined
        found = [
            (-len(name), word.find(name), one)
            for name, one in names.items()
            if len(name) < len(word) and (name in word if one.distinct else self.keen and word.startswith(name))
        ]
        longest_first = sorted(found, key=lambda row: row[:2])
        return tuple(one for *_, one in longest_first[:1])

    @cached_property
    def _joined(self) -> Mapping[str, Secret]:
        return {
            name: Secret(one.kind, (name,), distinct=one.distinct or len(one.words) > 1)
            for one in self.secrets
            for name in ("".join(one.words),)
            if one.exact is None and len(name) >= _LEAST_JOINED and name not in own_words()
        }

    @cached_property
    def _by_words(self) -> Mapping[tuple[str, ...], tuple[Secret, ...]]:
        """The secrets with the same words; also by all their words run together."""
        found: dict[tuple[str, ...], list[Secret]] = defaultdict(list)
        for secret in self.secrets:
            found[tuple(map(_stem, secret.words))].append(secret)
            if secret.distinct:
                found[f"{secret.words[0]}e",].append(secret)
            joined = "".join(secret.words)
            if len(secret.words) > 1 and len(joined) >= _LEAST_JOINED:
                found[_stem(joined),].append(Secret(secret.kind, (joined,), distinct=True))
        return {words: tuple(secrets) for words, secrets in found.items()}

    @cached_property
    def _lengths(self) -> Mapping[str, set[int]]:
        """First word -> the lengths in words of the secrets that begin with it."""
        found: dict[str, set[int]] = defaultdict(set)
        for words in self._by_words:
            found[words[0]].add(len(words))
        return found


def _stem(word: str) -> str:
    """A word without its plural ending: `banks` is `bank`."""
    return word[:-1] if len(word) > 3 and word.endswith("s") else word


def _is_there(text: Normalised, here: list[tuple[int, int]], secret: Secret) -> bool:
    """Whether these words, whose stems are those of a secret, are that secret."""
    between = (text.plain[e:s].replace(" ", "").replace("\n", "") for (_, e), (s, _) in pairwise(here))
    if any(len(gap) > 4 for gap in between):
        return False
    start, end = here[0][0], here[-1][1]
    word = secret.words[0]
    forms = (word, f"{word}s", f"{word}es") if secret.distinct else (word,)  # of several, and whose, for a name alone
    if len(secret.words) == 1 and text.low[start:end] not in forms:
        return False
    return secret.exact is None or text.plain[start:end] == secret.exact


_LEAST_JOINED = 6


def secrets_of(journal: Journal, grant: Grant, broken: BrokenEntries = NO_BROKEN_ENTRIES) -> Secrets:
    """All names that a share of a journal must not contain, except single words in lower case that the program itself
    uses, like the ID `fan` or a place called `the wood`. broken: the content of entries with errors."""
    public = [*journal.public.entries()]
    prose = [*(entry.text for entry in public), *(entry.title for entry in public if "title" in entry.lines)]
    common = frozenset(word for text in map(normalise, prose) for word in WORD.findall(text) if word.islower())
    tents = [tent.name for tent in journal.settings.tents if not grant.has(tent.id)]
    found = [*_places(journal, broken, common), *(one for name in tents for one in _named("tent", name, common))]
    found += _persons(journal, grant, broken, common)
    rows = (journal.public.finds, journal.public.cultures, journal.public.batches, journal.public.notes)
    called = (row.species for kind in rows for row in kind if row.species)
    # one of the words of species (`oyster`) is not secret: it would be removed from their names
    own = own_words().union(*(WORD.findall(normalise(name).lower()) for name in called))
    ids = (*(row.id for row in journal.by_id.values()), *filter(_ID.fullmatch, broken.ids))
    former = [id for row in by_former_id(journal).values() if not grant.has(row.id) for id in row.formerly]
    hidden = dict.fromkeys(id for id in (*ids, *former) if not grant.has(id) and id.lower() not in own)
    secrets = Secrets(grant, tuple(dict.fromkeys(found)), tuple(hidden))
    names = [*grant.ids, *(tent.name for tent in journal.settings.tents if grant.has(tent.id))]
    for entry in journal.entries():
        if isinstance(entry, Find | Culture | Batch | Note) and entry.species and grant.why_left_out(entry) is None:
            names.append(entry.species)
    shared = {tuple(WORD.findall(normalise(name).lower())) for name in names} - {()}
    bare = replace(secrets, ids=())
    return replace(
        secrets, excused=frozenset(name for name in shared if any(bare.mentions_in(Normalised(" ".join(name)))))
    )


_ID = re.compile(r"[A-Za-z][A-Za-z0-9-]{0,31}")


def _places(journal: Journal, broken: BrokenEntries, common: frozenset[str]) -> Iterator[Secret]:
    rows: list[tuple[Kind, str | None]] = [("place", find.place) for find in journal.finds]
    rows += [("place", find.patch) for find in journal.finds]
    rows += [("place", name) for name in broken.places]
    rows += [("permission", find.permission) for find in journal.finds]
    rows += [("permission", find.permit) for find in journal.finds]
    rows += [("permission", permit.name) for permit in journal.settings.permits]
    rows += [("permission", name) for name in broken.permissions]
    for kind, written in rows:  # without the journal's IDs, which are secrets themselves, or are shared
        bare = _ID_WITH_A_NUMBER.sub(lambda id: "" if id[0].lower() in journal.by_id else id[0], written or "")
        yield from _named(kind, bare, common)


_ID_WITH_A_NUMBER = re.compile(r"(?<![\w-])[A-Za-z][A-Za-z0-9-]*[0-9][A-Za-z0-9-]*(?![\w-])")


def _persons(journal: Journal, grant: Grant, broken: BrokenEntries, common: frozenset[str]) -> Iterator[Secret]:
    shown = [entry for entry in journal.entries() if grant.share.by and grant.why_left_out(entry) is None]
    known = {secret for name in _names_in(shown) for secret in _named("person", name, common)}
    author = [] if grant.share.by else [journal.settings.author]
    nobody = ("the author", "unknown", normalise(journal.settings.author).lower())
    for name in dict.fromkeys([*author, *_names_in(journal.entries()), *broken.persons]):
        if name in author or normalise(name).lower() not in nobody:
            yield from (secret for secret in _named("person", name, common) if secret not in known)


def _names_in(entries: Iterable[Entry]) -> Iterator[str]:
    for entry in entries:
        yield entry.by
        if isinstance(entry, Find | Note) and entry.identified_by:
            yield entry.identified_by
        if isinstance(entry, Culture) and entry.received_from:
            yield entry.received_from


def _named(kind: Kind, written: str, common: frozenset[str]) -> Iterator[Secret]:
    if not written:
        return
    whole = _without_article(WORD.findall(normalise(written)))
    if is_bare(written):
        for before in ("place", "spot", "site", "plot", "patch", "compartment", "number"):
            yield Secret(kind, (before, whole[0].lower()))
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


def is_bare(name: str) -> bool:
    """Whether a name is only a number or a letter, which is searched for only after a word such as `plot`."""
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
    """A name of several words in any spelling; a name that is also an ordinary word only with a capital letter."""
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
