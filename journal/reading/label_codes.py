"""What the code on a label says: a page's address or an ID; how it is read back, and the check character of an ID"""

from __future__ import annotations

import re
from collections.abc import Container, Iterator
from itertools import pairwise

from journal.model import Ref
from journal.problems import Unreadable, shortened
from journal.reading.values import parse_id, parse_ref

LONGEST_TEXT = 400
"""Characters; a longer text is on no label of a journal, and is not looked at."""

CHECK_MARK = "+"
"""Stands before the check character: `B-031+X`. No ID has it, and a QR code holds it in its small alphabet."""

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_BELOW_SITE = re.compile(
    r"(finds|cultures|batches|tents)/([A-Za-z0-9-]{1,32})(?:/(?:index\.html)?)?(?:#([A-Za-z0-9-]+))?"
)
_ADDRESS = re.compile(r"(https?://)([^/?#\\@\s]+)(/[^?#\s]*)?", re.IGNORECASE)


def check_character(id: str) -> str:
    """The character that guards an ID, or a part like `B-031.2`: one of 0-9, A-Z and `*`.

    Hyphens, the dot and case count for nothing. It changes with any one letter or digit that is another, and with any
    two neighbours that changed places. *Source:* ISO/IEC 7064:2003, MOD 37-2.
    """
    total = 0
    for letter in re.sub(r"[^0-9A-Z]", "", id.upper()):
        total = (total + _ALPHABET.index(letter)) * 2 % 37
    return _ALPHABET[(1 - total) % 37]


def label_text(ref: Ref, page: str | None = None, site_url: str | None = None, has_check: bool = False) -> str:
    """What the code on a label holds: the address of its page where the journal has one, else the ID.

    page: of what has the ID, from the site's root (`batches/b-031/index.html`); None where it has none. has_check: a
    check character follows an ID; an address needs none.
    """
    if page and site_url:
        part = f"#{ref.part}" if ref.part else ""
        return f"{_base(site_url)}/{page.removesuffix('index.html')}{part}"
    return f"{ref}{CHECK_MARK}{check_character(str(ref))}" if has_check else str(ref)


def read_label(text: str, site_url: str | None = None) -> Ref | None:
    """What a scanned or typed text names, in its spelling; None where it is not a label of this journal.

    It is one that has an ID or part, with its check character or without, or an address below `site_url`. An ID in an
    address is in lower case. Whether the journal has that ID is not asked here. `journalLabel.read` in
    static/js/label-code.js gives the same (tests/label_cases.json).
    """
    if len(text) > LONGEST_TEXT or re.search(r"[^ -~]", text):
        return None
    found = text.strip(" ")
    if " " in found:
        return None
    if "/" in found:
        return _from_address(found, site_url)
    bare, mark, check = found.partition(CHECK_MARK)
    return None if mark and check.upper() != check_character(bare) else _ref(bare)


def _likely_mistaken(id: str) -> Iterator[str]:
    """What else may be meant by a typed ID: every text that differs in one letter or digit, or in two neighbours that
    changed places; the errors that the check character finds."""
    at = [place for place, letter in enumerate(id) if letter.isalnum()]
    for place in at:
        yield from (
            f"{id[:place]}{letter}{id[place + 1 :]}" for letter in _ALPHABET[:-1] if letter != id[place].upper()
        )
    for one, other in pairwise(at):
        yield f"{id[:one]}{id[other]}{id[one + 1 : other]}{id[one]}{id[other + 1 :]}"


def _is_of_journal(id: str, known: Container[str]) -> bool:
    whole, dot, part = id.lower().partition(".")
    return whole in known and (not dot or part.isdecimal())


def check_fits(id: str, check: str, known: Container[str] = ()) -> bool:
    """Whether a typed check character is that of a typed ID. known: the journal's IDs, in lower case.

    An O and a 0 are taken for each other only behind an ID that the journal has, where none of its IDs that may have
    been meant has the character as it was typed: MOD 37-2 finds any one wrong character, and would no longer find all.
    `journalLabel.read` in static/js/label-code.js does the same.
    """
    typed, right = check.upper(), check_character(id)
    if typed == right or {typed, right} != {"0", "O"} or not _is_of_journal(id, known):
        return typed == right
    return not any(_is_of_journal(one, known) and check_character(one) == typed for one in _likely_mistaken(id))


def without_check(text: str, known: Container[str] = ()) -> str:
    """A typed ID without its check character, or as it is where it has none. known: the journal's IDs, in lower case.
    Raises Unreadable for a wrong one."""
    bare, mark, check = text.strip().partition(CHECK_MARK)
    if not mark:
        return text
    if not check_fits(bare, check, known):
        message = (
            f"the check character of {shortened(bare)} is not {shortened(check)}, so the ID is not what the label says"
        )
        raise Unreadable(message, "type it once more from the label")
    return bare


def _base(site_url: str) -> str:
    return site_url.removesuffix("index.html").rstrip("/")


def _from_address(text: str, site_url: str | None) -> Ref | None:
    own, there = _ADDRESS.match(_base(site_url) if site_url else ""), _ADDRESS.match(text)
    if own is None or there is None or own[2].lower() != there[2].lower():
        return None
    above, path = f"{own[3] or ''}/", text[there.end(2) :]
    found = _BELOW_SITE.fullmatch(path[len(above) :]) if path.startswith(above) else None
    if found is None:
        return None
    folder, id, anchor = found.groups()
    if folder == "tents" and anchor and not anchor.isdigit():
        return _ref(anchor)  # a device is on the page of its tent
    return _ref(f"{id}.{anchor}" if anchor and anchor.isdigit() else id)


def _ref(text: str) -> Ref | None:
    try:
        ref = parse_ref(text)
        return Ref(parse_id(ref.id), ref.part)
    except Unreadable:
        return None
