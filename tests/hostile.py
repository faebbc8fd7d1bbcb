"""A journal as an enemy would write it: script in every text of it, and files that are made to hang or kill a reader.

    python tests/hostile.py        large ones: 5,000 generations of cultures, 100,000 small files; prints what they take

`files_of_enemy` gives the files by path; `lay` writes them, with what no mapping holds: pipes, devices, links.
"""

from __future__ import annotations

import io
import os
import resource
import struct
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import segno
from PIL import Image

from journal.reading.keys import COMMON_KEYS, KEYS

SCRIPTS = (
    "<script>canary('{0}')</script>",
    "\"'><img src=x onerror=canary('{0}')>",
    "</script></title></textarea></style><svg onload=canary('{0}')></svg>",
    "</p><iframe srcdoc=\"<script>parent.canary('{0}')</script>\"></iframe>",
)
"""What would call the function `canary` with the name of its place, had it come through as more than text."""

LINKS = ("javascript:canary('{0}')", "data:text/html,<script>canary('{0}')</script>", "vbscript:canary('{0}')")


def script(place: str) -> str:
    """All of `SCRIPTS` in one line; place: a word that tells which text it was."""
    return " ".join(SCRIPTS).format(place)


def markdown(place: str) -> str:
    """A text with everything that CommonMark and HTML have to run a script or to load something."""
    links = [link.format(place) for link in LINKS]
    return "\n\n".join([
        script(place),
        *(f"[a link]({link.replace(' ', '')})" for link in links),
        *(f"![a picture]({link})" for link in links),
        f"<{links[0]}>",
        f"[by name][evil]\n\n[evil]: {links[0]}",
        "[entities](&#106;avascript:canary('entities'))",
        "[a tab](java\tscript:canary('tab'))",
        f'<a href="{links[0]}" onclick="canary(1)" onfocus="canary(2)" autofocus>raw</a>',
        '<form action="https://canary.invalid/"><button formaction="javascript:canary(3)">b</button></form>',
        '<meta http-equiv="refresh" content="0;url=https://canary.invalid/"><base href="https://canary.invalid/">',
        '<link rel=stylesheet href="https://canary.invalid/a.css"><style>@import "https://canary.invalid/b.css";</style>',
        "<object data='https://canary.invalid/'></object><embed src='https://canary.invalid/'>",
        "![elsewhere](https://canary.invalid/a.png) ![](//canary.invalid/b.png) <img srcset='https://canary.invalid/c.png'>",
        "<svg><animate onbegin=canary(4) attributeName=x dur=1s></svg><math href='javascript:canary(5)'>x</math>",
        "<details open ontoggle=canary(6)></details><video onerror=canary(7)><source src=x></video>",
        "{{ canary }} {% raw %} ${canary(8)} \u2028canary(9)\u2029 <!--",
        "| a |\n|---|\n| <script>canary('cell')</script> |",
        "```<script>canary('fence')\n</script><script>canary('fence')</script>\n```",
        f"::: private\n{script('private')}\n:::",
    ])  # fmt: skip


def entry(kind: str, place: str, **keys: str) -> str:
    """An entry that has script in every key of its kind that takes words, and in its text."""
    named = {"date": "2026-10-06", **{key.replace("_", " ").strip(): value for key, value in keys.items()}}
    words = {
        key.name: f"{script(f'{kind} {key.name}')}"
        for key in (*COMMON_KEYS.values(), *KEYS[kind].values())
        if key.notation in ("text", "names") and key.name not in named
    }
    lines = [f"{key}: {value}" for key, value in {"kind": kind, **named, **words}.items()]
    return "\n".join(["---", *lines, "---", "", markdown(place)])


SETTINGS = """
[journal]
title = '''{script_title}'''
author = '''{script_author}'''
time_zone = "Europe/London"
site_url = "javascript:canary('site_url')"
poison_centre = '''javascript:canary("poison")'''
[ingredients]
'{script_ingredient}' = "93 %"
[tents.hut]
name = '''{script_tent}'''
floor = '''{script_floor}'''
[tents.hut.every]
'{script_service}' = "7 d"
['tents'.'{script_id}']
name = "x"
[[climate]]
files = "climate/*.csv"
tent = "hut"
time = '''{script_column}'''
temperature = "Temp (°C)"
[permits.'{script_permit}']
limit_a_day = "1 kg"
[shares.mentor]
about = ["B-1"]
positions = "exact"
texts = "all"
by = true
times = "minute"
['{script_table}']
a = 1
"""


def settings() -> str:
    names = ("title", "author", "ingredient", "tent", "floor", "service", "id", "column", "permit", "table")
    texts = {f"script_{name}": SCRIPTS[1].format(name).replace("'", "`") for name in names}
    return SETTINGS.format(**texts)


# Pictures


def picture(kind: str = "JPEG", size: tuple[int, int] = (40, 30), exif: Mapping[int, object] | None = None) -> bytes:
    """exif: number of a tag -> its value; those above 0x9000 are in the Exif directory."""
    block, out = Image.Exif(), io.BytesIO()
    for number, value in (exif or {}).items():
        (block.get_ifd(0x8769) if number > 0x9000 else block)[number] = value
    Image.new("RGB", size, (70, 90, 40)).save(out, kind, exif=block)
    return out.getvalue()


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png(width: int, height: int, *chunks: bytes, rows: bool = True) -> bytes:
    """A PNG of so many black pixels of one bit, written without ever holding them."""
    pack, body = zlib.compressobj(9), b""
    row = bytes(1 + (width + 7) // 8)
    if rows:
        body = b"".join(pack.compress(row * min(256, height - at)) for at in range(0, height, 256)) + pack.flush()
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(chunks) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def tiff(*directories: tuple[int, bytes]) -> bytes:
    """A TIFF of directories (where each begins, its bytes), the first of them at the first place."""
    out = bytearray(b"II*\0" + struct.pack("<I", directories[0][0]))
    for at, data in directories:
        out += bytes(max(0, at + len(data) - len(out)))
        out[at : at + len(data)] = data
    return bytes(out)


def directory(rows: list[tuple[int, int, int, int]], then: int) -> bytes:
    """rows: tag, type, count, value; then: where the next directory begins."""
    return struct.pack("<H", len(rows)) + b"".join(struct.pack("<HHII", *row) for row in rows) + struct.pack("<I", then)


LOOPS = {
    "to itself": tiff((8, directory([(0x100, 3, 1, 1)], 8))),
    "to each other": tiff((8, directory([(0x8769, 4, 1, 64)], 64)), (64, directory([(0x8769, 4, 1, 8)], 8))),
    "all count": tiff((8, directory([(0x10E, 2, 0xFFFFFFFF, 8)] * 900, 8))),
    "far away": tiff((8, directory([(0x8769, 4, 1, 0xFFFFFFF0), (0x8825, 4, 1, 0xFFFFFFFF)], 0))),
    "exif in exif": tiff((8, directory([(0x8769, 4, 1, 8), (0x8825, 4, 1, 8), (0x14A, 4, 400, 8)], 0))),
}
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" onload="canary(1)"><script>canary(2)</script></svg>'


def pictures() -> dict[str, bytes]:
    """By name. None of them is what it says, or none is what one would like to open."""
    said = {number: SCRIPTS[1].format("exif") for number in (0x010F, 0x0110, 0x010E, 0x8298, 0x013B)}
    whole = picture(exif={**said, 0x9003: "<script>canary", 0x9011: "<script>canary"})
    html = b"<html><script>canary('polyglot')</script>"
    return {
        "whole.jpg": whole,
        "one-pixel.png": png(1, 1),
        "svg.jpg": SVG,
        "svg.png": SVG,
        "200-megapixel.png": png(20_000, 10_001),
        "200-million.png": png(60_000, 60_000, rows=False),
        "widest.png": png(2**31 - 1, 2**31 - 1, rows=False),
        "text-bomb.png": png(8, 8, chunk(b"zTXt", b"Comment\0\0" + zlib.compress(bytes(40_000_000), 9))),
        "profile-bomb.png": png(8, 8, chunk(b"iCCP", b"x\0\0" + zlib.compress(bytes(40_000_000), 9))),
        "html-after.jpg": whole + html,
        "html-before.jpg": html + whole,
        "gif-and-script.jpg": b"GIF89a/*" + bytes(20) + b"*/=1;canary('gif')",
        "zip.jpg": whole + b"PK\x05\x06" + bytes(18),
        "cut.jpg": whole[:120],
        "empty.jpg": b"",
        **{f"loop {name}.tif": data for name, data in LOOPS.items()},
    }


def labels() -> dict[str, bytes]:
    """Photos of codes, by name; what they say is script, a link that runs, another host's page."""
    says = (SCRIPTS[1].format("code"), LINKS[0].format("code"), "https://canary.invalid/batches/b-1/", "B-1")
    made = {}
    for number, text in enumerate(says):
        out, exif = io.BytesIO(), Image.Exif()
        exif.get_ifd(0x8769)[0x9003] = f"2026:11:02 10:0{number}:00"
        code = io.BytesIO()
        segno.make(text).save(code, kind="png", scale=6, border=6)
        Image.open(code).convert("RGB").save(out, "JPEG", exif=exif)
        made[f"{number} <img src=x onerror=canary(`name`)>.jpg"] = out.getvalue()
    return made


# Texts that are made to be slow, deep or large


def slow_texts() -> dict[str, str]:
    """Of entries, by name; each within what a file of its kind may be (1 MB)."""
    head = "---\nkind: note\ndate: 2026-11-01\n"
    bomb = "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 12))
    return {
        "aliases": f"{head}a0: &a0 [lol]\n{bomb}---\n",
        "deep lists": f"{head}tags: {'[' * 100_000}\n---\n",
        "deep maps": f"{head}{''.join(' ' * n + 'a:' + chr(10) for n in range(600))}---\n",
        "anchors": f"{head}{'a: &b [*b, *b]' + chr(10)}---\n",
        "many keys": head + "".join(f"key{n}: {n}\n" for n in range(40_000)) + "---\n",
        "deep quotes": f"{head}---\n{'>' * 100_000} a\n",
        "deep list": f"{head}---\n" + "".join(" " * (2 * n) + "- a\n" for n in range(500)),
        "open brackets": f"{head}---\n{'[' * 200_000}",
        "open links": f"{head}---\n{'[a](' * 100_000}",
        "open emphasis": f"{head}---\n{'*a **b ' * 60_000}",
        "backticks": f"{head}---\n{''.join('`' * n + 'a' for n in range(900))}",
        "open tags": f"{head}---\n{'<a ' * 150_000}",
        "open comments": f"{head}---\n{'<!--' * 150_000}",
        "table": f"{head}---\n{'|a' * 400}\n{'|-' * 400}\n" + ("|b" * 400 + "\n") * 400,
        "references": f"{head}---\n" + "".join(f"[a{n}]: b\n" for n in range(10_000)) + "[a0] " * 10_000,
        "private": f"{head}---\n" + "::: private\n" * 40_000,
    }


# Names

LONG = "x" * 240
NAMES = (
    "CON.md", "nul.md", "COM1.md", "a trailing dot..md", "dots. ./b.md", "... /c.md", "new\nline.md", "tab\tname.md",
    "quote'\"name.md", "<img src=x onerror=canary('name')>.md", "-rf.md", "%2e%2e%2f.md", "..%5c..%5c.md", "a\\b.md",
    "\u202egnp.md", "\u00e9.md", "e\u0301.md", f"{LONG}.md", "/".join(["d" * 50] * 7) + "/deep.md", "$(touch x).md",
)  # fmt: skip
"""Of entries. The two with an accent are one name in Unicode's composed form."""


def named() -> Iterator[tuple[str, str]]:
    for number, name in enumerate(NAMES):
        yield f"names/{name}", f"---\nkind: find\nid: N-{number}\ndate: 2026-09-12\n---\n{script('name')}\n"


def files_of_enemy(heavy: bool = True) -> dict[str, str | bytes]:
    """Every file by its path. heavy: with those that are made to be slow or large, too."""
    gpx = "<gpx><trk><name>{0}</name><trkseg><trkpt lat='58.3' lon='-8.9'><time>2026-09-12T12:00:00Z</time></trkpt>"
    columns = SCRIPTS[1].format("column").replace("'", "`")
    csv = f"{columns},Temp (°C),=cmd|' /C calc'!A0\n2026-11-01 12:00,14,<script>canary('cell')</script>\n"
    caption = f"whole.jpg: {SCRIPTS[1].format('caption')}"
    walk = script("gpx").replace("<", "&lt;").replace("&lt;script", "<script")
    files: dict[str, str | bytes] = {
        "journal.toml": settings(),
        "finds/a/find.md": entry("find", "find", id="F-1", where="58.3, -8.9", photos=caption),
        "finds/a/whole.jpg": pictures()["whole.jpg"],
        "finds/b.md": entry("find", "second", id="F-2", where="58.3, -8.9"),
        "cultures/c.md": entry("culture", "culture", id="C-1", from_="F-1"),
        "cultures/d.md": entry("culture", "culture", id="C-2", received_from=script("received")),
        "batches/b.md": entry("batch", "batch", id="B-1", culture="C-1", mix="<b onclick=canary(1)> 5 kg, water 8 kg"),
        "batches/pins.md": entry("note", "note", about="B-1", harvest="4 g", next="2026-11-28 " + script("x")),
        "tents/t.md": entry("tent", "tent", about="hut", serviced=script("serviced")),
        "tents/fan.md": entry("device", "device", id="fan-1", tent="hut"),
        "ids/script.md": entry("find", "id", id="<script>canary('id')</script>"),
        "ids/reserved.md": entry("find", "id", id="CON"),
        "ids/up.md": entry("find", "id", id="../../F-9"),
        "ids/link.md": entry("note", "about", about=LINKS[0].format("about"), photos="../../etc/passwd"),
        "climate/log.csv": csv,
        "climate/unclaimed <b>.csv.csv": csv,
        "more/climate/log.csv": csv,
        "tracks/walk.gpx": gpx.format(walk) + "</trkseg></trk></gpx>",
        "tracks/entities.gpx": '<!DOCTYPE gpx [<!ENTITY a "b"><!ENTITY c "&a;&a;&a;&a;">]><gpx><name>&c;</name></gpx>',
        "tracks/outside.gpx": '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx><name>&x;</name></gpx>',
        "not-an-entry.md": script("no entry"),
        "receipts/a.json": '{"format": "<script>canary(1)</script>"}',
        "pictures/all.md": "---\nkind: note\ndate: 2026-09-12\n---\n",
        **dict(named()),
    }  # fmt: skip
    if heavy:
        files |= {f"pictures/{name}": data for name, data in pictures().items()}
        files |= {f"slow/{name}.md": text for name, text in slow_texts().items()}
    return files


def lay(root: Path, files: Mapping[str, str | bytes], odd: bool = True) -> None:
    """Writes the files, and (if `odd`) beside them pipes, devices, folders named like files, and links that lead out,
    round and nowhere."""
    for path, content in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_bytes(content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content)
    if not odd:
        return
    place = root / "odd"
    place.mkdir()
    os.mkfifo(place / "pipe.md")
    os.mkfifo(place / "pipe.jpg")
    for name, leads_to in (("zero.md", "/dev/zero"), ("zero.jpg", "/dev/zero"), ("out", "/"), ("round", "."),
                           ("nowhere.md", "nowhere"), ("self.md", "self.md")):  # fmt: skip
        (place / name).symlink_to(leads_to)
    (place / "folder.md").mkdir()
    (place / "folder.jpg").mkdir()


# Large ones


def generations(count: int) -> dict[str, str]:
    """A find, and so many cultures, each taken from the one before."""
    files = {"f.md": "---\nkind: find\nid: F-1\ndate: 2020-01-01\nspecies: Pleurotus pulmonarius\n---\n"}
    for number in range(1, count + 1):
        source = f"C-{number - 1}" if number > 1 else "F-1"
        files[f"c/{number}.md"] = f"---\nkind: culture\nid: C-{number}\ndate: 2020-01-02\nfrom: {source}\n---\n"
    return files


def small_files(count: int) -> dict[str, str]:
    """So many files: notes, a few to a day, and as many that are nothing to a journal."""
    rows = {"b.md": "---\nkind: batch\nid: B-1\ndate: 2020-01-01\n---\n"}
    for number in range(count // 2):
        day = f"{2020 + number % 6}-{1 + number // 6 % 12:02}-{1 + number // 72 % 28:02}"
        rows[f"n/{number % 500}/{number}.md"] = f"---\nkind: note\nabout: B-1\ndate: {day}\n---\nNote {number}.\n"
        rows[f"n/{number % 500}/{number}.txt"] = "nothing\n"
    return rows


LARGE: dict[str, Callable[[], Mapping[str, str]]] = {
    "5,000 generations of cultures": lambda: generations(5_000),
    "100,000 small files, half of them notes": lambda: small_files(100_000),
}


def run_journal(*words: str, most_bytes: int = 4 << 30, most_cpu_s: int = 900) -> tuple[int, str, str]:
    """Runs the command in a process of its own, whose memory and processor time are bounded; exit code, stdout and
    stderr."""

    def bounded() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (most_bytes, most_bytes))
        resource.setrlimit(resource.RLIMIT_CPU, (most_cpu_s, most_cpu_s))

    command = [sys.executable, "-c", "from journal.cli import main; main()", *words]
    root = Path(__file__).resolve().parent.parent
    done = subprocess.run(command, capture_output=True, text=True, preexec_fn=bounded, cwd=root, errors="replace")
    return done.returncode, done.stdout, done.stderr


def main() -> int:
    failed = 0
    for name, make in LARGE.items():
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder) / "my"
            for path, text in make().items():
                (root / path).parent.mkdir(parents=True, exist_ok=True)
                (root / path).write_text(text, encoding="utf-8")
            before, begun = os.times(), time.monotonic()
            status, out, err = run_journal("build", str(root), "--cache", f"{folder}/cache")
            took = os.times()
            cpu_s = took.children_user + took.children_system - before.children_user - before.children_system
            most_mib = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            print(f"{name}: exit {status}, {cpu_s:.0f} CPU s, {time.monotonic() - begun:.0f} s, {most_mib:.0f} MiB")
            print("\n".join((out + err).splitlines()[-3:]), flush=True)
            failed += status != 0
    return 1 if failed else 0


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
    sys.exit(main())
