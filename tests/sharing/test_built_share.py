"""A real share of a real folder, in which every key of every kind of entry, every setting, and every name of a file,
track, logger file and picture bears a word that stands nowhere else: every byte of folder and zip is searched."""

from __future__ import annotations

import io
import itertools
import re
import struct
import time
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from PIL import Image

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.reading.keys import KEYS
from journal.share_pipeline import LeaksFound, make_share_files, prepare
from journal.sharing import redact
from journal.sharing.secrets import Secrets
from tests.sharing.made import seen_whole
from tests.sharing.planted import notations, word

SHARED_KEYS = {
    "find": "title, next, done, species, habitat, growing on, host, growth, smell, weather, spore print, specimen",
    "culture": "title, next, done, species, medium, treatment, kept",
    "batch": "title, next, done, substrate, container, treatment",
    "note": "title, next, done, cause, species",
    "tent": "title, next, done, air movement, why, serviced",
    "device": "title, next, done, does, powered by, rated for, spare",
}
"""The keys whose texts a share shows of what it grants."""

VALUES = {
    "private": "no", "certainty": "likely", "elevation": "41 m", "locality": "exact", "method": "tissue",
    "form": "plate",
    "vessels": "4", "transfers before": "1", "master": "yes", "units": "4", "wet mass": "2.3 kg", "moisture": "62 %",
    "dry mass": "874 g", "spawn mass": "80 g", "spawn volume": "23 ml", "wants humidity": "90–95 %",
    "wants temperature": "15–17 °C", "wants humidity while colonising": "61–94 %",
    "wants temperature while colonising": "16–19 °C",
    "stage": "colonised", "harvest": "412 g", "dried": "40 g", "dried from": "390 g", "flush": "1", "lost": "1",
    "colony": "34 × 36 mm",
    "meter": "8417.3 kWh", "picked mass": "1923 g",
    "door": "open", "humidity set point": "92 %", "humidity differential": "3 %", "temperature set point": "15 °C",
    "light": "06:25–18:25", "light colour": "6500 K", "exhaust": "2 min every 15 min", "humidity reading": "86 %",
    "temperature reading": "15 °C", "co2 reading": "900 ppm", "tank fill": "5.6 l", "light level": "640 lux",
    "cost": "73019.37", "minutes": "48271", "sold": "61733.49",
}  # fmt: skip
CLOCK = "14:37"
CORE_COLUMN = word(19_999)
HERE, THERE = (58.3041234, -8.9017789), (57.1185671, -7.4530912)


@dataclass
class Words:
    """Planted words; allowed: those that the share may show."""

    every: set[str] = field(default_factory=set)
    allowed: set[str] = field(default_factory=set)
    keys: dict[str, str] = field(default_factory=dict)
    numbers: Iterator[int] = field(default_factory=lambda: itertools.count(20_000))

    def new(self, allowed: bool = False) -> str:
        made = word(next(self.numbers))
        self.every.add(made)
        if allowed:
            self.allowed.add(made)
        return made


def entry(words: Words, kind: str, granted: bool, links: dict[str, str], photo: str, place: tuple[float, float]) -> str:
    """An entry with every key that its kind may have."""
    lines = ["---", f"kind: {kind}", f"date: 2026-10-06 {CLOCK}"]
    shared = SHARED_KEYS[kind].split(", ")
    for name, key in KEYS[kind].items():
        may = granted and name in shared
        if name in links:
            lines.append(f"{name}: {links[name]}")
        elif name in VALUES:
            lines.append(f"{name}: {VALUES[name]}")
        elif name == "photos":
            lines.append(f"photos: {photo}: {words.new(granted)}")
        elif name == "where":
            lines.append(f"where: {place[0]}, {place[1]} ±8 m")
        elif name == "next":
            lines.append(f"next: 2026-11-01 {words.new(may)}")
        elif name == "mix":
            lines.append(f"mix: {words.new(granted)} 5 kg, {words.new(granted)} 1 kg, water 8 kg")
        elif name == "core log":
            lines.append(f"{name}: {photo.rpartition('.')[0]}.csv: {CORE_COLUMN}")
        elif key.notation in ("text", "names"):
            lines.append(f"{name}: {words.new(may)}")
            words.keys[lines[-1].rpartition(" ")[2]] = f"{kind}: {name}"
    own, secret = words.new(granted), words.new()
    text = f"{own} at {CLOCK}.\n\n{notations(*place)}.\n\n::: private\n{secret}\n:::\n\n"
    text += f"340 m NW of {words.new(granted)}, see {photo}.\n"  # a way is its author's to judge
    return "\n".join([*lines, "---", text])


def picture(words: Words, place: tuple[float, float], colour: str) -> bytes:
    """A JPEG with words and a place in its EXIF, its thumbnail, XMP, IPTC and comment."""
    small = io.BytesIO()
    Image.new("RGB", (16, 12), colour).save(small, "JPEG", comment=words.new().encode())
    exif = Image.Exif()
    exif[0x010E], exif[0x013B] = words.new(), words.new()  # what it shows, by whom
    exif.get_ifd(0x8769).update(
        {0x9003: f"2026:10:06 {CLOCK}:12", 0xA431: words.new(), 0x9286: b"ASCII\0\0\0" + words.new().encode()}
    )
    lat, lon = tuple((int(abs(a)), int(abs(a) * 60 % 60), round(abs(a) * 3600 % 60, 3)) for a in place)
    exif.get_ifd(0x8825).update({1: "N", 2: lat, 3: "W", 4: lon})
    out = io.BytesIO()
    image = Image.radial_gradient("L").resize((640, 480)).convert("RGB")
    image.paste(colour, (0, 0, 200, 200))
    image.save(out, "JPEG", exif=exif.tobytes() + small.getvalue(), comment=words.new().encode())
    plain = out.getvalue()
    xmp = b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>" + words.new().encode() + b"</x:xmpmeta>"
    record = words.new().encode()
    iptc = b"\x1c\x02\x78" + struct.pack(">H", len(record)) + record
    iptc = b"Photoshop 3.0\x008BIM\x04\x04\0\0" + struct.pack(">I", len(iptc)) + iptc + b"\0" * (len(iptc) % 2)
    segments = b"".join(
        marker + struct.pack(">H", len(body) + 2) + body for marker, body in ((b"\xff\xe1", xmp), (b"\xff\xed", iptc))
    )
    return plain[:2] + segments + plain[2:]


def gpx(words: Words) -> str:
    points = "".join(
        f'<trkpt lat="{THERE[0] + step / 1000}" lon="{THERE[1] - step / 1000}">'
        f"<time>2026-10-06T13:{30 + step:02d}:00Z</time></trkpt>" for step in range(20)
    )  # fmt: skip
    name = words.new()
    return (
        f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="{words.new()}"><trk><name>{name}</name>'
        f"<trkseg>{points}</trkseg></trk></gpx>"
    )


def planted_folder(root: Path) -> Words:
    words = Words({CORE_COLUMN})
    columns = [words.new() for _ in range(3)]
    logger = f"{words.new()}/{words.new()}.csv"
    station = f"{words.new()}/{words.new()}.csv"
    files: dict[str, str | bytes] = {
        "journal.toml": f'[journal]\ntitle = "{words.new(True)}"\nauthor = "{words.new()}"\n'
        'time_zone = "Europe/Paris"\nelevation = "1483.6 m"\n'
        f'site_url = "https://{words.new().lower()}.example"\n[ingredients]\n"{words.new()}" = "90 %"\n'
        f'[tents.hut]\nname = "{words.new(True)}"\nfloor = "{words.new(True)}"\n'
        f'[tents.hut.every]\n{words.new(True)} = "7 d"\n'
        f'[tents.loft]\nname = "{words.new()}"\nfloor = "{words.new()}"\n[tents.loft.every]\n{words.new()} = "7 d"\n'
        f'[[climate]]\nfiles = "{logger}"\ntent = "loft"\ntime = "{columns[0]}"\ntemperature = "{columns[1]} (°C)"\n'
        f'humidity = "{columns[2]}"\n[shares.mentor]\nabout = ["G-B", "hut"]\nsince = 2026-09-01\npositions = "area"\n'
        'texts = "all"\n'
        f'[shares.{words.new()}]\nabout = ["U-B"]\n[permits.{words.new()}]\nlimit = "9 kg"\n'
        f'[[weather]]\nfiles = "{station}"\ndate = "{columns[0]}"\nrain = "{columns[1]}"\n',
        station: f"{columns[0]},{columns[1]}\n" + "".join(f"2026-09-{day:02},7.31\n" for day in range(1, 31)),
        logger: f"{columns[0]},{columns[1]} (°C),{columns[2]}\n2026-10-06T12:00Z,15.1,86\n2026-10-07T12:00Z,15.2,87\n",
        f"{words.new()}/{words.new()}.gpx": gpx(words),
        f"{words.new()}.md": f"No entry, but {words.new()}.\n",
        f"receipts/{words.new()}.json": f'{{"a": "{words.new()}"}}',
        f".{words.new()}/{words.new()}.md": words.new(),
        f"{words.new()}/broken.md": f"---\nkind: note\nabout: X-404\n{words.new()}: {words.new()}\n---\n"
        f"{words.new()}\n",
        f"{words.new()}/{words.new()}.jpg": picture(words, THERE, "navy"),
    }
    for kind, id, granted, links in rows():
        folder, name = words.new(), f"{words.new()}_0412.jpg"
        place = HERE if granted else THERE
        files[f"{folder}/{words.new()}.md"] = entry(words, kind, granted, links, name, place)
        files[f"{folder}/{name}"] = picture(words, place, "red" if granted else "green")
        if kind in ("culture", "batch"):
            core = f"Time,{CORE_COLUMN} (°C)\n2026-10-06 12:01,118.73\n2026-10-06 12:03,119.57\n"
            files[f"{folder}/{name.rpartition('.')[0]}.csv"] = core
        assert id
    for path, content in files.items():
        file = root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content.encode() if isinstance(content, str) else content)
    return words


def rows() -> Iterator[tuple[str, str, bool, dict[str, str]]]:
    """(kind, ID, whether it is shared, its links)."""
    for side, granted in (("G", True), ("U", False)):
        tent = "hut" if granted else "loft"
        yield "find", f"{side}-F", granted, {"id": f"{side}-F"}
        yield "culture", f"{side}-C", granted, {"id": f"{side}-C", "from": f"{side}-F"}
        yield "batch", f"{side}-B", granted, {"id": f"{side}-B", "culture": f"{side}-C", "tent": tent}
        yield "note", f"{side}-N", granted, {"about": f"{side}-B", "moved to": tent}
        yield "tent", f"{side}-T", granted, {"about": tent}
        yield "device", f"{side}-D", granted, {"id": f"{side}-D", "tent": tent, "controlled by": f"{side}-D"}


def every_byte(folder: Path, archive: Path) -> Iterator[tuple[str, bytes]]:
    for path in sorted(folder.rglob("*")):
        yield path.relative_to(folder).as_posix(), path.read_bytes() if path.is_file() else b""
    yield archive.name, archive.read_bytes()
    with zipfile.ZipFile(archive) as packed:
        for row in packed.infolist():
            yield f"{archive.name}/{row.filename}", packed.read(row)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Words, Path, Path]:
    room = tmp_path_factory.mktemp("built").resolve()
    words = planted_folder(room / "journal")
    memory = FileCache(Cache(room / "cache"), room / "journal", time.time_ns())
    prepared = seen_whole(memory, prepare(memory, "mentor", lambda *told: None))
    handed = make_share_files(memory, prepared, room / "out", lambda *told: None)
    return words, handed.pages_folder, handed.archive


def test_no_word_that_is_not_granted_is_in_any_byte(built: tuple[Words, Path, Path]) -> None:
    words, folder, archive = built
    forbidden = {one.lower().encode() for one in words.every - words.allowed}
    told = {
        (name, one.decode())
        for name, data in every_byte(folder, archive)
        for one in forbidden
        if one in data.lower() or one in name.lower().encode()
    }
    assert set() == told


def test_what_is_granted_is_there(built: tuple[Words, Path, Path]) -> None:
    words, folder, archive = built
    whole = b"\n".join(data.lower() for _, data in every_byte(folder, archive))
    missing = {words.keys.get(one, one) for one in words.allowed if one.lower().encode() not in whole}
    # No page tells what was done of what bears an ID itself.
    assert missing <= {f"{kind}: done" for kind in ("find", "culture", "batch", "device")}


def test_no_cost_and_no_minute_of_work_is_in_any_byte(built: tuple[Words, Path, Path]) -> None:
    _, folder, archive = built
    money = re.compile(rb"73.?019|61.?733|48.?271|804.5 ?h")
    assert [] == [
        name
        for name, data in every_byte(folder, archive)
        if name.endswith((".html", ".js", ".json")) and money.search(data)
    ]


@pytest.mark.parametrize("place", [HERE, THERE])
def test_no_position_and_no_time_of_day_is_in_any_byte(
    built: tuple[Words, Path, Path], place: tuple[float, float]
) -> None:
    _, folder, archive = built
    short = {f"{abs(angle):.7f}"[:-3] for angle in place} | {f"{abs(angle):.3f}" for angle in place}
    texts = {*short, *notations(*place).split("; ")[3:], CLOCK}
    told = {
        (name, text)
        for name, data in every_byte(folder, archive)
        if not name.endswith(".webp")
        for text in texts
        if text.encode() in data
    }
    assert set() == told


def test_nothing_of_how_it_was_heated_is_in_any_byte(built: tuple[Words, Path, Path]) -> None:
    """Neither the core temperatures nor the elevation, nor what was calculated from them; nor a meter's reading."""
    _, folder, archive = built
    shown = ("that would kill as much", "hottest in the middle")  # F₀ itself is on the page of calculators
    texts = (
        *shown,
        "118.73",
        "119.57",
        "119.6",
        "1483",
        "1484 m",
        "8417",
        "1923 g",
        "1.92 kg",
        "7.31",
        "51 mm",
        "153.5",
    )
    told = {(name, text) for name, data in every_byte(folder, archive) for text in texts if text.encode() in data}
    assert set() == {(name, text) for name, text in told if not name.endswith(".webp")}


def test_every_picture_is_bare_and_of_a_shared_photo(
    built: tuple[Words, Path, Path], need_exiftool: Callable[..., dict[str, object]]
) -> None:
    """*Reference program:* ExifTool, which finds nothing in them that says more than what a picture is."""
    _, folder, _ = built
    pictures = sorted((folder / "photos").rglob("*.webp"))
    assert pictures
    for file in pictures:
        groups = {tag.partition(":")[0] for tag in need_exiftool(file, "-G1", "-a", "-u")}
        assert groups <= {"SourceFile", "ExifTool", "System", "File", "RIFF", "Composite"}
        with Image.open(file) as image:
            red, green, blue = image.convert("RGB").getpixel((5, 5))
        assert red > max(green, blue), "only red pictures belong to what is shared"


def test_a_share_that_tells_too_much_does_not_go_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a redaction that forgets names, the check stops it, names where, and the older share stays."""
    words = planted_folder(tmp_path / "journal")
    assert words.every
    out = tmp_path.resolve() / "out"
    memory = FileCache(Cache(tmp_path / "cache"), tmp_path.resolve() / "journal", time.time_ns())
    tell = lambda *told: None  # noqa: E731
    make_share_files(memory, seen_whole(memory, prepare(memory, "mentor", tell)), out, tell)
    before = dict(every_byte(out / "mentor/pages", out / "mentor/mentor.zip"))
    monkeypatch.setattr(redact, "secrets_of", lambda journal, grant, broken: Secrets(grant, ()))
    monkeypatch.setattr(redact, "all_places", lambda journal: ())
    (tmp_path / "journal" / "own.md").write_text(
        "---\nkind: note\nabout: G-B\ndate: 2026-10-07\n---\nLike U-B and U-F.\n"
    )
    with pytest.raises(LeaksFound) as stopped:
        make_share_files(memory, seen_whole(memory, prepare(memory, "mentor", tell)), out, tell)
    assert {"an ID"} <= {leak.what for leak in stopped.value.leaks}
    assert any(leak.file.startswith("batches/g-b/") for leak in stopped.value.leaks)
    assert before == dict(every_byte(out / "mentor/pages", out / "mentor/mentor.zip"))
