"""The author's texts without what is not shared."""

from __future__ import annotations

import posixpath
import re
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from html import unescape
from urllib.parse import unquote, urlsplit

from journal.geo.detect import Span, merged, positions_in
from journal.geo.directions import directions_in
from journal.geo.known_positions import KnownPlaces
from journal.model import Journal
from journal.reading.private_passages import split_private
from journal.settings import Share
from journal.sharing.normalise import Normalised, parted
from journal.sharing.secrets import Secrets

_LINK_TITLE = r"(?:\"[^\"]*\"|'[^']*'|\([^()]*\))"
_LINK = re.compile(
    r"(?P<bang>!?)\[(?P<words>(?:[^\[\]]|\[[^\[\]]*\])*+)\]"
    r"\((?:\s*+(?:<(?P<pointed>[^<>\n]*)>|(?P<bare>(?:[^\s()<>]|\([^\s()]*\))*+))"
    rf"(?:\s++{_LINK_TITLE})?\s*+|\s++{_LINK_TITLE}\s*+)\)"
)
_DEFINITION = re.compile(r"^ {0,3}\[(?P<label>[^\]\n]+)\]:[^\n]*\n?", re.MULTILINE)
_BY_REFERENCE = re.compile(r"(?P<bang>!?)\[(?P<words>[^\[\]]*)\] ?\[(?P<label>[^\[\]\n]*)\]")
_ELSEWHERE = re.compile(
    r"map|geo|(?<![a-z])(?:loc(?:ation|ate)?s?|places?)(?![a-z])|goo\.gl|track|w3w|what3words|//osm|\.osm|bit\.ly|tinyurl|//t\.co/|is\.gd|ow\.ly|/go/|/@"
    r"|/(?!www\.)[a-z]{3,}\.[a-z]{3,}\.(?!(?:com|org|net|edu|gov)/?$)[a-z]{3,}/?$",
    re.IGNORECASE,
)
"""What identifies the address of a map, of a place on one, or of a short link whose target is not visible."""
_ADDRESS = re.compile(
    r"<?\b(?:[a-z][a-z0-9+.-]{1,30}://|(?:geo|mailto|tel|sms|data|javascript):|www\.)[^\s<>\"]+>?", re.I
)
_PART = re.compile(r"\.[0-9]+$")
_SET_ASIDE = re.compile("[\ue000-\uf8ff]")
_FIRST, _LAST = 0xE000, 0xF8FE

Test = Callable[[str], bool]
ShownLink = Callable[[str], str | None]
"""From the target of a picture to its name in the share; None if the share does not show it."""


class Placeholders:
    """A text without the targets of its links and its pictures. A character of Unicode's private use area stands for
    each one that stays; such characters in the text itself are dropped. Links by reference, and links to anything but
    web pages and shared IDs, become plain words. has: whether an ID is shared."""

    def __init__(self, text: str, shown: ShownLink, clean: Callable[[str], str], harmless: Test, has: Test) -> None:
        self._shown, self._clean, self._harmless, self._has = shown, clean, harmless, has
        self._kept: list[tuple[str, str]] = []
        whole = _SET_ASIDE.sub("", text)
        labels = frozenset(found["label"].casefold() for found in _DEFINITION.finditer(whole))

        def words_alone(found: re.Match[str]) -> str:
            """The words of a link whose reference was defined; nothing for a picture."""
            if (found["label"] or found["words"]).casefold() not in labels:
                return found.group()
            return "" if found["bang"] else found["words"]

        bare = _BY_REFERENCE.sub(words_alone, _DEFINITION.sub("", whole))
        self.text = _ADDRESS.sub(self._address, _LINK.sub(self._link, bare))

    def put_back(self, text: str, mark: str) -> str:
        """The text with links and pictures put back. A link that contains `mark`, because something was removed,
        becomes plain words."""
        for number, (opening, closing) in enumerate(self._kept):
            begins, ends = _signs(number)
            words = text.partition(begins)[2].partition(ends)[0]
            stays = begins in text and (not closing or (ends in text and mark not in words))
            text = text.replace(begins, opening if stays else "").replace(ends, closing if stays else "")
        return text

    def _link(self, found: re.Match[str]) -> str:
        target = unquote(found["pointed"] if found["pointed"] is not None else found["bare"] or "")
        if found["bang"]:
            name = self._shown(target)
            words = self._clean(unescape(found["words"])).replace("[", "(").replace("]", ")") if name else ""
            return self._aside(f"![{words}]({name})", "")[0] if name else ""
        words = _LINK.sub(self._link, found["words"])
        if not self._may_stay(target):
            return words
        begins, ends = self._aside("[", f"]({target})")
        return f"{begins}{words}{ends}"

    def _address(self, found: re.Match[str]) -> str:
        written = found.group()
        target = written.strip("<>").rstrip(".,;:)")
        if not self._may_stay(f"https://{target}" if target.lower().startswith("www.") else target):
            return NOT_SHARED + written.strip("<>")[len(target) :]
        return self._aside(written, "")[0]

    def _aside(self, opening: str, closing: str) -> tuple[str, str]:
        """The characters that stand for what is kept; nothing if there are more links than such characters."""
        if _FIRST + 2 * len(self._kept) + 1 > _LAST:
            return "", ""
        self._kept.append((opening, closing))
        return _signs(len(self._kept) - 1)

    def _may_stay(self, target: str) -> bool:
        """Whether a link's target may be shared: an ID or a part of one, or a web page that is not a map and names
        nothing that is kept back."""
        if self._has(_PART.sub("", target)):
            return True
        try:
            parts = urlsplit(target)
        except ValueError:
            return False
        if parts.scheme.lower() not in ("http", "https") or "@" in target:
            return False
        if _ELSEWHERE.search(target) or re.search(r"[\s()<>]", target):
            return False
        return self._harmless(re.sub(r"[/_.?=&+-]+", " ", unquote(target))) and self._harmless(unquote(target))


def _signs(number: int) -> tuple[str, str]:
    return chr(_FIRST + 2 * number), chr(_FIRST + 2 * number + 1)


NOT_SHARED = "(not shared)"
"""Replaces whatever is removed: a blank would read as if nothing had been there."""

_ENDINGS = (
    "jpe?g|heic|heif|png|webp|tiff?|avif|gif|raw|dng|cr2|cr3|nef|arw|orf|mov|mp4|m4a|wav|csv|tsv|gpx|kml|kmz|fit|geojson"
    "|json|toml|ya?ml|md|txt|log|xlsx?|ods|pdf|docx?|odt|zip|db|sqlite|html?|py|exe"
)
_OF_A_FILE = re.compile(r"[\w~%+()/\\:@.-]+")
_FILE_BEGINS = re.compile(r"(?<![\w.])[\w~%+()/\\:@-]")
_BETWEEN_DOTS = re.compile(r"[\w-]+")
_ENDING = re.compile(rf"(?:{_ENDINGS})\b", re.IGNORECASE)
_CAMERA = re.compile(r"\b(?:IMG|DSC|DSCN|DSCF|PXL|MVI|VID|WA|CIMG|PANO|GOPR|DJI)[_-]?[0-9]{3,}\w*", re.IGNORECASE)
_FOLDER = re.compile(
    r"(?:\b[A-Za-z]:\\|\\\\\w|(?<!\w)~/|(?<!\w)/(?:home|users|mnt|media|var|tmp|volumes|storage|sdcard)/|(?<!\w)\w++:///)[^\s)>\]\"']*",
    re.I,
)
_PERSONAL = re.compile(r"(?<![\w.+-])[\w.+-]++@[\w-]+(?:\.[\w-]+)+|(?<![\w/])@\w{2,}|\+[0-9][0-9 ()/-]{6,}[0-9]")
_CLOCK = re.compile(
    r"(?:(?<=[0-9])T)?(?<![0-9])(?<![0-9][:.,])(?P<h>[01]?[0-9]|2[0-4])[:h](?P<m>[0-5][0-9])(?::[0-5][0-9](?:[.,][0-9]+)?)?(?![0-9]|:[0-9])"
    r"(?: ?[ap]\.?m\b\.?)?(?: ?(?:Z|UTC|GMT|BST|CET|CEST)\b|[+-][0-9]{2}:?[0-9]{2}\b)?"
    r"|\b(?:1[0-2]|0?[1-9])(?:[.: ][0-5][0-9])? ?(?:[ap]m\b|[ap]\.m\.|o'clock\b)",
    re.IGNORECASE,
)
_UNIT = (
    r"(?:[kmc]?g|[kmc]?m|[mcd]?l|t|lbs?|oz|h|hours?|hrs?|min(?:utes?)?|s|sec|days?|weeks?|m\u00b2|ppm|psi|bar|[kh]?Pa|[kM]?W|kWh|V|A|K|C"
    r"|F|cfm|ft|feet|in|inch(?:es)?|cups?|tsp|tbsp|units?|blocks?|bags?|jars?|plates?|parts?|per ?cent|euros?|pounds?)"
    r"\b|[%\u2030\u00b0\u20ac\u00a3$\"]"
)
_RANGE_OF_UNITS = rf"(?:[0-9.,]{{1,8}}? ?(?:,|-|to|and|by|x) ?){{0,2}}[0-9]{{1,6}}(?:[.,][0-9]{{1,6}})? ?(?:{_UNIT})"
_ZONE = r"(?: ?(?:Z|UTC|GMT|BST|CET|CEST)\b)?"
_CLOCK_OTHERWISE = re.compile(
    # 10.40, unless the number is measured, counted or part of another; 1040 hrs, at 1040; 10 Uhr 40
    rf"(?<![0-9A-Za-z.,:/+\u2212$\u20ac\u00a3-])(?<![=<>~\u00b1\u00d7|] )"
    r"(?<!\b(?:pH|BE|EC|RH|of|is) )(?<!\b[xv] )"
    r"(?!0\.)(?P<h>[01]?[0-9]|2[0-3])\.(?P<m>[0-5][0-9])"
    rf"(?![0-9]|[.,:/][0-9]|[ -]?(?:{_UNIT})|(?: ?(?:,|-|to|and|by|x|\u00d7|/) ?){_RANGE_OF_UNITS}| ?[|=\u00d7\u00b1])"
    rf"(?: ?(?:hrs?|hours?|h|uhr)\b)?{_ZONE}"
    rf"|(?<![0-9A-Za-z.,:/+-])(?:[01]?[0-9]|2[0-3])[.: h]?[0-5][0-9] ?(?:hrs\b|hours\b|uhr\b){_ZONE}"
    r"|(?:(?<=\bat )|(?<=\bkl )|(?<=\bkl\. ))(?:[01][0-9]|2[0-3])[0-5][0-9]"
    rf"(?![0-9A-Za-z]|[.,:/][0-9]| ?(?:{_UNIT})){_ZONE}"
    rf"|\b(?:[01]?[0-9]|2[0-3]) uhr(?: [0-5][0-9])?\b",
    re.IGNORECASE,
)
_TELEPHONE = re.compile(
    r"(?<![\w.,:/+-])(?=\(?0(?:[ ()-]{0,2}[0-9]){8,13}(?![0-9]))\(?0[0-9]{2,5}\)?(?:[ -]?[0-9]{2,10}){1,5}(?![0-9])"
    r"|(?<![\w.,:/+-])(?:1[ .-])?\(?[2-9][0-9]{2}\)?[-. ][2-9][0-9]{2}[-.][0-9]{4}(?![\w-])"
    r"|(?<![\w.,:/+-])555-01[0-9]{2}(?![\w-])"
    r"|\b(?i:tel|telephone|phone|mobile|mob|ring|call)\b[.: ]{1,3}"
    r"(?:(?i:no|on|me on|number)\b[.: ]{1,2})?\(?[0-9][0-9 ()-]{4,16}[0-9]"
)
_POSTCODE = re.compile(
    r"(?<![\w-])[A-Za-z]{1,2}[0-9][A-Za-z0-9]? [0-9]"
    r"(?!(?i:lb|ft|hz|st|nd|rd|th|wh|ah|ug|pt|qt|pl)\b)[ABD-HJLNP-UW-Zabd-hjlnp-uw-z]{2}(?![\w-])"
    r"|(?<![\w-])[A-Z]{1,2}[0-9][A-Z0-9]?[0-9][ABD-HJLNP-UW-Z]{2}(?![\w-])"
    r"|(?<![\w-])[A-CEGHJ-NPR-TVXY][0-9][A-Z] ?[0-9][A-Z][0-9](?![\w-])"
    r"|\b(?i:post ?codes?|zip(?: code)?|plz)\b[.: ]{1,3}[A-Z0-9](?:[ -]?[A-Z0-9]){2,8}(?!\w)"
)
"""Postcodes of the United Kingdom and of Canada, and whatever is called a postcode. *Source:* BS 7666 (letters of the
second half; from memory)."""
_HOURS = "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|noon|midnight"
_CLOCK_IN_WORDS = re.compile(
    rf"\b(?:(?:half|quarter|five|ten|twenty|twenty[- ]five) (?:past|to) )?(?:{_HOURS}) o'clock\b"
    rf"|\b(?:half|(?:a )?quarter|five|ten|twenty|twenty[- ]five) past (?:{_HOURS})\b"
    # "five to eight" may be millimetres; it is a time if nothing that is counted follows
    rf"|\b(?:(?:a )?quarter|five|ten|twenty|twenty[- ]five) to (?:{_HOURS})\b"
    r"(?=\s*(?:$|[.,;:!?)\n]|(?:in|at|on|the same|this|that|when|and)\b))",
    re.IGNORECASE,
)
_RANGE = re.compile(r"[0-9]{1,2}:[0-9]{2} ?(?:-|to|until) ?[0-9]{1,2}:[0-9]{2}")
_LIGHT = re.compile(r"\b(?:light|lights|lamp|lamps|lit|timer|exhaust|hours on)\b", re.IGNORECASE)
_ARTICLE = re.compile(r"\b(?:the|an?) $", re.IGNORECASE)
_SEVERAL = re.compile(rf"{re.escape(NOT_SHARED)}(?:[\s,;:/&-]{{0,3}}{re.escape(NOT_SHARED)})+")


@dataclass(frozen=True)
class Cleaner:
    """Removes from texts what the journal marks as kept back, and positions in any notation; nothing else (see
    `doubts_in`). share: how precise times may be. The others: what must not be shown; files: names and stems in lower
    case; clocks: times of day like `14:05`."""

    share: Share
    secrets: Secrets
    places: KnownPlaces
    files: frozenset[str]
    clocks: frozenset[str] = frozenset()

    def words(self, text: str) -> str:
        """Cleans one line that the author wrote: a title, a caption, a value."""
        return self.prose(text, lambda target: None)

    def prose(self, text: str, shown: ShownLink) -> str:
        """Cleans a text in Markdown, without private passages; shown: the pictures that stay."""
        open_text = "".join(passage for passage, is_private_passage in split_private(text) if not is_private_passage)
        aside = Placeholders(open_text, shown, self._bare, self.is_harmless, self.secrets.grant.has)
        return aside.put_back(self._bare(aside.text), NOT_SHARED)

    def is_harmless(self, text: str) -> bool:
        return not any(True for _ in self._spans(text))

    def _bare(self, text: str) -> str:
        """A text without links, cleaned repeatedly, because what is removed may have hidden what was beside it."""
        for _ in range(5):
            before, text = text, self._cleaned(text)
            if text == before:
                break
        return text

    def _cleaned(self, text: str) -> str:
        kept, at = [], 0
        for start, end in merged(self._spans(text)):
            span = text[start:end]
            end -= len(span) - len(span.rstrip())
            kept += [text[at : start + len(span) - len(span.lstrip())], NOT_SHARED]
            at = end
        return _SEVERAL.sub(NOT_SHARED, "".join([*kept, text[at:]]))

    def _spans(self, text: str) -> Iterator[Span]:
        for pattern in self._odd_file_names:
            yield from (found.span() for found in pattern.finditer(text))
        yield from (span for span in _file_names_in(text) if self._is_known_file(text[slice(*span)]))
        yield from (found.span() for found in _TOKEN.finditer(text) if found.group().lower() in self.files)
        for read in dict.fromkeys((text, parted(text))):
            folded = Normalised(read)
            for start, end in self._spans_as_read(folded):
                yield folded.original(start, end)

    def _spans_as_read(self, folded: Normalised) -> Iterator[Span]:
        plain = folded.plain
        for start, end, secret in self.secrets.mentions_in(folded):
            article = None if secret.kind == "ID" else _ARTICLE.search(plain, max(0, start - 4), start)
            yield (article.start() if article else start), end
        yield from self.places.mentions_in(plain)
        for start, end in positions_in(plain):
            words = plain[start:end].strip()
            if not self.secrets.grant.has(words) and not _THREE_WORDS.fullmatch(words):
                yield start, end
        if self.share.times == "day" and self.clocks:
            yield from (span for span in clocks_in(plain) if clock_read(plain[slice(*span)]) in self.clocks)

    def _is_known_file(self, written: str) -> bool:
        """Whether a name, with or without folders, is that of a file of the journal, or a path to one."""
        parts = re.split(r"[\\/:]+", written.lower())
        names = (name for part in parts for name in (part, posixpath.splitext(part)[0]))
        return any(name in self.files for name in names)

    @cached_property
    def _odd_file_names(self) -> tuple[re.Pattern[str], ...]:
        """One pattern of the names that have more than one token, or may be part of a longer one, as a host may."""
        names = [
            name
            for name in self.files
            if not (_TOKEN.fullmatch(name) and ("." not in name or _WITH_ENDING.fullmatch(name)))
        ]
        whole = "|".join(map(re.escape, sorted(names, key=len, reverse=True)))
        return (re.compile(rf"(?<![^\W_])(?:{whole})(?![^\W_])", re.IGNORECASE),) if names else ()


_TOKEN = re.compile(r"\w(?:[\w.~%+-]*\w)?")
_WITH_ENDING = re.compile(rf".*\.(?:{_ENDINGS})", re.IGNORECASE)


def files_in(text: str) -> Iterator[Span]:
    """Where a text names a file by a known suffix, with its folders, from left to right; each character is read once. A
    name begins after a character that is neither a letter nor a dot, has letters before its first dot and between its
    dots, and extends to the last suffix that it can have."""
    for start, end in (run.span() for run in _OF_A_FILE.finditer(text) if "." in run.group()):
        pieces = [start]
        while (dot := text.find(".", pieces[-1], end)) >= 0:
            pieces.append(dot + 1)
        ends = [*(begin - 1 for begin in pieces[1:]), end]
        last: list[tuple[int, int] | None] = [None] * len(pieces)  # the last suffix after each: (in which, its end)
        for at in range(len(pieces) - 2, -1, -1):
            ending = _ENDING.match(text, pieces[at + 1])
            is_passable = last[at + 1] is not None and _BETWEEN_DOTS.fullmatch(text, pieces[at + 1], ends[at + 1])
            last[at] = last[at + 1] if is_passable else (at + 1, ending.end()) if ending else None
        at, after = 0, start
        while at < len(pieces):
            found, before = last[at], text[ends[at] - 1]
            begins = _FILE_BEGINS.search(text, max(pieces[at], after), ends[at]) if found else None
            if found and begins and (before.isalnum() or before in "_)"):
                yield begins.start(), found[1]
                at, after = found
            else:
                at += 1


def clocks_in(plain: str) -> Iterator[Span]:
    """Where a normalised text has a time of day; hours of light (`12:12`, `light 06:30-18:30`) do not count."""
    regimes: list[Span] = []  # a time range, in a line about light
    line_start = 0
    for line in plain.split("\n"):
        if _LIGHT.search(line):
            regimes += ((line_start + found.start(), line_start + found.end()) for found in _RANGE.finditer(line))
        line_start += len(line) + 1
    begins = [start for start, _ in regimes]
    for found in _CLOCK.finditer(plain):
        is_ratio = found["h"] is not None and int(found["h"]) + int(found["m"]) == 24 and ":" in found.group()
        at = bisect_right(begins, found.start()) - 1
        if not is_ratio and not (at >= 0 and found.start() < regimes[at][1]):
            yield found.span()
    for pattern in (_CLOCK_OTHERWISE, _CLOCK_IN_WORDS):
        yield from (found.span() for found in pattern.finditer(plain))


_THREE_WORDS = re.compile(r"[a-z]{2,30}\.[a-z]{2,30}\.[a-z]{2,30}")
"""Words that may be the code of a square on the Earth, or a name in some contexts."""
_CLOCK_READ = re.compile(r"([0-9]{1,2})(?:[:.h ]| uhr )?([0-9]{2})?.*?([ap])?(?:\.?m\b\.?.*)?", re.IGNORECASE | re.S)


def clock_read(written: str) -> str | None:
    """A time of day that is written in digits, like `14:05`; None if it is not."""
    found = _CLOCK_READ.fullmatch(written.lstrip("Tt "))
    if not found:
        return None
    hour, minute, half = int(found[1]), found[2] or "00", (found[3] or "").lower()
    hour = hour % 12 + (12 if half == "p" else 0) if half else hour
    return f"{hour:02d}:{minute}"


TextDoubt = tuple[int, int, str]
"""Start and end of each part of a text that may reveal a place or a person, and what it is."""


def doubts_in(text: str, share: Share) -> Iterator[TextDoubt]:
    """What a cleaned text still contains that only its author can judge: directions, numbers, addresses, file names,
    and times of day if a share shows only days."""
    yield from ((*span, "file name") for span in _file_names_in(text))
    for found in _ADDRESS.finditer(text):
        if re.search("[?#@]", found.group()) or _ELSEWHERE.search(found.group()):
            yield (*found.span(), "web address")
    folded = Normalised(text)
    plain = folded.plain
    found_so = [(span, "direction") for span in directions_in(plain)]
    found_so += [(found.span(), "position") for found in _THREE_WORDS_ALONE.finditer(plain)]
    for pattern, kind in ((_PERSONAL, "address or number"), (_TELEPHONE, "telephone number"), (_POSTCODE, "postcode")):
        found_so += [(found.span(), kind) for found in pattern.finditer(plain)]
    if share.times == "day":
        found_so += [(span, "time of day") for span in clocks_in(plain)]
    yield from ((*folded.original(*span), kind) for span, kind in found_so)


_THREE_WORDS_ALONE = re.compile(rf"(?<![\w./@-])(?!www\.){_THREE_WORDS.pattern}(?![\w./@-])")


def _file_names_in(text: str) -> Iterator[Span]:
    for pattern in (_FOLDER, _CAMERA):
        yield from (found.span() for found in pattern.finditer(text))
    yield from files_in(text)


_DAY = re.compile(r"[0-9-]+")


def file_names_of(journal: Journal, names: Iterable[str] = ()) -> frozenset[str]:
    """Names of the journal's files and folders, in lower case, with and without suffix, except stems that are a day, an
    ID, or an ordinary word; and the address and host of the author's site. names: paths of more files."""
    site = (journal.settings.site_url or "").lower().partition("://")[2].strip("/")
    found = {site, site.partition("/")[0].partition(":")[0]} if site else set()
    paths = [*names, *(entry.path for entry in journal.entries())]
    paths += [photo.path for photo in journal.photos] + [log.path for log in journal.logs]
    paths += [core.log.path for core in journal.core_logs] + [file.path for file in journal.weather]
    for path in paths:
        *folders, name = path.lower().split("/")
        stem = posixpath.splitext(name)[0]
        found.add(name)
        found.update(one for one in (*folders, stem) if _is_telling(one, journal))
    return frozenset(found)


def _is_telling(stem: str, journal: Journal) -> bool:
    has_digit = any(sign.isdigit() for sign in stem)
    is_odd = has_digit or "_" in stem or " " in stem
    return len(stem) >= 5 and is_odd and not _DAY.fullmatch(stem) and stem not in journal.by_id
