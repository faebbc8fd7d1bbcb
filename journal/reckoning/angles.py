"""Positions in degrees as people write them: decimal, with minutes, with seconds, with or without N, S, E, W.

Messages here never repeat what was written, since they reach pages that must not tell a place.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from journal.problems import Unreadable
from journal.reckoning.fix import MEND, Fix, degrees_fix

_LOOKALIKES = str.maketrans(
    {
        **dict.fromkeys("\u2212\u2013\u2012\u2010\u2011", "-"),  # minus, en dash, figure dash, hyphens
        **dict.fromkeys("º˚ᵒ", "°"),  # masculine ordinal, ring above, modifier o: what phones offer for a degree
        **dict.fromkeys("′’‘ʹʼ´`", "'"),
        **dict.fromkeys("″”“ʺ˝", '"'),
    }
)

_NUMBER = r"[0-9]+(?:\.[0-9]*)?"
_PLAIN = rf"(?:[+-] ?)?{_NUMBER}(?:°)?"
_MARKED = rf"(?:[+-] ?)?{_NUMBER}°(?: ?{_NUMBER}'(?: ?{_NUMBER}\")?)?"
_LOOSE = rf"(?:[+-] ?)?{_NUMBER}(?:(?:° ?| ){_NUMBER}(?:(?:' ?| ){_NUMBER}\"?|')?|°)?"
_BETWEEN = r"(?: ?[,;/] ?| ?)"
_SIDE = r"[NSEWnsew]"

_WITH_SIDES = (
    re.compile(rf"(?P<a>{_LOOSE}) ?(?P<a_side>{_SIDE}){_BETWEEN}(?P<b>{_LOOSE}) ?(?P<b_side>{_SIDE})"),
    re.compile(rf"(?P<a_side>{_SIDE}) ?(?P<a>{_LOOSE}){_BETWEEN}(?P<b_side>{_SIDE}) ?(?P<b>{_LOOSE})"),
)
_WITHOUT_SIDES = (
    re.compile(rf"(?P<a>{_PLAIN})(?: ?[,;/] ?| )(?P<b>{_PLAIN})"),
    re.compile(rf"(?P<a>{_MARKED}){_BETWEEN}(?P<b>{_MARKED})"),
    re.compile(rf"(?P<a>{_LOOSE}) ?[,;/] ?(?P<b>{_LOOSE})"),
)
_ONE_SIDED = re.compile(
    rf"{_SIDE} ?{_LOOSE}{_BETWEEN}{_LOOSE}|{_LOOSE} ?{_SIDE}{_BETWEEN}{_LOOSE}|{_LOOSE}{_BETWEEN}{_LOOSE} ?{_SIDE}"
)
_ONE_HALF = re.compile(rf"{_SIDE}? ?{_LOOSE} ?{_SIDE}?")
_COMPONENT = re.compile(_NUMBER)


class _Angle(NamedTuple):
    deg: float
    step_deg: float


def read_degrees(text: str) -> Fix:
    """The place that a pair of angles in degrees names; latitude first where no letters say which is which.

    text: one space at most between words. Unreadable where it is no such pair or out of range.
    """
    text = _tidy(text)
    for form in _WITH_SIDES:
        if found := form.fullmatch(text):
            return _with_sides(found)
    for form in _WITHOUT_SIDES:
        if found := form.fullmatch(text):
            return _pair(_angle(found["a"]), _angle(found["b"]))
    raise _unreadable(text)


def plain_marks(text: str) -> str:
    """The text with the many look-alikes of minus, degree, minute and second signs made one of each."""
    return text.translate(_LOOKALIKES).replace("''", '"')


def _tidy(text: str) -> str:
    """One sign for each mark, letters d, m, s made signs, decimal commas made points."""
    text = plain_marks(text)
    text = re.sub(r"(?<=[0-9.]) ?(?:deg\.?|d)(?=[ 0-9NSEWnew,;/]|$)", "°", text)
    text = re.sub(r"(?<=[0-9.]) ?(?:min\.?|m)(?=[ 0-9NSEWnsew,;/]|$)", "'", text)
    text = re.sub(r"(?<=[0-9.]) ?sec\.?(?=[ NSEWnsew,;/]|$)", '"', text)
    text = re.sub(r"(' ?[0-9.,]+) ?s(?![a-z])", r'\1"', text)  # after minutes a small s is seconds, elsewhere south
    text = re.sub(r" +(?=[°'\"])", "", text)
    return _decimal_commas(text)


def _decimal_commas(text: str) -> str:
    """Commas made points where they can only be decimal marks; Unreadable where they might as well part two numbers."""
    if "." in text:
        return text
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
        raise Unreadable("the position may be one number with a decimal comma, or two whole degrees", MEND)
    if four := re.fullmatch(r"([+-]?[0-9]+),([0-9]+),([0-9]+),([0-9]+)", text):
        return "{}.{}, {}.{}".format(*four.groups())
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)


def _angle(text: str) -> _Angle:
    """Degrees and the size of one step of its last digit; Unreadable where minutes or seconds cannot be."""
    parts = _COMPONENT.findall(text)
    if any("." in part for part in parts[:-1]):
        raise Unreadable("only the last of degrees, minutes and seconds may have a decimal point", MEND)
    if any(float(part) >= 60 for part in parts[1:]):
        raise Unreadable("minutes and seconds must be under 60", MEND)
    value = sum(float(part) / 60**power for power, part in enumerate(parts))
    decimals = len(parts[-1].partition(".")[2])
    step = 10.0**-decimals / 60.0 ** (len(parts) - 1)
    return _Angle(-value if text.startswith("-") else value, step)


def _pair(lat: _Angle, lon: _Angle) -> Fix:
    """Two angles as a place. The finer step of the two is its precision (Georeferencing Best Practices, 2020)."""
    return degrees_fix(lat.deg, lon.deg, min(lat.step_deg, lon.step_deg))


def _with_sides(found: re.Match[str]) -> Fix:
    """A place whose halves bear N or S and E or W, in either order."""
    sided = {}
    for half in ("a", "b"):
        side, text = found[f"{half}_side"].upper(), found[half]
        if text[0] in "+-":
            raise Unreadable("a sign and a letter both say which side an angle is on", "leave the sign out")
        angle = _angle(text)
        sided["lat" if side in "NS" else "lon"] = angle._replace(deg=-angle.deg) if side in "SW" else angle
    if len(sided) < 2:
        raise Unreadable("both halves of the position have letters of the same axis", "one takes N or S, one E or W")
    return _pair(sided["lat"], sided["lon"])


def _unreadable(text: str) -> Unreadable:
    """Why a text is no pair of angles, as far as can be told."""
    if _ONE_HALF.fullmatch(text):
        return Unreadable("the position has only one half", MEND)
    if _ONE_SIDED.fullmatch(text):
        return Unreadable("only one half of the position has a letter", "one takes N or S, the other E or W")
    return Unreadable("the position is in no notation that is known here", MEND)
