"""The check finds what is planted, whatever it is wrapped in, and finds nothing where nothing is."""

from __future__ import annotations

import base64
import bz2
import gzip
import html
import io
import json
import lzma
import zipfile
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, PngImagePlugin

from journal.cache.resources import find_resources
from journal.cache.static_files import static_files
from journal.geo.coarsen import geohash_of, location_code_of
from journal.model import Journal
from journal.settings import Share
from journal.sharing.detectors import Leak, Search, detectors_of
from tests.sharing.planted import SINCE, ids_of_names, notations, planted

SHARE = Share(name="mentor", about=(ids_of_names()["batch a"],), since=SINCE, positions="area")
WORDS = {at[1]: word for word, at in planted().words.items()}
FIND_B = (57.1185671, -7.4530912)
SECRET = next(find.place for find in planted().journal.finds if find.place)
ID = ids_of_names()["batch b"]
PERSON = planted().journal.batches[0].by
FILE = planted().journal.photos[0].path.rpartition("/")[2]


def leaks_in(folder: Path, whole: Journal, share: Share) -> tuple[Leak, ...]:
    return Search(detectors_of(whole, share)).leaks_in(folder)


@cache
def search_for(share: Share) -> Search:
    """The search for what a share of the planted journal must not tell; to find out what that is takes long."""
    return Search(detectors_of(planted().journal, share))


def leaks_of(folder: Path, made: Mapping[str, str | bytes], share: Share = SHARE, **more: Any) -> tuple[Leak, ...]:
    for path, content in made.items():
        file = folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content.encode() if isinstance(content, str) else content)
    search = Search(detectors_of(planted().journal, share, **more)) if more else search_for(share)
    return search.leaks_in(folder)


def page(text: str) -> str:
    return f"<!doctype html><html><body><main><h2>Held</h2><p>{text}</p></main></body></html>"


# What is told ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("a place", SECRET),
        ("a place", SECRET.upper()),
        ("an ID", ID),
        ("an ID", f"{ID.lower()}.2"),
        ("an ID", ID.replace("-", " ")),
        ("a person", PERSON),
        ("a permission", planted().journal.finds[0].permission),
        ("a word of what is not shared", WORDS["private passage"]),
        ("a word of what is not shared", WORDS["price"]),
        ("a word of what is not shared", WORDS["share name"]),
        ("a name of a file or setting", FILE),
        ("a name of a file or setting", planted().journal.settings.climate[0].files),
        ("a time of day", planted().journal.batches[0].date.moment.strftime("on %H:%M it was")),
        ("a time of day", planted().journal.batches[0].date.moment.strftime("at %H.%M, it was")),
        ("a time of day", planted().journal.batches[0].date.moment.strftime("%Hh%M")),
        ("a time of day", planted().journal.batches[0].date.moment.strftime("%H%M hrs")),
        ("a time of day", planted().journal.batches[0].date.moment.strftime("%H\uff1a%M")),
        ("a way from which a place could be calculated", "It is 350 m NW of the old gate."),
        ("a way from which a place could be calculated", "On a bearing of 214° from the light."),
    ],
)  # fmt: skip
def test_what_is_planted_in_a_page_is_named(tmp_path: Path, what: str, text: str) -> None:
    assert what in {leak.what for leak in leaks_of(tmp_path, {"a/index.html": page(f"So {text} it was")})}


def test_a_sentence_of_ordinary_words_is_known_by_their_order(
    make_journal: Callable[..., Journal], tmp_path: Path
) -> None:
    passage = "::: private\nThe fan and the light are to be off on the day.\n:::\n"
    journal = make_journal({**WOOD, "n.md": f"---\nkind: note\nabout: B-031\ndate: 2026-10-07\n---\nOn.\n{passage}"})
    share = journal.settings.shares[0]
    (tmp_path / "a.html").write_text(page("So the light <b>are to be</b> off, on a day"))
    assert {"a sentence of what is not shared"} == {leak.what for leak in leaks_in(tmp_path, journal, share)}
    (tmp_path / "a.html").write_text(page("The light and the fan are off on the day"))
    assert () == leaks_in(tmp_path, journal, share)


def test_words_that_an_index_happens_to_hold_in_a_row_are_no_sentence(
    make_journal: Callable[..., Journal], tmp_path: Path
) -> None:
    passage = "::: private\nThe fan and the light are to be off on the day, and in the tent by the door.\n:::\n"
    journal = make_journal({**WOOD, "n.md": f"---\nkind: note\nabout: B-031\ndate: 2026-10-07\n---\nOn.\n{passage}"})
    share = journal.settings.shares[0]
    (tmp_path / "a.js").write_text('[["n","on the fan and the light are off"]]')
    assert () == leaks_in(tmp_path, journal, share)
    (tmp_path / "a.js").write_text('[["n","and the light are to be off on the day, and in the tent"]]')
    assert {"a sentence of what is not shared"} == {leak.what for leak in leaks_in(tmp_path, journal, share)}


@pytest.mark.parametrize("text", notations(*FIND_B).split("; ")[:2] + notations(*FIND_B).split("; ")[3:])
def test_a_position_is_found_in_every_notation(tmp_path: Path, text: str) -> None:
    hidden = Share(name="mentor", about=SHARE.about, positions="hidden")
    assert {"a position"} == {leak.what for leak in leaks_of(tmp_path, {"a.html": page(f"At {text} today")}, hidden)}


@pytest.mark.parametrize("decimals", range(1, 8))
@pytest.mark.parametrize("between", [", ", ", -", " -", '","lon":"', "&amp;lon=-", " / ", "° N, "])
def test_a_position_is_found_however_it_is_rounded(tmp_path: Path, decimals: int, between: str) -> None:
    text = f"{FIND_B[0]:.{decimals}f}{between}{abs(FIND_B[1]):.{decimals}f}"
    assert {"a position"} == {leak.what for leak in leaks_of(tmp_path, {"a.html": page(text)})}


@pytest.mark.parametrize("decimals", range(2, 8))
def test_a_position_is_found_in_two_cells_of_a_table(tmp_path: Path, decimals: int) -> None:
    """Of one decimal, two numbers that stand beside each other may be anything."""
    text = f"<td>{FIND_B[0]:.{decimals}f}</td><td>{abs(FIND_B[1]):.{decimals}f}</td>"
    assert {"a position"} == {leak.what for leak in leaks_of(tmp_path, {"a.html": page(text)})}


@pytest.mark.parametrize(
    "text",
    [
        geohash_of(*FIND_B)[:6],
        geohash_of(*FIND_B)[:9],
        location_code_of(*FIND_B),
        "571185671, -74530912",
        "57.1185",
        "7.453091",
        "57.11856709, -7.45309122",
        "N 57°07.11' W 7°27.18'",
        "57 07 06.8, 7 27 11.1",
    ],
)
def test_a_position_is_found_in_the_notations_of_programs(tmp_path: Path, text: str) -> None:
    found = {leak.what for leak in leaks_of(tmp_path, {"a.html": page(f"at {text} there")})}
    assert ({"a position"} if text != "57.1185" else set()) == found


def test_the_middle_of_a_shared_cell_may_be_told_in_every_notation_and_the_place_itself_in_none(tmp_path: Path) -> None:
    share = Share(name="mentor", about=(ids_of_names()["find b"],), positions="area")
    assert () == leaks_of(tmp_path, {"a.html": page(notations(57.1, -7.5))}, share)
    assert leaks_of(tmp_path, {"a.html": page(notations(*FIND_B))}, share)


# What it is wrapped in ---------------------------------------------------------------------------------------------


def zipped(name: str, content: bytes, comment: bytes = b"") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(name, content)
        packed.comment = comment
    return out.getvalue()


def coded(text: str) -> bytes:
    return base64.b64encode(text.encode())


WRAPPINGS: dict[str, tuple[str, Callable[[str], str | bytes]]] = {
    "plain text": ("a.txt", str),
    "an attribute": ("a.html", lambda s: page(f'<img alt="{s}">')),
    "a comment": ("a.html", lambda s: page(f"<!-- {s} -->")),
    "marks of emphasis": ("a.html", lambda s: page(f"{s[:4]}<em>{s[4:]}</em>")),
    "a class": ("a.html", lambda s: page(f"<p class={s}>")),
    "entities": ("a.html", lambda s: page("".join(f"&#{ord(c)};" for c in s))),
    "hexadecimal entities": ("a.html", lambda s: page("".join(f"&#x{ord(c):x};" for c in s))),
    "script escapes": ("a.js", lambda s: "x=" + "".join(f"\\u{ord(c):04x}" for c in s)),
    "short script escapes": ("a.js", lambda s: "x=" + "".join(f"\\x{ord(c):02x}" for c in s)),
    "percent": ("a.html", lambda s: page('<a href="' + "".join(f"%{ord(c):02X}" for c in s) + '">')),
    "JSON": ("a.json", lambda s: json.dumps({"a": [s]})),
    "the search index": ("search/2026.js", lambda s: f'journalSearch.add([\n["t","p","of {s.lower()} it"]\n]);'),
    "the worker": ("sw.js", lambda s: (find_resources() / "static" / "sw.js").read_text() + f'\nconst x = "{s}";'),
    "the manifest": ("manifest.webmanifest", lambda s: json.dumps({"name": s})),
    "SVG": ("a.svg", lambda s: f'<svg xmlns="http://www.w3.org/2000/svg"><title>{s}</title></svg>'),
    "SVG's metadata": ("a.svg", lambda s: f"<svg><metadata>{s}</metadata></svg>"),
    "wide letters": ("a.txt", lambda s: s.encode("utf-16")),
    "a static file that was changed": ("static/js/sort.js", lambda s: f"// {s}"),
    "base64": ("a.json", lambda s: coded(f"see {s} here")),
    "base64 from the second letter": ("a.json", lambda s: coded(f" see {s} here")),
    "base64 within a run of it": ("a.json", lambda s: b"x" + coded(f"we see {s} just here and so on")),
    "base64 for addresses": ("a.json", lambda s: base64.urlsafe_b64encode(f"??>>see {s} here".encode())),
    "a data address": ("a.html", lambda s: page(f'<img src="data:text/plain;base64,{coded(s).decode()}">')),
    "base64 twice": ("a.txt", lambda s: base64.b64encode(coded(f"see {s}"))),
    "hexadecimal": ("a.txt", lambda s: s.encode().hex()),
    "gzip": ("a.gz", lambda s: gzip.compress(s.encode())),
    "a zip": ("a.zip", lambda s: zipped("x.txt", s.encode())),
    "a name in a zip": ("a.zip", lambda s: zipped(f"{s}.txt", b"")),
    "a zip's comment": ("a.zip", lambda s: zipped("x.txt", b"", s.encode())),
    "a zip in a zip": ("a.zip", lambda s: zipped("b.zip", zipped("x.html", page(html.escape(s)).encode()))),
    "bytes that are no text": ("a.bin", lambda s: bytes(range(128, 256)) + s.encode() + bytes(range(128, 256))),
}  # fmt: skip


@pytest.mark.parametrize("wrapping", WRAPPINGS)
def test_a_place_is_found_in_every_wrapping(tmp_path: Path, wrapping: str) -> None:
    name, wrap = WRAPPINGS[wrapping]
    found = leaks_of(tmp_path, {name: wrap(SECRET)})
    assert "a place" in {leak.what for leak in found}
    assert {name} == {leak.file for leak in found}


@pytest.mark.parametrize("compress", [bz2.compress, lzma.compress])
def test_what_is_packed_as_no_file_of_a_site_is_told_unopened(
    tmp_path: Path, compress: Callable[[bytes], bytes]
) -> None:
    found = leaks_of(tmp_path, {"a.bin": compress(SECRET.encode())})
    assert "something that cannot be opened" in {leak.what for leak in found}


@pytest.mark.parametrize("path", [f"{SECRET}.html", f"pages/{SECRET.lower()}/index.html", f"photos/{FILE}"])
def test_a_name_of_a_file_or_folder_tells_too(tmp_path: Path, path: str) -> None:
    assert [leak for leak in leaks_of(tmp_path, {path: "x"}) if leak.where.startswith("the name ")]


# Pictures ----------------------------------------------------------------------------------------------------------


def picture(kind: str, **options: Any) -> bytes:
    out = io.BytesIO()
    Image.radial_gradient("L").resize((64, 48)).convert("RGB").save(out, kind, **options)
    return out.getvalue()


def exif(**tags: str) -> bytes:
    made = Image.Exif()
    for tag, text in {0x010E: tags.get("says", ""), 0xA431: tags.get("serial", "")}.items():
        if text:
            made[tag] = text
    return made.tobytes()


def png_with(**texts: str) -> bytes:
    info = PngImagePlugin.PngInfo()
    for key, text in texts.items():
        info.add_text(key, text, zip=key == "Packed")
    return picture("PNG", pnginfo=info)


IPTC = b"Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x14\x1c\x02\x05\x00\x0f" + SECRET.encode()[:15].ljust(15)
PICTURES = {
    "EXIF": picture("JPEG", exif=exif(message=f"seen at {SECRET}")),
    "a serial number": picture("WEBP", exif=exif(serial="SN 0042 7731")),
    "XMP": picture("WEBP", xmp=f"<x:xmpmeta>{SECRET}</x:xmpmeta>".encode()),
    "a JPEG's comment": picture("JPEG", comment=SECRET.encode()),
    "IPTC": picture("JPEG")[:2] + b"\xff\xed" + (len(IPTC) + 2).to_bytes(2, "big") + IPTC + picture("JPEG")[2:],
    "a PNG's text": png_with(Comment=SECRET),
    "a PNG's packed text": png_with(Packed=SECRET),
    "a PNG's EXIF": picture("PNG", exif=exif(message=SECRET)),
    "a colour profile": picture("WEBP", icc_profile=b"ICC of a camera" * 9),
    "behind the picture": picture("WEBP") + f"seen at {SECRET}".encode(),
}


@pytest.mark.parametrize("what", PICTURES)
def test_a_picture_with_more_than_its_pixels_is_named(tmp_path: Path, what: str) -> None:
    assert leaks_of(tmp_path, {"photos/2026-10/a-320.webp": PICTURES[what]})


def test_a_thumbnail_within_a_picture_is_found(tmp_path: Path, exif_block: Callable[..., bytes]) -> None:
    """A thumbnail lies in the second directory of the EXIF block (CIPA DC-008), so that the block gives it away."""
    small = picture("JPEG", quality=20)
    block = exif_block(DateTimeOriginal="2026:10:03 14:05:00") + small
    found = leaks_of(tmp_path, {"a.webp": picture("WEBP", exif=b"Exif\0\0" + block)})
    assert {"what a camera or program wrote beside the pixels"} == {leak.what for leak in found}


@pytest.mark.parametrize("kind", ["WEBP", "JPEG", "PNG"])
def test_a_bare_picture_is_well(tmp_path: Path, kind: str) -> None:
    assert () == leaks_of(tmp_path, {f"photos/a.{kind.lower()}": picture(kind)})


def test_a_picture_in_base64_is_looked_into(tmp_path: Path) -> None:
    data = base64.b64encode(PICTURES["EXIF"]).decode()
    assert leaks_of(tmp_path, {"a.html": page(f'<img src="data:image/jpeg;base64,{data}">')})


def test_what_cannot_be_unpacked_is_reported(tmp_path: Path) -> None:
    found = leaks_of(tmp_path, {"a.zip": b"PK\x03\x04" + b"\xff" * 40, "b.gz": b"\x1f\x8b" + b"\xff" * 40})
    assert {"a.zip", "b.gz"} == {leak.file for leak in found}


# No false alarms ---------------------------------------------------------------------------------------------------

WOOD = {
    "journal.toml": '[journal]\nauthor = "Will Rose"\n[tents.fan-tent]\nname = "Light"\n'
    '[shares.mentor]\nabout = ["B-031"]\n',
    "finds/a/find.md": "---\nkind: find\nid: F26-001\ndate: 2026-09-12\nplace: Kiln\nwhere: 58.30412, -8.90177\n"
    "permission: crofter\n---\nBy the kiln.\n",
    "finds/b/find.md": "---\nkind: find\nid: F26-002\ndate: 2026-09-12\nplace: the wood\n---\nNothing else.\n",
    "c/PP-26A.md": "---\nkind: culture\nid: PP-26A\nfrom: F26-001\ndate: 2026-09-13\n---\nWhite.\n",
    "c/PP-26A-2.md": "---\nkind: culture\nid: PP-26A-2\nfrom: PP-26A\ndate: 2026-09-14\n---\nWhite.\n",
    "c/PP-26.md": "---\nkind: culture\nid: PP-26\nreceived from: Hans\ndate: 2026-09-13\n---\nKiln dried oak.\n",
    "c/T1.md": "---\nkind: culture\nid: T1\nfrom: PP-26\ndate: 2026-09-13\n---\n",
    "c/G1.md": "---\nkind: culture\nid: G1\nfrom: T1\ndate: 2026-09-13\n---\n",
    "b/day-3.md": "---\nkind: batch\nid: day-3\nculture: T1\ndate: 2026-10-06\n---\n",
    "c/fan.md": "---\nkind: device\nid: fan\ntent: fan-tent\ndate: 2026-01-02\n---\n",
    "b/B-031.md": "---\nkind: batch\nid: B-031\nculture: PP-26A-2\ndate: 2026-10-06\n---\n"
    "On kiln dried oak. The fan hums.\n",
    "b/B-03.md": "---\nkind: batch\nid: B-03\nculture: PP-26\ndate: 2026-10-06\n---\nSlumped and sour.\n",
}  # fmt: skip


def wood_leaks(make_journal: Callable[..., Journal], folder: Path, text: str) -> set[str]:
    journal = make_journal(WOOD)
    (folder / "a.html").write_text(page(text), encoding="utf-8")
    return {leak.what for leak in leaks_in(folder, journal, journal.settings.shares[0])}


@pytest.mark.parametrize(
    "text",
    [
        "B-031 of PP-26A-2, from PP-26A and F26-001",  # an unshared ID that a shared one begins with
        "the kiln, as an ordinary word",
        "the fan and the light",
        "I will",
        "in the wood",
        "the crofters' market",
        "12.5, 58.3 and 8.9 % of it",
        "on 6 October 2026, day 17",
        "1.234, 5.678",
        "transfer, T1 · G1 · day 3",  # as pages count, whatever else is called so
    ],
)
def test_ordinary_words_and_what_is_shared_raise_no_alarm(
    make_journal: Callable[..., Journal], tmp_path: Path, text: str
) -> None:
    assert set() == wood_leaks(make_journal, tmp_path, text)


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("a place", "back to Kiln"),
        ("an ID", "PP-26 too"),
        ("an ID", "B-03"),
        ("an ID", "B-03.2"),
        ("an ID", "F26-002"),
        ("a person", "with Hans"),
        ("a person", "Will Rose"),
        ("a permission", "the crofter"),
        ("a word of what is not shared", "it slumped"),
    ],
)
def test_what_is_not_shared_is_distinguished_from_them(
    make_journal: Callable[..., Journal], tmp_path: Path, what: str, text: str
) -> None:
    assert what in wood_leaks(make_journal, tmp_path, text)


def test_more_strings_may_be_handed_in(tmp_path: Path) -> None:
    assert leaks_of(tmp_path, {"a.html": page("pub0042lished-320.webp")}, strings=["pub0042lished"])


def test_names_of_other_files_of_the_journal_are_looked_for(tmp_path: Path) -> None:
    assert leaks_of(tmp_path, {"a.html": page("see my-way_home.gpx")}, files=["tracks/my-way_home.gpx"])


def test_a_leak_says_where_and_what(tmp_path: Path) -> None:
    leak = leaks_of(tmp_path, {"a/index.html": page(f"So {SECRET} it was")})[0]
    assert f"a/index.html reveals a place: “Held So {SECRET} it was”" == str(leak)


def test_the_programs_own_files_are_known_by_their_bytes(tmp_path: Path) -> None:
    for is_share in (False, True):
        copies, texts = static_files(find_resources(), is_share)
        own = {path: file.read_bytes() for path, file in copies.items()} | texts
        assert () == leaks_of(tmp_path, {**own, "sw.js": (find_resources() / "static" / "sw.js").read_bytes()})


def test_what_was_searched_once_is_known_again_and_a_leak_is_reported_again(tmp_path: Path) -> None:
    search = Search(detectors_of(planted().journal, SHARE))
    well, bad = page("all is well"), page(SECRET)
    for folder, content in (("one", well), ("two", bad)):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "a.html").write_text(content)
        (tmp_path / folder / "a.zip").write_bytes(zipped("a.html", content.encode()))
    assert () == search.leaks_in(tmp_path / "one") == search.leaks_in(tmp_path / "one")
    for _ in range(2):
        assert {"a.html", "a.zip"} == {leak.file for leak in search.leaks_in(tmp_path / "two")}
