"""An invented journal with one of each kind, and at least one value of everything that a journal's document can
contain.

It is there for its columns alone: tables made of it have all that a journal's tables can have, before an author has
written the first entry.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from journal.model import CoreLog, Journal, LoggerFile, Photo
from journal.reading.entries import read_entry
from journal.reading.linking import assemble
from journal.reading.settings_file import read_settings
from journal.reading.tracks import read_track

_FIRST = datetime(2026, 1, 1, tzinfo=UTC)

_SETTINGS = """
[journal]
title = "Specimen"
author = "Author"
time_zone = "UTC"
elevation = "40 m"
as_of = 2026-06-01
[permits.wood]
limit_a_day = "1 kg"
limit = "5 kg"
[tents.room]
name = "Room"
shelf_area = "2 m²"
humidity = "85-95 %"
temperature = "12-18 C"
[tents.room.every]
tank = "7 d"
""".encode()

_TRACK = b"""<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="58.3" lon="-8.9"><time>2026-01-01T11:59:00Z</time></trkpt>
<trkpt lat="58.3" lon="-8.9"><time>2026-01-01T12:01:00Z</time></trkpt></trkseg></trk></gpx>"""

_ENTRIES = {
    "find.md": "kind: find\nid: F\nformerly: F0\n"
    "date: 2026-01-01\nwhere: 58.3, -8.9 ±8 m\nnext: 2026-01-02 look again\ndone: yes\n"
    "photos: find.jpg\nspecies: Pleurotus ostreatus\npatch: stem\n"
    "picked mass: 300 g\npermit: wood",
    "visit.md": "kind: note\nabout: F\ndate: 2026-03-01\nstage: prime",
    "nothing.md": "kind: note\nabout: F\ndate: 2026-03-03\nstage: nothing there",
    "culture.md": "kind: culture\nid: C\nformerly: C0\n"
    "date: 2026-01-01\nfrom: F\nform: plate\nvessels: 6\nnext: shake it",
    "colony.md": "kind: note\nabout: C\ndate: 2026-01-03\ncolony: 1: 10 × 12 mm, 2: 11 × 12 mm, 3: 10 × 10 mm",
    "colony-2.md": "kind: note\nabout: C\ndate: 2026-01-05\ncolony: 1: 30 × 31 mm, 2: 33 × 32 mm, 3: 35 × 36 mm",
    "tent.md": "kind: tent\nabout: room\ndate: 2026-01-01\nhumidity set point: 92 %\nlight: 12:12\n"
    "humidity reading: 86 %\nserviced: tank\nexhaust: 2 min every 15 min",
    "meter.md": "kind: tent\nabout: room\ndate: 2026-01-02\nmeter: 10 kWh\ntank fill: 4 l",
    "meter-2.md": "kind: tent\nabout: room\ndate: 2026-03-02\nmeter: 90 kWh\ntank fill: 4.2 l",
    "device.md": "kind: device\nid: D\nformerly: D0\ndate: 2026-01-01\ntent: room\ndoes: fan\nnext: clean it",
}

_CORE = LoggerFile(
    path="core.csv",
    tent="",
    stamps_s=tuple(_FIRST.timestamp() + 60 * at for at in range(4)),
    temperature_c=(20.0, 121.5, 121.5, 90.0),
    humidity_pct=(float("nan"),) * 4,
)

_BATCHES = 6
"""So many finished batches give a median its interval."""


def specimen() -> Journal:
    """The specimen. It is the same at every call, and reads no file."""
    settings, problems = read_settings(_SETTINGS)
    track, of_the_track = read_track("walk.gpx", _TRACK)
    texts = {**_ENTRIES, **{path: text for number in range(_BATCHES + 1) for path, text in _batch(number).items()}}
    drafts = [read_entry(path, f"---\n{keys}\n---\n".encode(), settings) for path, keys in texts.items()]
    return assemble(
        settings,
        [draft for draft in drafts if draft is not None],
        not_entries=["letter.md"],
        photos=[Photo(path="find.jpg", digest="", taken=_FIRST + timedelta(hours=12), width=4, height=3)],
        tracks=[track],
        logs=[
            LoggerFile(
                path="log.csv",
                tent="room",
                stamps_s=tuple(_FIRST.timestamp() + 600 * at for at in range(288)),
                temperature_c=(15.0,) * 288,
                humidity_pct=(90.0,) * 288,
            )
        ],
        core_logs=[CoreLog(entry=path, log=_CORE) for path in ("culture.md", "B-0.md")],
        problems=[*problems, *of_the_track],
    )


def _batch(number: int) -> dict[str, str]:
    grows = number == _BATCHES
    begun = "2026-05" if grows else "2026-01"
    id = f"B-{number}"
    about = f"kind: note\nabout: {id}"
    batch = (
        f"kind: batch\nid: {id}\nformerly: {id}-0\n"
        f"date: {begun}-0{number + 1}\nculture: C\nunits: 2\nmix: oak pellets 2 kg, water 3 kg\n"
        "wet mass: 2.5 kg\nspawn mass: 200 g\ntent: room\nnext: turn it"
    )
    notes = {
        f"{id}-0.md": f"{about}\ndate: {begun}-2{number}\nstage: colonised\nlost: 1\ncause: dropped\nnext: soak it",
        f"{id}-1.md": f"{about}\ndate: 2026-02-0{number + 1}\nstage: pinning\nmoved to: room",
        f"{id}-2.md": f"{about}\ndate: 2026-02-1{number}\nharvest: 300 g\nflush: 1",
        f"{id}-3.md": f"{about}\ndate: 2026-03-0{number + 1}\nharvest: 200 g\nflush: 2\nstage: spent",
    }
    return {f"{id}.md": batch, **(dict(list(notes.items())[:1]) if grows else notes)}
