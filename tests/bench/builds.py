"""How builds grow with the journal, beside Hugo; ratios within one run, no test.

    python tests/bench/builds.py [--entries 1000 10000] [--finds 10000] [--show]

Makes its own input in a temporary folder. Every build is the command as an author runs it, in a process of its own.
Hugo (Debian's package `hugo`) gets the same entries, each a file of its own, and is run turn about; where it is not
installed, the table says so. The machine is shared and noisy: compare the ratios of one run, never the seconds of two,
and where it is very busy the processors' time rather than the clock's.
"""

from __future__ import annotations

import argparse
import gzip
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from itertools import pairwise
from math import log
from pathlib import Path

STAGES = ("colonising", "colonised", "pinning", "fruiting", "resting")
WORDS = ("white", "corner", "felt", "over", "hulls", "fog", "low", "shelf", "door", "slow", "even", "sparse", "wet")
SPECIES = ("Flammulina velutipes", "Pleurotus pulmonarius", "Pholiota adiposa", "Grifola frondosa")

STEPS = ("from nothing", "unchanged", "one touched")


@dataclass(frozen=True, slots=True)
class Cost:
    """Wall time of a command, the processors' time of all its processes, and the resident memory of the largest of them
    at its peak."""

    seconds: float
    cpu_s: float
    mib: float


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--entries", type=int, nargs="*", default=[1000, 10000])
    parser.add_argument("--finds", type=int, nargs="*", default=[10000])
    parser.add_argument("--show", action="store_true", help="`journal show`, and what a device fetches after a note")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if asked.entries or asked.finds:
            _tell_heads()
        from_nothing = []
        for count in asked.entries:
            room = Path(folder) / f"mix-{count}"
            cost = _report_builds(room, f"{count:,} entries, mixed", partial(write_journal, entries=count))
            from_nothing.append((count, cost))
        for count in asked.finds:
            _report_builds(Path(folder) / f"finds-{count}", f"{count:,} finds", partial(write_finds, count=count))
        _tell_growth(from_nothing)
        if asked.show and asked.entries:
            print("\n| entries | saved, then shown anew, s | CPU s | fetched after one new note, kB | with gzip, kB |")
            print("| --: | --: | --: | --: | --: |")
            for count in asked.entries:
                _tell_show(Path(folder) / f"mix-{count}", count)


# -- builds --------------------------------------------------------------------------------------------------------


SETTINGS = '[journal]\ntitle = "Bench"\nauthor = "Night porter"\ntime_zone = "UTC"\n'


def write_finds(root: Path, count: int) -> Path:
    """A journal of so many finds, each with a page of its own. Its last file."""
    chance = random.Random(count)
    root.mkdir(parents=True)
    (root / "journal.toml").write_text(SETTINGS)
    last = root
    for number in range(count):
        on = date(2012, 1, 1) + timedelta(days=number * 5000 // count)
        where = f"58.3{number % 1000:03}, -8.9 ±8 m"
        keys = f"kind: find\nid: F-{number}\nspecies: {SPECIES[number % 4]}\nwhere: {where}\ndate: {on}"
        last = root / f"year-{on.year}" / f"F-{number}.md"
        last.parent.mkdir(exist_ok=True)
        last.write_text(f"---\n{keys}\n---\n{' '.join(chance.choices(WORDS, k=40))}.\n")
    return last


def write_journal(root: Path, entries: int) -> Path:
    """A journal of that many entries: a find, a culture and a batch in twelve, the rest notes. Its last file."""
    chance = random.Random(entries)
    root.mkdir(parents=True)
    (root / "journal.toml").write_text(SETTINGS)
    day = date(2022, 1, 1)
    last = root
    for number in range(entries):
        run, step = divmod(number, 12)
        on = day + timedelta(days=number * 1700 // entries)
        text = " ".join(chance.choices(WORDS, k=40))
        if step == 0:
            keys = f"kind: find\nid: F-{run}\nspecies: {SPECIES[run % 4]}\nwhere: 58.3{run % 1000:03}, -8.9 ±8 m"
        elif step == 1:
            keys = f"kind: culture\nid: C-{run}\nfrom: F-{run}\nform: plate\nvessels: 5"
        elif step == 2:
            keys = f"kind: batch\nid: B-{run}\nculture: C-{run}\nunits: 4\nwet mass: 2.3 kg\nmoisture: 62 %"
        else:
            keys = f"kind: note\nabout: B-{run}\nstage: {STAGES[step % 5]}" + (
                "\nharvest: 400 g\nflush: 1" * (step == 9)
            )
        last = root / f"run-{run}" / f"{step:02}.md"
        last.parent.mkdir(exist_ok=True)
        last.write_text(f"---\n{keys}\ndate: {on}\n---\n{text}. See B-{run} and C-{max(0, run - 1)}.\n")
    return last


def _tell_heads() -> None:
    heads = ("journal", "pages", "build", "s", "Hugo, s", "ratio", "CPU s", "Hugo, CPU s", "MiB", "Hugo, MiB")
    print(f"| {' | '.join(heads)} |\n| --- | --: | --- {'| --: ' * 7}|")


def _tell_growth(costs: list[tuple[int, Cost]]) -> None:
    """By which power of the entries the cost of a build from nothing grows, from one size to the next."""
    for (few, less), (many, more) in pairwise(costs):
        exponent = log(more.cpu_s / less.cpu_s) / log(many / few)
        times = f"{more.mib / less.mib:.2f} times the memory"
        print(f"\nFrom {few:,} to {many:,} entries: CPU time grows with the power {exponent:.2f}, {times}.")


def _tell_show(folder: Path, count: int) -> None:
    """From saving one entry to its page shown anew by `journal show`; and what a device fetches after one new note."""
    run = max((folder / "journal").glob("run-*"), key=lambda path: int(path.name.partition("-")[2]))
    batch = run.name.partition("-")[2]
    own = [sys.executable, "-m", "journal", "show", folder / "journal", "--port", "0"]
    own += ["--to", folder / "site", "--cache", folder / "cache"]
    before = _files_of(folder / "site")
    with subprocess.Popen(own, stderr=subprocess.PIPE, text=True) as shown:
        assert shown.stderr is not None
        address = next(line for line in shown.stderr if line.startswith("Showing")).split(" at ")[1].split()[0]
        least = (float("inf"), float("inf"))
        for attempt in range(4):  # the first comes while the plan is still being made
            time.sleep(0.5 + count / 1000)
            words = f"Pins on block {attempt}."
            used_s, begun = _cpu_s(shown.pid), time.perf_counter()
            note = f"---\nkind: note\nabout: B-{batch}\nstage: pinning\ndate: 2026-09-0{attempt + 1}\n---\n{words}\n"
            (run / f"new-{attempt}.md").write_text(note)
            while words not in _page(f"{address}batches/b-{batch}/index.html"):
                time.sleep(0.01)
            least = min(least, (time.perf_counter() - begun, _cpu_s(shown.pid) - used_s)) if attempt else least
            time.sleep(0.5 + count / 1000)
            before, then = _files_of(folder / "site"), before
        shown.terminate()
    fresh = [path for path, data in before.items() if then.get(path) != data and not path.endswith(".bundle")]
    plain, packed = (sum(len(how(before[path])) for path in fresh) / 1000 for how in (bytes, gzip.compress))
    print(f"| {count:,} | {least[0]:.2f} | {least[1]:.2f} | {plain:.0f} | {packed:.0f} |", flush=True)


def _page(address: str) -> str:
    with urllib.request.urlopen(address, timeout=60) as answer:
        text: str = answer.read().decode()
        return text


def _cpu_s(pid: int) -> float:
    """What a process has used so far, by proc(5)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _files_of(site: Path) -> dict[str, bytes]:
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*") if path.is_file()}


def _report_builds(folder: Path, name: str, write: Callable[[Path], Path]) -> Cost:
    """A row for each step of a journal's builds, and of Hugo's with as many pages. What the first step costs."""
    last = write(folder / "journal")
    own = [sys.executable, "-m", "journal", "build", folder / "journal"]
    own += ["--to", folder / "site", "--cache", folder / "cache"]
    hugo = ["hugo", "--quiet", "--source", folder / "hugo", "--destination", folder / "hugo-site"]
    has_hugo = shutil.which("hugo") is not None
    touched, first = last, Cost(0.0, 0.0, 0.0)
    for step in STEPS:
        if step == "one touched":
            for file in {last, touched}:
                file.write_text(f"{file.read_text()}\nOne more line.\n")
            time.sleep(0.2)  # a file saved within a tick of the disk's clock would be read twice
        costs = [_cost(own)]
        first = costs[0] if step == STEPS[0] else first
        pages = sum(1 for _ in (folder / "site").rglob("*.html"))
        if has_hugo:
            if step == STEPS[0]:
                touched = write_for_hugo(folder / "hugo", sorted((folder / "journal").rglob("*.md")))
            costs.append(_cost(hugo))
        if step == "unchanged":  # short enough to be tried more often; the least disturbed counts
            for _ in range(4):
                tried = [_cost(command) for command in (own, hugo)[: len(costs)]]
                costs = [min(pair, key=lambda cost: cost.seconds) for pair in zip(costs, tried, strict=True)]
        _tell_step(name if step == STEPS[0] else "", pages, step, *costs)
    return first


def _tell_step(name: str, pages: int, step: str, own: Cost, hugo: Cost | None = None) -> None:
    cells = [name, f"{pages:,}" if name else "", step, f"{own.seconds:.2f}"]
    cells += [f"{hugo.seconds:.2f}", f"{own.seconds / hugo.seconds:.2f}"] if hugo else ["not installed", ""]
    cells += [f"{own.cpu_s:.2f}", f"{hugo.cpu_s:.2f}" if hugo else ""]
    cells += [f"{own.mib:.0f}", f"{hugo.mib:.0f}" if hugo else ""]
    print(f"| {' | '.join(cells)} |", flush=True)


_HUGO_CONFIG = """baseURL = "/"
disableKinds = ["RSS", "sitemap", "404"]
[taxonomies]
month = "months"
[outputs]
home = ["html", "json"]
"""
_HUGO_LAYOUTS = {
    "_default/baseof.html": """<!doctype html><html lang="en"><meta charset="utf-8"><title>{{ .Title }}</title>
<nav>{{ range .Site.Sections }}<a href="{{ .RelPermalink }}">{{ .Title }}</a>{{ end }}</nav>
<main><h1>{{ .Title }}</h1>{{ block "main" . }}{{ end }}</main></html>""",
    "_default/list.html": """{{ define "main" }}{{ .Content }}{{ range .Pages.ByDate.Reverse }}{{ if .RelPermalink }}
<p><a href="{{ .RelPermalink }}">{{ .Title }}</a> {{ .Params.species }}
{{ else }}{{ partial "entry.html" . }}{{ end }}{{ end }}{{ end }}""",
    "_default/term.html": """{{ define "main" }}{{ range .Pages.ByDate.Reverse }}{{ partial "entry.html" . }}
{{ end }}{{ end }}""",
    "partials/entry.html": """<article><time>{{ .Date.Format "2 January 2006" }}</time>
{{ with .Parent }}<a href="{{ .RelPermalink }}">{{ .Title }}</a>{{ end }}{{ .Content }}</article>""",
    "_default/single.html": """{{ define "main" }}<p><em>{{ .Params.species }}</em>
<time>{{ .Date.Format "2 January 2006" }}</time>{{ .Content }}{{ end }}""",
    "_default/taxonomy.html": """{{ define "main" }}{{ range .Pages }}<p><a href="{{ .RelPermalink }}">{{ .Title }}</a>
{{ len .Pages }}{{ end }}{{ end }}""",
    "index.json": """[{{ range $at, $page := .Site.RegularPages }}{{ if $at }},{{ end }}
{{ dict "date" .Date "of" .Parent.Title "text" .Plain | jsonify }}{{ end }}]""",
}


def write_for_hugo(root: Path, entries: list[Path]) -> Path:
    """The same entries for Hugo, as such a site is usually made with it: a page for each find, culture and batch with
    the entries about it, a page for each month, lists of both, and all texts as JSON to search in. Its last file."""
    for name, text in {"hugo.toml": _HUGO_CONFIG, **{f"layouts/{n}": t for n, t in _HUGO_LAYOUTS.items()}}.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text)
    last = root
    for number, entry in enumerate(entries):
        _, head, text = entry.read_text().split("---\n", 2)
        keys = dict(line.split(": ", 1) for line in head.splitlines())
        more = f"date: {keys['date']}\nspecies: {keys.get('species', '')}\nmonths: ['{keys['date'][:7]}']"
        of = (keys.get("id") or keys["about"]).lower()
        last = root / "content" / {"f": "finds", "c": "cultures", "b": "batches"}[of[0]] / f"{of}.md"
        if of[0] == "b":  # a page with the notes about it
            last = last.with_suffix("") / ("_index.md" if "id" in keys else f"{number}.md")
            more += "" if "id" in keys else "\n_build: {render: never}"
        last.parent.mkdir(parents=True, exist_ok=True)
        last.write_text(f"---\ntitle: {of.upper()}\n{more}\n---\n{text}")
    return last


def _cost(command: list[str | Path]) -> Cost:
    begun = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
        _, status, used = os.wait4(running.pid, 0)
        running.returncode = os.waitstatus_to_exitcode(status)
    if running.returncode:
        raise SystemExit(f"{command[0]} failed")
    return Cost(time.perf_counter() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


if __name__ == "__main__":
    main()
