"""`journal share`: what it would publish, for its author to look at, in the terminal and as JSON; and what they
decide"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

import click

from journal.commands.console import first_of, plain, plain_json
from journal.problems import Refusal
from journal.quantities import counted
from journal.share_pipeline import NotReviewed, Prepared
from journal.sharing.flags import Flag
from journal.sharing.review import Piece, counts_in_words

MOST_NEW = 20
"""How many new pieces are named before the rest is only counted."""
_AROUND = 60
"""How many characters of a text are shown before and after a flag."""
_CHOICES = {"1": "share", "2": "leave out this text", "3": "stop"}


def new_lines(pieces: Sequence[Piece]) -> list[str]:
    """A line for each piece that the author has not looked at."""
    return first_of([_line(piece) for piece in pieces], MOST_NEW, "and {more} more")


def _line(piece: Piece) -> str:
    flags = f": {counted(len(piece.flags), 'flag')}" if piece.flags else ""
    return f"{piece.path}, {_field(piece)}{flags}"


def _field(piece: Piece) -> str:
    return "what it allows" if piece.kind == "share" else piece.field


def review_json(prepared: Prepared) -> str:
    """Every piece as `{path, field, text, flags, new}`, new ones first."""
    new = set(prepared.review.new)
    rows = [
        {
            "path": piece.path,
            "field": piece.field,
            "text": piece.text,
            "flags": [flag.text for flag in piece.flags],
            "new": piece in new,
        }
        for piece in sorted(prepared.review.going_out, key=lambda piece: piece not in new)
    ]
    return plain_json(json.dumps(rows, ensure_ascii=False, indent=2))


def refuse_unless_shown(prepared: Prepared) -> tuple[Piece, ...]:
    """The new pieces, all of which were on the last preview; raises Refusal if there was none, or a piece is not on
    it."""
    review, name = prepared.review, prepared.share.name
    if review.record.shown is None:
        raise Refusal(
            f"no preview of the share {name} was made, so it cannot have been reviewed; run "
            f"`journal share {name} --preview` and look at its page first"
        )
    unseen = [piece for piece in review.new if piece.digest not in review.record.shown]
    if unseen:
        raise NotReviewed(name, unseen)
    return review.new


# -- one by one ------------------------------------------------------------------------------------------------------


@dataclass
class Decisions:
    """What the author decided; stopped: whether they want to continue another time."""

    looked_at: list[Piece] = field(default_factory=list)
    left_out: list[Piece] = field(default_factory=list)
    stopped: bool = False


def step_through(new: Sequence[Piece], page: str) -> Decisions:
    """Asks about every flag of new pieces, one by one, then about all new pieces without flags. page: where everything
    can be looked at."""
    decided = Decisions()
    flagged = [piece for piece in new if piece.flags]
    total, number = sum(len(piece.flags) for piece in flagged), 0
    for piece in flagged:
        answer = "share"
        for at, flag in enumerate(piece.flags, 1):
            answer = _ask(f"\n{number + at} of {total}  {_line_of(piece, flag)}", _CHOICES)
            if answer != "share":
                break
        number += len(piece.flags)
        if answer == "stop":
            decided.stopped = True
            return decided
        (decided.looked_at if answer == "share" else decided.left_out).append(piece)
    rest = [piece for piece in new if not piece.flags]
    if rest:
        decided.stopped = _ask(_about_the_rest(rest, page), {"1": "share", "2": "stop"}) == "stop"
        decided.looked_at += [] if decided.stopped else rest
    return decided


def _line_of(piece: Piece, flag: Flag) -> str:
    before, after = piece.text[: flag.start], piece.text[flag.end :]
    shown = f"{_shortened(before, -_AROUND)}[{flag.text}]{_shortened(after, _AROUND)}"
    return f"{piece.path}, {piece.field}: {flag.kind}\n    {' '.join(shown.split())}"


def _shortened(text: str, most: int) -> str:
    if len(text) <= abs(most):
        return text
    return f"… {text[most:]}" if most < 0 else f"{text[:most]} …"


def _about_the_rest(rest: Sequence[Piece], page: str) -> str:
    counts = counts_in_words(rest)
    allowed = [piece.text for piece in rest if piece.kind == "share"]
    words = [f"{counts} without a flag: look at them on the page {page}"] if counts else []
    words += [f"What the share allows: {text}" for text in allowed]
    return "\n" + "\n".join(words)


def _ask(about: str, choices: dict[str, str]) -> str:
    """One of the choices, by its number or its words."""
    for line in about.split("\n"):
        click.echo(plain(line), err=True)
    offered = " · ".join(f"{number} {words}" for number, words in choices.items())

    def chosen(text: str) -> str:
        found = choices.get(text.strip(), text.strip().lower())
        if found not in choices.values():
            raise click.BadParameter(f"type one of these numbers: {offered}")
        return found

    answer: str = click.prompt(offered, value_proc=chosen, err=True)
    return answer


# -- afterwards ------------------------------------------------------------------------------------------------------


def closing_words(prepared: Prepared) -> str:
    """What was checked, what cannot be checked, and what the author looked at."""
    seen = [piece for piece in prepared.review.going_out if piece.kind != "share"]
    days = sorted({prepared.review.record.looked_at[piece.digest] for piece in seen})
    texts = sum(piece.kind == "text" for piece in seen)
    looked = f"{counted(texts, 'text')} and {counted(len(seen) - texts, 'photo')}"
    when = f" {'last ' if len(days) > 1 else ''}on {_day(days[-1])}" if days else ""
    left_out = prepared.review.left_out
    kept = f" {counted(len(left_out), 'text')} {'is' if len(left_out) == 1 else 'are'} left out." if left_out else ""
    return (
        "No position, ID or name that must not be shared was found. What the texts and photos reveal is for you "
        f"to judge: you looked at {looked}{',' if len(days) > 1 else ''}{when}.{kept}"
    )


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"


def left_out_rows(prepared: Prepared) -> Iterator[str]:
    """Which texts the author left out, for the table of a preview."""
    yield from (f"{piece.path}, {piece.field}" for piece in prepared.review.left_out)
