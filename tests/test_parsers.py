"""Everything that reads what a person wrote takes time that grows no faster than the text, whatever is in it."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from datetime import UTC
from functools import cache
from types import SimpleNamespace

import pytest

from journal.analysis.due import resets
from journal.analysis.power import wet_rating
from journal.analysis.sensors import salt_in
from journal.analysis.species_names import species_named
from journal.analysis.substrate import dry_share_of
from journal.geo.detect import positions_in
from journal.geo.directions import directions_in
from journal.geo.known_positions import KnownPlaces
from journal.geo.parse import parse_position
from journal.importing.archive import read_manifest
from journal.importing.gather_plan import with_new_ids
from journal.problems import Unreadable, nearest
from journal.quantities import count, duration_d, kelvin, mass_g, mass_of_lot, percentage, temperature_c
from journal.reading import values
from journal.reading.core_logs import read_core_log
from journal.reading.csv_tables import cells_of, find_table, stamp_reader
from journal.reading.dates import read_next, read_when, when_in_name
from journal.reading.entries import read_entry
from journal.reading.everyday_words import fix_of_key, fix_of_word
from journal.reading.exif import exif_facts
from journal.reading.front_matter import read_front_matter
from journal.reading.keys import KEYS
from journal.reading.label_codes import read_label, without_check
from journal.reading.links_in_text import links_in_vain
from journal.reading.logger_files import files_of, read_log
from journal.reading.own_maps import map_points
from journal.reading.pictures_in_text import shown_in, with_slips_mended
from journal.reading.private_passages import private_problems, split_private
from journal.reading.receipts import read_receipt
from journal.reading.settings_file import read_settings
from journal.reading.tracks import read_track
from journal.reading.values import parse_id, parse_ref
from journal.reading.weather_files import read_weather
from journal.settings import ClimateSource, Settings, Share, WeatherSource
from journal.sharing.clean_text import Placeholders, clocks_in, files_in
from journal.sharing.decoders import texts_in
from journal.sharing.detectors import detectors_of
from journal.sharing.flags import flags_in
from journal.sharing.grant import grant_of
from journal.sharing.normalise import Normalised, WrittenIds, normalise, parted
from journal.sharing.redact import cleaner_of
from journal.site.charts.primitives import wrapped
from journal.site.markdown import Prose, links_of, render, targets_in
from journal.site.search import SearchRow, index_words
from tests.growth import grows_faster_than_a_scan
from tests.sharing.planted import SINCE, ids_of_names, planted

STATION = WeatherSource(files="*.csv", date="date", rain="rain")
KEY = KEYS["note"]["stage"]
SOURCE = ClimateSource(files="**/*.csv", tent="hut")
PLACES = ((58.312345, -8.912345), (47.1, 8.2))

Parser = Callable[[str], object]


def refusing(read: Callable[[str], object]) -> Parser:
    """What refuses a text has read it too."""

    def tried(text: str) -> object:
        try:
            return read(text)
        except Unreadable:
            return None

    return tried


def no_worse_than_wrong(read: Callable[[bytes], object]) -> Parser:
    """Every text is that of some JSON too, and is read or refused."""

    def tried(text: str) -> object:
        for data in (
            text.encode(),
            json.dumps({"format": "journal archive", "version": 1, "records": [text]}).encode(),
        ):
            with contextlib.suppress(ValueError):
                read(data)
        return None

    return tried


def entry(text: str) -> object:
    return read_entry("a.md", f"---\nkind: note\n---\n{text}".encode(), Settings())


def keyed(text: str) -> object:
    line = text.replace("\n", " ")
    keys = ("date", "about", "harvest", "next", "title", "where", "from", "light", "mix", "no key of ours")
    return read_entry("a.md", "\n".join(["---", *(f"{key}: {line}" for key in keys), "---", ""]).encode(), Settings())


def noted(text: str) -> object:
    """A value in every notation of a key."""
    line = text.replace("\n", " ")
    for notation in values.NOTATIONS.values():
        with contextlib.suppress(Unreadable):
            notation.read(line, KEY, UTC)
    return None


def in_front(text: str) -> object:
    return read_front_matter("a.md", f"---\n{text}\n---\n".encode())


def never_closed(text: str) -> object:
    return read_front_matter("a.md", f"---\n{text}".encode())


def log(text: str) -> object:
    return read_log("a.csv", f"time,temperature,humidity\n2026-09-12 12:00,12,80\n{text}".encode(), SOURCE, "UTC")


def cells(text: str) -> object:
    line = text.replace("\n", " ").replace(",", " ")
    rows = f"time,temperature,humidity\n{line},{line},{line}\n"
    return read_log("a.csv", rows.encode(), SOURCE, "UTC")


def header(text: str) -> object:
    return find_table(text, ("time", "temperature", "humidity")).column("humidity")


def track(text: str) -> object:
    return read_track("a.gpx", f"<gpx><trk><trkseg>{text}</trkseg></trk></gpx>".encode())


def claimed(text: str) -> object:
    source = ClimateSource(files=text.replace("\n", "/"), tent="hut")
    return files_of((source,), ("a/b/c/d/e/f/g/h/i/j/k/l/m.csv",))


def deep_claimed(text: str) -> object:
    return files_of((ClimateSource(files="**/a*/**/*b*/**/x", tent="hut"),), (text.replace("\n", "/"),))


def settings(text: str) -> object:
    quoted = text.replace("\\", "/").replace('"', "'").replace("\n", " ")
    return read_settings(f'[journal]\ntitle = "{quoted}"\nsite_url = "{quoted}"\n{quoted} = 1\n'.encode())


def raw_settings(text: str) -> object:
    return read_settings(text.encode())


def camera(text: str) -> object:
    names = ("EXIF DateTimeOriginal", "EXIF OffsetTimeOriginal", "EXIF SubSecTimeOriginal", "GPS GPSMapDatum")
    return exif_facts({name: SimpleNamespace(values=text) for name in (*names, "GPS GPSDate")})


def prose(text: str) -> object:
    links = links_of({id: f"{id}/" for id in share().ids})(text)
    return render(Prose(text, links=links), "../", lambda picture: "")


def in_pages(text: str) -> object:
    return list(texts_in("a.html", text.encode(), depth=1))


@cache
def share() -> SimpleNamespace:
    """What a share is made and searched with. Made when a test asks for it: every process of a run reads this file."""
    journal = planted().journal
    settings = Share(name="m", about=(ids_of_names()["batch a"],), since=SINCE, positions="area", times="day")
    ids = tuple(journal.by_id)
    return SimpleNamespace(
        ids=ids,
        cleaner=cleaner_of(journal, grant_of(journal, settings)),
        detectors=detectors_of(journal, settings),
        written=WrittenIds(ids, ids[:3]),
    )


KNOWN = KnownPlaces(PLACES, ((47.1, 8.2),), keen=True)

PARSERS: dict[str, tuple[Parser, int]] = {
    "front matter": (in_front, 400),
    "front matter never closed": (never_closed, 400),
    "keys of an entry": (keyed, 400),
    "text of an entry": (entry, 400),
    "passages for the keeper": (lambda text: (split_private(text), list(private_problems("a.md", text, 1))), 400),
    "a date": (refusing(lambda text: read_when(text, UTC)), 400),
    "a date in a name": (when_in_name, 400),
    "what is next": (refusing(read_next), 400),
    "an ID": (refusing(parse_id), 400),
    "a reference": (refusing(parse_ref), 400),
    "a mass": (refusing(mass_g), 400),
    "a mass of a lot": (refusing(mass_of_lot), 400),
    "a temperature": (refusing(temperature_c), 400),
    "a percentage": (refusing(percentage), 400),
    "a difference of temperature": (refusing(kelvin), 400),
    "a number of days": (refusing(duration_d), 400),
    "a count": (refusing(count), 400),
    "a band of humidity": (refusing(values.humidity_range), 400),
    "a band of temperature": (refusing(values.temperature_range), 400),
    "hours of light": (refusing(values.light_hours), 400),
    "an exhaust cycle": (refusing(values.exhaust), 400),
    "a part of a mix": (refusing(values.mix_part), 400),
    "a position": (refusing(parse_position), 400),
    "header of a table": (refusing(header), 400),
    "rows of a logger": (log, 400),
    "cells of a logger": (cells, 400),
    "a stamp": (lambda text: _stamp(text), 400),
    "a track": (track, 400),
    "a track as it stands": (lambda text: read_track("a.gpx", text.encode()), 400),
    "which files a pattern means": (claimed, 100),
    "which pattern a file fits": (deep_claimed, 100),
    "settings": (settings, 400),
    "settings as they stand": (raw_settings, 400),
    "what a camera wrote": (camera, 400),
    "pictures in a text": (lambda text: list(shown_in(text)), 400),
    "pictures written with slips": (with_slips_mended, 400),
    "the nearest word": (lambda text: nearest(text, ("humidity", text[1:])), 200),
    "pictures of a page": (lambda text: list(targets_in(text)), 400),
    "IDs in a text": (links_of({"a": "a/"}), 400),
    "a species": (lambda text: species_named(text, ()), 400),
    "a salt": (salt_in, 400),
    "what a device is rated for": (wet_rating, 400),
    "what a service resets": (lambda text: resets(text, "clean the filter"), 400),
    "dry share of a substrate": (dry_share_of, 400),
    "words of the search": (lambda text: index_words(SearchRow("a", "a", "note", words=text)), 400),
    "Markdown": (prose, 400),
    "lines of a drawing": (lambda text: wrapped.__wrapped__(text, 14.0), 400),
    "a text as it reads": (lambda text: (Normalised(text), normalise(text), parted(text)), 400),
    "positions in a text": (lambda text: list(positions_in(text)), 400),
    "ways in a text": (lambda text: list(directions_in(text)), 400),
    "what may tell a place": (flags_in, 200),
    "clock times in a text": (lambda text: list(clocks_in(text)), 400),
    "names of files in a text": (lambda text: list(files_in(text)), 400),
    "IDs as people write them": (lambda text: list(share().written.mentions_in(Normalised(text))), 400),
    "known places in a text": (lambda text: list(KNOWN.mentions_in(text)), 400),
    "links that lead nowhere": (lambda text: links_in_vain(text, lambda target: False), 400),
    "links of a text": (lambda text: Placeholders(text, lambda _: "p", str, bool, bool).put_back("", "-"), 400),
    "what a share keeps of a text": (lambda text: share().cleaner.prose(text, lambda target: None), 200),
    "whether an address is harmless": (lambda text: share().cleaner.is_harmless(text), 200),
    "what a share must not tell": (lambda text: list(share().detectors.found_in(text)), 200),
    "a file, opened": (in_pages, 400),
    "IDs that are others here": (lambda text: with_new_ids(text.encode(), {"a": "B"}), 400),
    "the list of an archive": (no_worse_than_wrong(read_manifest), 400),
    "a label": (lambda text: (read_label(text, text), read_label(text, "https://a.example")), 400),
    "a receipt": (no_worse_than_wrong(read_receipt), 400),
    "every notation": (noted, 400),
    "what a word may mean": (lambda text: (fix_of_key(text, "note"), fix_of_word("stage", text, ("pinning",))), 200),
    "an ID with its check character": (refusing(lambda text: without_check(text, ("B-031",))), 400),
    "points of a map": (refusing(lambda text: map_points([text, text, text])), 400),
    "rows of a core log": (lambda text: read_core_log("a.csv", f"time,C\n{text}".encode(), "C", "UTC"), 400),
    "rows of a weather station": (lambda text: read_weather("a.csv", f"date,rain\n{text}".encode(), STATION), 400),
    "a row of a table": (lambda text: cells_of(text, ","), 400),
}


def _stamp(text: str) -> object:
    read = stamp_reader(None)
    try:
        return read(text)
    except ValueError:
        return None


UNITS = (
    " ", "\n", "0", "a", "é", ".", ",", ":", ";", "-", "_", "/", "\\", "(", ")", "[", "]", "{", "}", "<", ">", "&",
    "#", "*", "`", "'", '"', "=", "+", "%", "@", "!", "|", "~", "°", "±", "0 ", "0.", "0:", "0-", "0°", "a ", "a.",
    "a-", "a/", "[a](", "[a][", "![", "![](< a", "[](", "![a](b", "> ", "- ", "*a ", "**", "`a ", "<a ", "<a>",
    "<!--", 'a="', "&#", "a@", "a@a.a ", "@a ", "://", "www.", "12:30 ", "12:12-12:12 ", "light 06:30-18:30 ",
    "58.31 ", "58.31234, ", "N ", "2 km north of ", "2 km ", "B-1 ", "B-1/2", "a.jpg/", "-.jpg", ":::",
    "::: private\n", "a: b\n", "- a\n", "**/", "**/a", "\\u", "&amp;", "---\n", "```\n", "1. a\n", "[a]: b\n",
    "2026-09-12 ", "{{", "the ", "<trkpt>", "<!DOCTYPE ", "| ", ",(", "[a", "(a ", "should ", "reads ", "<!--a",
    "![a",
)  # fmt: skip


FRONTS = ("::: private", "[a](", "2 km", "2.5", "[[", "B-1", "58.31234", "2026-09-12", "IP", "reads", "a@b", "> ")
"""What is before blanks without end."""

SHAPES = (
    *(("", unit, end) for unit in UNITS for end in (("", "\x00~") if len(unit) < 3 else ("",))),
    *((front, " ", "\x00~") for front in FRONTS),
)


@pytest.mark.parametrize("name", PARSERS)
def test_the_time_of_reading_grows_no_faster_than_the_text(name: str) -> None:
    read, size = PARSERS[name]
    slow = []
    for front, unit, end in SHAPES:

        def shape(size: int, front: str = front, unit: str = unit, end: str = end) -> str:
            return front + unit * (size // len(unit)) + end

        if factor := grows_faster_than_a_scan(read, shape, size):
            slow.append(f"{front!r} {unit!r}… {end!r}: {factor:.0f} times")
    assert not slow, "\n".join(slow)
