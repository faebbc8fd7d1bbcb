"""Fuzzes every reader of what somebody else may have written, guided by coverage, and counts the runs in DEVELOPERS.md.

    python tests/fuzz.py                         every target of tests/fuzzing/fuzz_targets.py, as many runs as it names
    python tests/fuzz.py dates CSV --times 0.1   two of them, a tenth of the runs
    python tests/fuzz.py --no-table …            leaves DEVELOPERS.md as it is; the runs are added to it later,
    python tests/fuzz.py --times 0               or now

It needs atheris (`pip install atheris`), which is not among what the tests need: without it the suite tries a few
changes of each example. What was reached is kept in `.fuzz/corpus` and is where the next run begins. Each input that
fails is kept in `.fuzz/findings` with its traceback; mend it, and add it to tests/fuzz_cases.json.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import re
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".fuzz"
UNCOUNTED = FOLDER / "uncounted.json"
CASES = ROOT / "tests" / "fuzz_cases.json"
TABLE = re.compile(r"(<!-- counted: python tests/fuzz\.py -->\n)(.*?)(<!-- end -->)", re.DOTALL)
MOST_S = 2.0
"""CPU seconds that one input may take. They are of a few hundred bytes; what takes longer is a fault."""

CHILD = "--child"
Run = Callable[[bytes], object]
Row = tuple[int, str, str]
"""Runs, day and version: the commit that last changed the program."""


# Without atheris


def changes(seed: int, seeds: Sequence[bytes], words: Sequence[str], longest: int) -> Iterator[bytes]:
    """Inputs without end: an example, or two put together, with a few bytes or words changed; always the same ones for
    one seed."""
    chance = random.Random(seed)
    pieces = [word.encode("latin-1" if word.isascii() else "utf-8") for word in words] or [b"\0"]
    while True:
        data = bytearray(chance.choice(seeds))
        for _ in range(chance.choice((1, 1, 2, 3, 5, 8))):
            at, length = chance.randrange(len(data) + 1), chance.choice((0, 0, 1, 2, 4, 16))
            other = chance.choice(seeds)
            start = chance.randrange(len(other) + 1)
            new = (
                chance.choice(pieces),
                chance.choice(pieces) * chance.choice((2, 9)),
                bytes([chance.randrange(256)]),
                data[at : at + length] * 2,
                other[start : start + chance.randrange(20)],
                b"",
            )
            data[at : at + length] = chance.choice(new)
        yield bytes(data[:longest])


# With atheris, in a process for each target


def fuzz(name: str, runs: int) -> None:
    """Runs one target so often, in this process, and ends it. What fails is kept, each kind of fault once."""
    import atheris

    with atheris.instrument_imports(include=["journal"]):
        from tests.fuzzing.fuzz_targets import TARGETS
    target, safe = TARGETS[name], name.replace(" ", "-")
    corpus, findings = FOLDER / "corpus" / safe, FOLDER / "findings" / safe
    for folder in (corpus, findings):
        folder.mkdir(parents=True, exist_ok=True)
    for seed in target.seeds():
        (corpus / hashlib.sha1(seed).hexdigest()).write_bytes(seed)
    words = FOLDER / f"{safe}.dict"
    words.write_text("".join(f'"{quoted(word)}"\n' for word in target.words))
    done = 0
    found: set[str] = set()

    def one_input(data: bytes) -> None:
        nonlocal done
        done += 1
        if fault := failed(target.run, data):
            where, told = fault
            if where not in found:
                found.add(where)
                digest = hashlib.sha256(where.encode()).hexdigest()[:12]
                (findings / digest).write_bytes(data)
                (findings / f"{digest}.txt").write_text(told, encoding="utf-8", errors="replace")
        if done % 1000 == 0 or done >= runs:
            (FOLDER / f"{safe}.json").write_text(json.dumps({"runs": done, "findings": len(found)}))
        if done >= runs:
            os._exit(0)

    options = [f"-max_len={target.longest}", f"-artifact_prefix={findings}/", "-len_control=0"]
    options += [f"-dict={words}"] if target.words else []
    atheris.Setup([name, *options, "-timeout=60", "-rss_limit_mb=3000", "-verbosity=0", str(corpus)], one_input)
    atheris.Fuzz()


def failed(run: Run, data: bytes) -> tuple[str, str] | None:
    """Where a run failed, one word for each kind of fault, and all that is to be told of it; None if all holds."""
    began_s = time.process_time()
    try:
        run(data)
    except MemoryError:
        raise
    except Exception as error:
        frames = [
            f for f in traceback.extract_tb(error.__traceback__) if "/tests/" in f.filename or "/journal/" in f.filename
        ]
        where = f"{type(error).__name__} {frames[-1].filename}:{frames[-1].lineno}"
        return where, f"{data!r}\n{traceback.format_exc()}"
    took_s = time.process_time() - began_s
    return ("slow", f"{data!r}\n{took_s:.1f} CPU s") if took_s > MOST_S else None


def quoted(word: str) -> str:
    """A word as libFuzzer's dictionaries have it."""
    data = word.encode("latin-1" if word.isascii() else "utf-8")
    return "".join(chr(byte) if 0x20 <= byte < 0x7F and chr(byte) not in '"\\' else f"\\x{byte:02x}" for byte in data)


# The table


def counted(written: str) -> dict[str, Row]:
    """Target -> runs, date and version, from the rows of the table as it stands."""
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in written.splitlines() if line.startswith("| ")]
    return {
        name: (int(runs.replace(",", "")), day, version.strip("`")) for name, runs, _, day, version in rows[2:] if day
    }


def table(rows: Mapping[str, Row], cases: Mapping[str, Sequence[object]]) -> str:
    lines = ["| target | runs | faults found | last run | version |", "| --- | --: | --: | --- | --- |"]
    lines += [
        f"| {name} | {runs:,} | {len(cases.get(name, ()))} | {day} | `{version}` |"
        for name, (runs, day, version) in rows.items()
    ]
    total = sum(runs for runs, _, _ in rows.values())
    return "\n".join((*lines, f"| **all** | **{total:,}** | **{sum(map(len, cases.values()))}** | | |"))


def add(rows: dict[str, Row], fresh: Mapping[str, Row]) -> None:
    """Adds the runs of each target, with the later day and version."""
    for name, (runs, day, version) in fresh.items():
        rows[name] = (rows.get(name, (0, "", ""))[0] + runs, day, version)


def keep(name: str, runs: int) -> None:
    """Adds a target's runs to those that are not in the table yet."""
    commit = subprocess.run(
        ["git", "log", "-1", "--format=%h", "--abbrev=8", "--", "journal"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    rows = uncounted()
    add(rows, {name: (runs, f"{datetime.now(UTC):%Y-%m-%d}", commit.stdout.strip())})
    UNCOUNTED.write_text(json.dumps(rows))


def uncounted() -> dict[str, Row]:
    return {name: tuple(row) for name, row in json.loads(UNCOUNTED.read_bytes()).items()} if UNCOUNTED.exists() else {}


def write_table() -> None:
    """Adds the runs that were kept to those of the table in DEVELOPERS.md."""
    path = ROOT / "DEVELOPERS.md"
    text = path.read_text(encoding="utf-8")
    part = TABLE.search(text)
    assert part, "DEVELOPERS.md has no table of runs"
    rows = counted(part[2])
    add(rows, uncounted())
    made = table(rows, json.loads(CASES.read_text(encoding="utf-8")))
    path.write_text(TABLE.sub(lambda part: f"{part[1]}\n{made}\n\n{part[3]}", text), encoding="utf-8")
    UNCOUNTED.unlink(missing_ok=True)


def outcome(name: str, runs: int) -> dict[str, Any]:
    """What a target's run came to, in a process of its own."""
    told = FOLDER / f"{name.replace(' ', '-')}.json"
    told.unlink(missing_ok=True)
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "ignore"}
    command = [sys.executable, __file__, CHILD, name, str(runs)]
    ended = subprocess.run(
        command, cwd=ROOT, env=environment, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL, check=False
    )
    result: dict[str, Any] = json.loads(told.read_bytes()) if told.exists() else {"runs": 0, "findings": 0}
    return {**result, "ended": ended.returncode}


def main(words: Sequence[str]) -> int:
    if words[:1] == [CHILD]:
        fuzz(words[1], int(words[2]))
    from tests.fuzzing.fuzz_targets import TARGETS

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("targets", nargs="*", metavar="target", help=f"of {', '.join(TARGETS)}")
    parser.add_argument("--times", type=float, default=1.0, help="how many times as many runs as each target names")
    parser.add_argument("--no-table", action="store_true", help="do not count the runs in DEVELOPERS.md")
    asked = parser.parse_args(words)
    try:
        import atheris  # noqa: F401
    except ImportError:
        parser.error("install atheris first: pip install atheris")
    if unknown := set(asked.targets) - set(TARGETS):
        parser.error(f"no such target: {', '.join(sorted(unknown))}")
    FOLDER.mkdir(exist_ok=True)
    bad = 0
    for name in (asked.targets or TARGETS) if asked.times else ():
        result = outcome(name, max(1, round(TARGETS[name].runs * asked.times)))
        is_bad = result["findings"] or result["ended"]
        bad += bool(is_bad)
        print(
            f"{name}: {result['runs']:,} runs, {result['findings']} kinds of fault, ended with {result['ended']}",
            flush=True,
        )
        keep(name, result["runs"])
    if not asked.no_table:
        write_table()
    if bad:
        print(f"what failed is in {FOLDER}/findings", file=sys.stderr)
    return bool(bad)


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    sys.exit(main(sys.argv[1:]))
