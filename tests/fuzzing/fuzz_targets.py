"""What is fuzzed: every reader of what somebody else may have written, with examples to begin with."""

from __future__ import annotations

import io
import json
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from journal.reading.values import NOTATIONS
from tests.fuzzing.fuzz_files import (
    ARCHIVE_WAYS,
    SITE,
    a_code,
    a_label,
    a_manifest,
    exif_file,
    exif_tags,
    holding,
    listing,
    markdown,
)
from tests.fuzzing.fuzz_texts import (
    ENTRY_WAYS,
    QUANTITIES,
    TABLE_WAYS,
    TRACK_WAYS,
    a_date,
    a_position,
    each_way,
    one_of,
    quantity,
    the_settings,
)

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Target:
    """run: reads these bytes, and raises where what must hold does not. seeds: whole examples, to begin with. words:
    pieces that a reader looks for. runs: how many in development, at least. longest: in bytes."""

    run: Callable[[bytes], object]
    seeds: Callable[[], list[bytes]]
    words: tuple[str, ...]
    runs: int
    longest: int = 400


# Where each begins


def sample(pattern: str, most: int = 12) -> list[bytes]:
    """Files of the sample journal, not longer than a fuzzer should take."""
    found = sorted((ROOT / "sample_entries").rglob(pattern))
    return [data[:1500] for path in found if (data := path.read_bytes())][:: max(1, len(found) // most)]


def lines(*rows: str) -> list[bytes]:
    return [row.encode() for row in rows]


def quantities() -> list[bytes]:
    more = {
        "mass": ("5 lb 2 oz", "1 200,5 g"),
        "light hours": ("06:30–18:30", "12:12"),
        "exhaust": ("every 15 min", "on"),
    }
    texts = [
        (at, text) for at, name in enumerate(QUANTITIES) for text in (NOTATIONS[name].example, *more.get(name, ()))
    ]
    return [bytes([at]) + text.encode() for at, text in texts]


def pictures() -> list[bytes]:
    """Small pictures of three kinds with EXIF, and EXIF alone."""
    from PIL import ExifTags, Image

    tags = Image.Exif()
    tags[ExifTags.Base.Model] = "A 1"
    tags[ExifTags.Base.Orientation] = 6
    tags.get_ifd(ExifTags.IFD.Exif).update({0x9003: "2026:10:03 14:05:00", 0x9011: "+01:00", 0x9291: "045"})
    place = {
        1: "N",
        2: (58.0, 18.0, 14.8),
        3: "W",
        4: (8.0, 54.0, 6.4),
        7: (13.0, 5.0, 0.0),
        0x1D: "2026:10:03",
        0x1F: 8.0,
    }
    tags.get_ifd(ExifTags.IFD.GPSInfo).update(place)
    found = []
    for kind in ("JPEG", "PNG", "WEBP", "TIFF"):
        out = io.BytesIO()
        Image.new("RGB", (8, 8)).save(out, kind, exif=tags)
        found.append(out.getvalue())
    return [*found, tags.tobytes()[6 + 8 :]]


def tagged() -> list[bytes]:
    """Every tag as a camera writes it, together and each alone."""
    texts = {
        0: "2026:10:03 14:05:00",
        1: "+01:00",
        2: "045",
        3: "2026:10:03",
        6: "N",
        8: "W",
        9: "WGS-84",
        10: "A",
        12: "A 1",
    }
    numbers = {4: (13, 1, 5, 1, 0, 1), 5: (58, 1, 18, 1, 14, 1), 7: (8, 1, 54, 1, 6, 1), 11: (8, 1)}
    rows = [bytes([at, 0, len(text)]) + text.encode() for at, text in texts.items()]
    rows += [bytes([at, 2, len(given)]) + bytes(given) for at, given in numbers.items()]
    return [b"".join(rows), *rows]


def codes() -> list[bytes]:
    """A code's modules as bits, with a quiet zone of one."""
    import segno

    found = []
    for text, level in (("B-031", "H"), ("B-031+X", "L"), (SITE + "finds/f-1/", "M")):
        rows = [[0, *row, 0] for row in segno.make(text, error=level, micro=False).matrix]
        blank = [0] * len(rows[0])
        bits = "".join(str(bit) for row in (blank, *rows, blank) for bit in row)
        found.append(int(bits.ljust(len(bits) + -len(bits) % 8, "0"), 2).to_bytes((len(bits) + 7) // 8, "big"))
    return found


ENTRY = (
    "---\nkind: batch\nid: B-1\ndate: 2026-10-03\nculture: C-1, C-2.3\nmix: oak pellets 5 kg, water 8.6 kg\n---\nWet.\n"
)
LIST = ["a: [b, 'c']", "photos:\n- a.jpg: wet\n- b.jpg", "text: |\n  one\n  two", 'title: "a\\u00e9"', "private: yes"]
TABLE = "Time,Temp,RH\n2026-11-01 00:00,16.5,90\n2026-11-01 00:05,16,91\n"
SEMICOLONS = "Probe 3\n\nTime;Temp (°C);RH (%)\n25/10/2026 01:30;16,5;90\n25/10/2026 01:30;16,4;---\n"
RAIN = "Date,Rain (mm),Max,Min\n2026-09-01,3.2,17,11\n2026-09-02,0,18,9\n"
POINT = '<trkpt lat="58.3" lon="-8.9"><time>2026-09-12T09:00:00Z</time></trkpt>'
TRACK = f'<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1"><trk><trkseg>{POINT}</trkseg></trk></gpx>'
TEXT = (
    '# A\n\nB-1, *wet* `x` [a](https://a.example) ![b](c.jpg "d")\n\n> - F-1\n\n::: private\nno\n:::\n<b onclick=x>\n'
)

TARGETS: Mapping[str, Target] = {
    "quantities": Target(
        quantity, quantities,
        (" g", " kg", " lb ", " oz", " %", "°C", " °F", " K", "–", " to ", ",5", " 000", " in all", " min every ",
         " h on, ",
         " h off", "12:12", "06:30", "\u2212", "\u202f", "£", " EUR", " lux", " mm", " × ", "m³/h", " kWh", ".2",
         "each"),
        2_500_000, 60,
    ),
    "dates": Target(
        a_date,
        lambda: lines("2026-10-03", "2026-10-03 14:05", "about 2026-10", "2026-10-25 01:30",
                      "2026-03-29T01:30:12,5+01:00",
                      "3 October 2026", "Sat 3rd of Oct, 2026", "03.09.2026 at 9:05", "20261027_pins",
                      "2026-11-28 rest"),
        ("2026", "-10", "-03", " 14:05", "T", "Z", "+01:00", "\u2212", "about ", "Oct ", "Mon ", "st", " at ", "/",
         ". "),
        2_500_000, 60,
    ),
    "positions": Target(
        a_position,
        lambda: lines("58.30412, -8.90177 ±8 m", "58°18′14.8″N 8°54′6.4″W", "+58.30412-008.90177/",
                      "29V 505761 6462180",
                      "geo:58.30412,-8.90177;crs=wgs84;u=8", "29V NE 0576 6218", "N 58 18.2 W 8 54.1",
                      "ZAG 12345 12345",
                      "58,3 -8,9", "90, 180", "-90 0", "S 0 0 0 E 180 0 0"),
        ("±", " m", " ft", "°", "′", "″", "N", "S", "E", "W", ", ", "geo:", ";u=", ";crs=wgs84", "+", "CRSWGS_84/",
         "31V",
         "32X", "ZAG", "BAN", "60", "180", "90", "0000000", "."),
        300_000, 80,
    ),
    "QR contents": Target(
        a_label,
        lambda: lines("B-031", "B-031.2", "B-031+X", SITE + "batches/b-031/#2", SITE + "finds/f-1/index.html",
                      "PP-26A.3+K",
                      SITE + "tents/hut/#fan-1"),
        ("+", ".", "#", "/", SITE, "finds/", "index.html", "B-031", "HTTPS://", "journal.example", "\\", "@", "%2e"),
        3_000_000, 100,
    ),
    "QR pictures": Target(a_code, codes, (), 100_000, 110),
    "front matter": Target(
        one_of(*ENTRY_WAYS),
        lambda: each_way(len(ENTRY_WAYS), [*lines(ENTRY, *(f"{row}\n---\n" for row in LIST)), *sample("*.md")]),
        ("---\n", "kind: ", "date: ", "id: ", "next: ", "private: ", "::: private\n", "- ", "[", "]", "|\n", ">\n",
         '"', "'",
         "&a ", "*a", "!!x ", "<<: ", "\ufeff", "\r\n", "\n", "\x85", "{", ": ", " #", "photos:", "![a](b.jpg)"),
        100_000, 600,
    ),
    "settings": Target(
        the_settings,
        lambda: [*sample("journal.toml"), b'[journal]\nformat = 1\nas_of = 2026-11-25\n[tents.hut]\nwidth = "4 ft"\n'],
        ("[journal]\n", "[tents.", "[[climate]]\n", "[[weather]]\n", "[shares.", "[[maps]]\n", "[labels]\n",
         "[ingredients]\n", "[names]\n", "[camera_clocks]\n", " = ", '"""', "'''", "1979-05-27", "inf", "nan", "1e999",
         "0x1", "true", "{ a = ", "]\n", "[[", 'about = ["', "time_zone", "format", "area", "every"),
        100_000, 800,
    ),
    "CSV": Target(
        one_of(*TABLE_WAYS),
        lambda: each_way(
            len(TABLE_WAYS),
            [*lines(TABLE, SEMICOLONS, RAIN), SEMICOLONS.encode("utf-16"),
            *(data[:300] for data in sample("*.csv", 4))],
        ),
        ("Time", "Temp", "RH", "Date", "Rain (mm)", "Max", "Min", ",", ";", "\t", "\n", "\r", '"',
         "2026-11-01 00:00", "+01:00",
         "25/10/2026 01:30", "nan", "---", "1e999", "°F", "\x00", "PM", "9999-12-31", "0001-01-01", "-14:00", "16,5"),
        100_000, 400,
    ),
    "GPX": Target(
        one_of(*TRACK_WAYS),
        lambda: each_way(2, lines(TRACK, POINT, POINT + POINT.replace("09:00", "09:01").replace("-8.9", "179.9"))),
        ("<gpx>", "<trk>", "<trkseg>", "</trkseg>", POINT, "<time>", "</time>", 'lat="', 'lon="', "nan", "inf", "1e999",
         "<!DOCTYPE", "<!ENTITY", "&amp;", "&#0;", "]]>", "<![CDATA[", 'xmlns:a="b"', "+14:00", "0001-01-01T00:00:00",
         'encoding="UTF-7"', "<ele>", "<extensions>", "9999-12-31T23:59:60-14:00"),
        200_000, 500,
    ),
    "EXIF tags": Target(
        exif_tags, tagged, ("2026:10:03", " 14:05:00", "+01:00", "Z", "0000:00:00", "    :  :  ", "WGS-84", "TOKYO",
        "\0"), 700_000,
        200,
    ),
    "EXIF files": Target(
        exif_file, pictures,
        ("Exif\0\0", "II*\0", "MM\0*", "2026:10:03", "\x87\x69", "\x88\x25", "\0\0\0\0", "\x0f\0", "IFD", "eXIf",
         "+01:00"),
        20_000, 1500,
    ),
    "archive": Target(
        one_of(*ARCHIVE_WAYS),
        lambda: each_way(3, [holding(ENTRY.encode()), json.dumps(listing(b"a")).encode(), ENTRY.encode()]),
        ("PK\x03\x04", "PK\x01\x02", "PK\x05\x06", "manifest.json", "/entry.md", "photo-01.jpg", "../", "{",
         '"format":',
         "id: ", "about: ", "B-1"),
        50_000, 900,
    ),
    "manifests": Target(
        a_manifest,
        lambda: [json.dumps(listing(b"a")).encode(), json.dumps(RECEIPT).encode()],
        ('"format":', '"version":1', '"records":[', '"files":', '"parts":[1]', '"bytes":', "null", "true", "1e999",
         "NaN",
         "[[", "{}", '"\\ud800"', '"path":"../a"', '"was":', '"missing":', '"id":"CON"'),
        1_000_000, 900,
    ),
    "Markdown": Target(
        markdown,
        lambda: [TEXT.encode(), *(data[:400] for data in sample("*.md", 6))],
        ("[a](", "![a](", "javascript:", "data:text/html,", "<script>", "<img src=x onerror=x>", "&#x6a;", "&Tab;",
         "`", "***",
         "> ", "- ", "1. ", "```\n", "[a]: ", "F-1", "F-1.2", "::: private\n", "<https://a>", "\\", "\n\n", "~~~",
         "|", "\x00"),
        100_000, 400,
    ),
}  # fmt: skip

RECEIPT = {
    "version": 1, "archive": str(uuid.UUID(int=5)), "device": "K7Q4", "manifest": "0" * 64,
    "gathered": "2026-11-25T20:03:22Z",
    "parts": {"1": "ABCD"}, "missing": [],
    "records": [
        {
            "record": str(uuid.UUID(int=7)), "revision": 1, "kind": "find", "id": "F-1", "was": "F-2",
            "path": "finds/a",
            "files": [{"name": "entry.md", "sha256": "0" * 64, "written": "0" * 64}],
        }
    ],
}  # fmt: skip
