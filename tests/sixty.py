"""A journal whose tree of one culture has sixty nodes: two finds, a long line, side lines, two parents, a doubt."""

from __future__ import annotations

from datetime import date, timedelta

START = date(2025, 9, 12)


def sixty() -> dict[str, str]:
    """Entry files by path; the tree of `PO-25A` has sixty nodes."""
    files = {"finds/a.md": _find("F25-001", "likely"), "finds/b.md": _find("F25-002", "confirmed")}
    rows = [*_main_line(), *_side_lines(), *_grain_and_batches(), *_second_generation()]
    for number, (id, keys) in enumerate(rows):
        day = START + timedelta(days=3 * number)
        files[f"rows/{number:02}-{id}.md"] = f"---\nid: {id}\ndate: {day}\n{keys}---\n"
    files |= _notes()
    return files


def _find(id: str, certainty: str) -> str:
    return (
        f"---\nkind: find\nid: {id}\ndate: 2025-09-10 14:00\nspecies: Pleurotus pulmonarius\ncertainty: {certainty}\n"
        "identified by: the ferry baker, by print\nplace: Alder Bank, the third dead stem above the burn\n---\n"
    )


def _culture(id: str, source: str, keys: str = "form: plate\nvessels: 4\n") -> tuple[str, str]:
    return id, f"kind: culture\nfrom: {source}\n{keys}"


def _batch(id: str, source: str) -> tuple[str, str]:
    return id, f"kind: batch\nculture: {source}\nunits: 6\ndry mass: 1 kg\nsubstrate: oak sawdust, bran\n"


def _main_line() -> list[tuple[str, str]]:
    first = _culture("PO-25A", "F25-001, F25-002", "method: tissue\nform: plate\nvessels: 12\n")
    return [first, *(_culture(f"PO-25A-T{n}", f"PO-25A-T{n - 1}.1" if n > 1 else "PO-25A.1") for n in range(1, 13))]


def _side_lines() -> list[tuple[str, str]]:
    slants = [_culture(f"PO-25A-SLANT-{n:02}", f"PO-25A-T{n}", "form: slant\nvessels: 2\n") for n in range(1, 9)]
    long_name = _culture("PO-25A-LIQUID-FOR-THE-FERRY-BAKE", "PO-25A-T2.2", "form: liquid\nvessels: 1\n")
    return [*slants, long_name, _culture("PO-25A-BOTH", "PO-25A-SLANT-01, PO-25A-T4.2")]


def _grain_and_batches() -> list[tuple[str, str]]:
    grain = [_culture(f"PO-G{n}", f"PO-25A-T{n}.3", "form: grain\nvessels: 6\n") for n in range(1, 11)]
    return [*grain, *(_batch(f"B-{n:03}", f"PO-G{n}") for n in range(1, 11))]


def _second_generation() -> list[tuple[str, str]]:
    tissue = "method: tissue\nform: plate\nvessels: 3\n"
    clones = [_culture(f"PO-26{letter}", f"B-{n:03}.2", tissue) for n, letter in enumerate("ABCD", 1)]
    spores = _culture("PO-26S", "B-005", "method: spores\nform: plate\nvessels: 8\n")
    grain = [_culture(f"PO-26{letter}-G", f"PO-26{letter}", "form: grain\nvessels: 4\n") for letter in "ABCDS"]
    mixed = _batch("B-101", "PO-26A-G, PO-26B-G")
    alone = [_batch(f"B-{n}", f"PO-26{letter}-G") for n, letter in enumerate("CDDS", 102)]
    return [*clones, spores, *grain, mixed, *alone]


def _notes() -> dict[str, str]:
    notes = {}
    for n in range(1, 11):
        notes[f"n/pick-{n}.md"] = (
            f"---\nkind: note\nabout: B-{n:03}\ndate: 2026-08-{n:02}\nharvest: {500 * n} g\nflush: 1\n"
            f"stage: {'spent' if n % 2 else 'resting'}\n---\n"
        )
        lost = f"about: PO-G{n}\ndate: 2026-07-{n:02}\nlost: 1\ncause: green mould\n"
        notes[f"n/lost-{n}.md"] = f"---\nkind: note\n{lost}---\n"
    notes["n/doubt.md"] = "---\nkind: note\nabout: PO-25A-T6\ndate: 2025-10-01\nstage: doubtful\n---\n"
    return notes
