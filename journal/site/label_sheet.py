"""Sheets of labels: their sizes in millimetres, how many a sheet holds and where, and the code that each label has."""

from __future__ import annotations

import base64
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import segno
from markupsafe import Markup

from journal.problems import Refusal, nearest, shortened
from journal.settings import LABEL_SIZES, LabelSettings, LabelSize
from journal.site.single_page import single_page

Sheet = Literal["A4", "Letter"]
Level = Literal["H", "M"]

SHEETS_MM: dict[Sheet, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height. *Source:* ISO 216; ANSI/ASME Y14.1, size A."""

MODULE_MM = 0.4
"""The least side of a module: 4.7 dots of a printer of 300 dpi."""

_USUAL_MODULE_MM, _MOST_MODULE_MM = 0.42, 0.8
_HARDY_MODULES = 37
"""So many modules on a side are read with 15 % of them hidden at level H, fewer are not (tests/importing)."""
_QUIET = 4  # modules on each side. Source: ISO/IEC 18004, 6.3.8 (quiet zone of a QR Code symbol)
_MARGIN_MM = 8.0  # what a printer leaves white at an edge, and room for the cutting marks: common practice
_MARK_MM = 4.0

LEAST_TEXT_MM = 1.8
"""Font size. An x-height of 0.9 mm, which fonts without serifs have from 1.74 mm on (Liberation Sans: 0.519 of the font
size). *Source:* Regulation (EU) No 1169/2011, article 13(3), on labels smaller than 80 cm²; 1.2 mm on larger ones."""


@dataclass(frozen=True, slots=True)
class Code:
    """A QR code as a square of modules, without its quiet zone. rows: True is dark. module_mm: as printed."""

    text: str
    level: Level
    module_mm: float
    rows: tuple[tuple[bool, ...], ...]

    @property
    def side_mm(self) -> float:
        """With the quiet zone."""
        return (len(self.rows) + 2 * _QUIET) * self.module_mm

    @property
    def packed(self) -> str:
        """The modules row by row, eight to a byte, as base64: what static/js/labels.js draws."""
        bits = "".join("1" if dark else "0" for row in self.rows for dark in row)
        bits += "0" * (-len(bits) % 8)
        return base64.b64encode(int(bits, 2).to_bytes(len(bits) // 8, "big")).decode()

    @property
    def path(self) -> str:
        """The dark modules as one path, in modules, its origin at the corner of the quiet zone."""
        return "".join(
            f"M{x + _QUIET} {y + _QUIET}h{size}v1h-{size}z" for y, row in enumerate(self.rows) for x, size in _runs(row)
        )


def _runs(row: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Where each run of dark modules begins, and how long it is."""
    begun = None
    for x, dark in enumerate((*row, False)):
        if dark and begun is None:
            begun = x
        elif not dark and begun is not None:
            yield begun, x - begun
            begun = None


_MOST: dict[tuple[Level, bool], tuple[int, ...]] = {
    ("M", False): (14, 26, 42, 62, 84, 106, 122, 152, 180, 213),
    ("H", False): (7, 14, 24, 34, 44, 58, 64, 84, 98, 119),
    ("M", True): (20, 38, 61, 90, 122, 154, 178, 221, 262, 311),
    ("H", True): (10, 20, 35, 50, 64, 84, 93, 122, 143, 174),
}
"""The most characters of a code with 21, 25, 29 … modules on a side, by level, and by whether all are of its small
alphabet. *Source:* ISO/IEC 18004:2015, table 7, as segno has it."""
_SMALL_ALPHABET = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")


def _modules_on_a_side(text: str, level: Level) -> int | None:
    """None for a text that is longer than any label's."""
    most = _MOST[level, _SMALL_ALPHABET.issuperset(text)]
    return next((21 + 4 * at for at, letters in enumerate(most) if len(text) <= letters), None)


def _most_on_a_side(space_mm: float) -> int:
    """How many modules a code may have in so much room, at the usual size of one."""
    return 21 + 4 * int((space_mm / _USUAL_MODULE_MM - 2 * _QUIET - 21) // 4)


@lru_cache(maxsize=1024)
def _rows(text: str, level: Level, side: int) -> tuple[tuple[bool, ...], ...]:
    """Kept, since the codes of several sizes may be one, and each takes 2 to 10 ms."""
    made = segno.make(text, error=level, version=(side - 17) // 4, micro=False, boost_error=False)
    return tuple(tuple(map(bool, row)) for row in made.matrix)


def code_for(texts: Sequence[str], size: LabelSize) -> Code | None:
    """The code of the first of these texts that fits a size, of level H where it then does, else M; None where none is
    small enough, at modules of 0.4 mm. One of level H has more modules than its text needs where there is room: they
    make up for what a drop hides."""
    space_mm = min(size.height_mm, 0.55 * size.width_mm)
    levels: tuple[Level, ...] = ("H", "M")
    for text in texts:
        for level in levels:
            side = _modules_on_a_side(text, level)
            if side is not None and space_mm / (side + 2 * _QUIET) >= MODULE_MM:
                if level == "H" and not size.is_small:
                    side = max(side, min(_HARDY_MODULES, _most_on_a_side(space_mm)))
                modules = side + 2 * _QUIET
                wanted = max(_USUAL_MODULE_MM, 0.4 * size.width_mm / modules)  # the rest of the width is for words
                module_mm = min(_MOST_MODULE_MM, space_mm / modules, wanted)
                return Code(text, level, round(module_mm, 3), _rows(text, level, side))
    return None


@dataclass(frozen=True, slots=True)
class Printed:
    """What is on one label. check: `+X`, or "". part: `block 2 of 6`. texts: what its code may hold, the best
    first. steps: `T3 G1`, transfers and spawn generation. parents: `PP-26A.2`; origin: what is in their place,
    `received`. Each is "" where there is none."""

    id: str
    texts: tuple[str, ...]
    check: str = ""
    species: str = ""
    is_latin: bool = False
    is_confirmed: bool = True
    steps: str = ""
    parents: tuple[str, ...] = ()
    origin: str = ""
    date: str = ""
    part: str = ""
    medium: str = ""

    @property
    def letters(self) -> int:
        """How many its ID has, the check character included."""
        return len(self.id) + len(self.check)

    @property
    def origins(self) -> str:
        """`T3 G1 from PP-26A.2, PP-26A.3 +1`, as larger labels have it."""
        more = len(self.parents) - 2
        sources = [f"from\u00a0{self.parents[0]}", *self.parents[1:2]] if self.parents else [self.origin]
        return " ".join(filter(None, (self.steps, ", ".join(sources), f"+{more}" if more > 0 else "")))

    @property
    def origins_in_few(self) -> str:
        """`T3 G1 from PP-26A.2 +2`, and the date, as the smallest have it."""
        more = len(self.parents) - 1
        source = f"from\u00a0{self.parents[0]}" if self.parents else self.origin
        return " ".join(filter(None, (self.steps, source, f"+{more}" if more > 0 else "", _unbroken(self.date))))

    @property
    def is_brief(self) -> bool:
        """Whether so little is above the medium that it may have two of the smallest label's six lines."""
        lines = _lines(self.origins_in_few, 8.2) + bool(self.species) + (not self.is_confirmed)
        return lines <= 4 and self.letters <= 13


_LETTER_EM = {
    letter: width
    for letters, width in (
        ("ijl'", 0.222), (" ft.,:;/!I\u00a0", 0.278), ("r-()·", 0.333), ("cksvxyzJ", 0.5), ("+", 0.584), ("FTZ", 0.611),
        ("ABEKPSVXY&", 0.667), ("CDHNRUw", 0.722), ("GOQ", 0.778), ("mM", 0.833), ("%", 0.889), ("W", 0.944),
    )
    for letter in letters
}  # fmt: skip
"""Widths of letters in units of the font size; every other letter has that of a digit, 0.556. *Source:* Adobe, Core 14
font metrics, Helvetica, whose widths Arial and Liberation Sans have."""


def _em(text: str) -> float:
    return sum(_LETTER_EM.get(letter, 0.556) for letter in text)


def _lines(text: str, room_em: float) -> int:
    """How many lines a browser needs for a text, which it breaks at spaces, and within a word that is too long."""
    lines, left = 0, 0.0
    for word in text.split(" ") if text else ():
        width = _em(word)
        if lines and width <= left:
            left -= width + _em(" ")
        else:
            lines += max(1, math.ceil(width / room_em))
            left = room_em - width - _em(" ")
    return lines


def _unbroken(text: str) -> str:
    return text.replace(" ", "\u00a0")


def codes_of(texts: Sequence[str], sizes: Sequence[LabelSize]) -> dict[str, Any]:
    """A label's codes for several sizes, as static/js/labels.js takes them: `codes`, each [modules on a side, packed];
    `sizes`, for each size that has one [which of them, its width in mm with the quiet zone, whether it holds the ID
    where an address is too long]."""
    codes: dict[tuple[int, str], int] = {}
    by_size = {}
    for size in sizes:
        if code := code_for(texts, size):
            at = codes.setdefault((len(code.rows), code.packed), len(codes))
            by_size[size.name] = (at, round(code.side_mm, 2), code.text != texts[0])
    return {"codes": list(codes), "sizes": by_size}


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """How labels of a size are on a sheet, in millimetres. text_mm, id_mm: font sizes, of an ID the most."""

    sheet: Sheet
    size: LabelSize
    columns: int
    rows: int
    left_mm: float
    top_mm: float

    @property
    def places(self) -> int:
        return self.columns * self.rows

    @property
    def sheet_mm(self) -> tuple[float, float]:
        return SHEETS_MM[self.sheet]

    @property
    def text_mm(self) -> float:
        return max(LEAST_TEXT_MM, min(3.2, round(0.08 * self.size.height_mm, 2)))

    @property
    def id_mm(self) -> float:
        return round(min(10.0, (0.22 if self.is_small else 0.25) * self.size.height_mm), 2)

    @property
    def is_small(self) -> bool:
        """Whether a label has room for its most needed lines alone."""
        return self.size.is_small

    def has_room(self, label: Printed, code: Code | None) -> bool:
        """Whether a label shows all that is to be on it; of species and medium the end may be cut off, with …"""
        return self._bears(label, code, 2) or self._bears(label, code, 1)

    def is_tight(self, label: Printed, code: Code | None) -> bool:
        """Whether its medium has room for one line alone."""
        return not self._bears(label, code, 2) and self._bears(label, code, 1)

    def _bears(self, label: Printed, code: Code | None, most: int) -> bool:
        """most: lines of the medium."""
        space_mm = self.size.width_mm - (code.side_mm if code else 0) - 0.9
        id_mm = max(self.text_mm, min(self.id_mm, space_mm / (0.61 * label.letters)))
        id_lines = math.ceil(label.letters / max(1, int(space_mm / (0.61 * id_mm) + 1e-6)))
        if self.is_small:
            leading, id_leading, padding_mm = 1.03, 1.0, 0.3
            doubt = "not confirmed" if label.species else "identity not confirmed"
            texts = [(label.species, 1), (label.origins_in_few, 9), (label.medium, most if label.is_brief else 1)]
        else:
            leading, id_leading, padding_mm = 1.06, 1.05, 0.7
            doubt = "identity not confirmed"
            when = " · ".join(map(_unbroken, filter(None, (label.date, label.part))))
            texts = [(label.species, 2), (label.origins, 9), (when, 9), (label.medium, most)]
        lines = sum(min(limit, _lines(text, space_mm / self.text_mm)) for text, limit in texts)
        if not label.is_confirmed:  # in bold letters, which are a tenth wider (Helvetica-Bold)
            lines += _lines(doubt, space_mm / self.text_mm / 1.1)
        needed_mm = id_lines * id_leading * id_mm + lines * leading * self.text_mm + padding_mm
        return needed_mm <= self.size.height_mm

    @property
    def marks(self) -> str:
        """Cutting marks as one path, in millimetres from the sheet's corner: at both edges of each column and row; ""
        for a size that states its sheets' margins, which come cut."""
        size = self.size
        if size.margin_mm is not None:
            return ""
        right, xs = _edges(self.left_mm, self.columns, size.width_mm, size.gap_mm[0])
        bottom, ys = _edges(self.top_mm, self.rows, size.height_mm, size.gap_mm[1])
        down, across = min(_MARK_MM, self.top_mm - 1), min(_MARK_MM, self.left_mm - 1)
        above, left = self.top_mm - 1 - down, self.left_mm - 1 - across
        lines = [f"M{x:g} {y:g}v{down:g}" for x in xs for y in (above, bottom + 1)]
        lines += [f"M{x:g} {y:g}h{across:g}" for y in ys for x in (left, right + 1)]
        return "".join(lines) if down > 0 and across > 0 else ""


def _edges(first_mm: float, count: int, each_mm: float, gap_mm: float) -> tuple[float, list[float]]:
    """Where the last label ends, and every edge of a label, each once."""
    begins = [first_mm + at * (each_mm + gap_mm) for at in range(count)]
    edges = {round(begin + edge, 2) for begin in begins for edge in (0, each_mm)}
    return max(edges), sorted(edges)


def layout_of(size: LabelSize, sheet: Sheet) -> SheetLayout:
    """As many labels as a sheet holds. Raises Refusal where it holds none."""
    width, height = SHEETS_MM[sheet]
    left, top = size.margin_mm or (_MARGIN_MM, _MARGIN_MM)
    columns = _fitting(width - 2 * left, size.width_mm, size.gap_mm[0])
    rows = _fitting(height - 2 * top, size.height_mm, size.gap_mm[1])
    if columns < 1 or rows < 1:
        raise Refusal(f"labels of the size {size.name} do not fit a sheet of {sheet}")
    if size.margin_mm is None:
        left = (width - columns * (size.width_mm + size.gap_mm[0]) + size.gap_mm[0]) / 2
        top = (height - rows * (size.height_mm + size.gap_mm[1]) + size.gap_mm[1]) / 2
    return SheetLayout(sheet, size, columns, rows, round(left, 1), round(top, 1))


def _fitting(space_mm: float, each_mm: float, gap_mm: float) -> int:
    return int((space_mm + gap_mm + 1e-6) // (each_mm + gap_mm))


def sizes_of(settings: LabelSettings) -> tuple[LabelSize, ...]:
    """The author's own sizes and the program's, of which an own one of the same name takes the place."""
    own = {size.name.casefold() for size in settings.sizes}
    return (*settings.sizes, *(size for size in LABEL_SIZES if size.name not in own))


def size_named(name: str | None, settings: LabelSettings) -> LabelSize:
    """The size asked for, else the usual one of the settings, else that for a jar. Raises Refusal."""
    wanted = name or settings.size or "jar"
    sizes = {size.name.casefold(): size for size in sizes_of(settings)}
    if wanted.casefold() in sizes:
        return sizes[wanted.casefold()]
    near = nearest(wanted[:60], sizes)
    known = ", ".join(size.name for size in sizes.values())
    raise Refusal(
        f"{shortened(wanted)} is not a size of labels" + (f"; did you mean {near}?" if near else f": {known}")
    )


def pages_of(labels: Sequence[Printed], layout: SheetLayout, first: int = 1) -> list[list[Printed | None]]:
    """The labels sheet by sheet, place by place; None is a place left free. first: the place that the first label goes
    to, of a sheet that is half used. Raises Refusal where a sheet has no such place."""
    if not 1 <= first <= layout.places:
        raise Refusal(f"a sheet has places 1 to {layout.places} at this size, and not {first}")
    rows: list[Printed | None] = [*(None for _ in range(first - 1)), *labels]
    return [rows[at : at + layout.places] for at in range(0, len(rows), layout.places)]


def sheets_html(labels: Sequence[Printed], layout: SheetLayout, first: int, title: str, resources: Path) -> str:
    """The page to print. resources: the folder of the program's templates and static files."""
    style = (resources / "static" / "css" / "labels.css").read_text(encoding="utf-8")
    codes: Callable[[Printed], Code | None] = lambda label: code_for(label.texts, layout.size)  # noqa: E731
    sheets = pages_of(labels, layout, first)
    values = {"title": title, "layout": layout, "sheets": sheets, "code_of": codes, "style": Markup(style)}
    return single_page(resources, "labels/sheet.html", **values) + "\n"
