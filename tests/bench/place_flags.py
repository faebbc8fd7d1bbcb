"""How many texts that tell a place are flagged, and how many that tell none, by kind; no test.

    python tests/bench/place_flags.py [--texts FILE…] [--half 0|1] [--missed]

FILE: rows of {kind, text, secret: [stretch…]}, as in tests/sharing/place_texts.json, which is measured where none is
given. A text that tells is flagged where one of its stretches is within a flag; one without any is where it has a
flag. --half: every other row of each kind only. --missed: the texts that went wrong, with their flags.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from journal.sharing.flags import Flag, flags_in

TEXTS = Path(__file__).parents[1] / "sharing" / "place_texts.json"


@dataclass(frozen=True)
class Row:
    """secret: the stretches that tell; none where the text tells nothing."""

    kind: str
    text: str
    secret: tuple[str, ...]
    half: int


def rows_of(path: Path) -> tuple[Row, ...]:
    seen: dict[tuple[str, bool], int] = defaultdict(int)
    rows = []
    for row in json.loads(path.read_text("utf-8"))["rows"]:
        key = row["kind"], bool(row["secret"])
        rows.append(Row(row["kind"], row["text"], tuple(row["secret"]), seen[key] % 2))
        seen[key] += 1
    return tuple(rows)


def is_flagged(row: Row) -> bool:
    """Whether one of the stretches that tell is within a flag; of a text without any, whether it has a flag."""
    flags = flags_in(row.text)
    if not row.secret:
        return bool(flags)
    return any(
        flag.start <= at and at + len(one) <= flag.end
        for one in row.secret
        for flag in flags
        for at in places(row, one)
    )


def places(row: Row, stretch: str) -> list[int]:
    found, at = [], row.text.find(stretch)
    while at >= 0:
        found.append(at)
        at = row.text.find(stretch, at + 1)
    return found


def share(rows: list[Row]) -> str:
    flagged = sum(map(is_flagged, rows))
    return f"{flagged} of {len(rows)} ({100 * flagged / len(rows):.0f} %)"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--texts", type=Path, nargs="*", default=[TEXTS])
    parser.add_argument("--half", type=int, choices=(0, 1))
    parser.add_argument("--missed", action="store_true")
    asked = parser.parse_args()
    rows = [row for path in asked.texts for row in rows_of(path) if asked.half in (None, row.half)]
    for telling, name in ((True, "texts that tell a place, flagged"), (False, "texts that tell none, flagged")):
        group = [row for row in rows if bool(row.secret) == telling]
        if not group:
            continue
        print(f"{name}: {share(group)}")
        kinds = sorted({row.kind for row in group})
        for kind in kinds:
            one = [row for row in group if row.kind == kind]
            print(f"    {kind:22} {share(one)}")
        for row in group if asked.missed else ():
            if is_flagged(row) != telling:
                print(
                    f"  {row.kind}: {row.text}\n      {list(row.secret)} {[told(flag) for flag in flags_in(row.text)]}"
                )


def told(flag: Flag) -> str:
    return f"{flag.kind}: {flag.text}"


if __name__ == "__main__":
    main()
