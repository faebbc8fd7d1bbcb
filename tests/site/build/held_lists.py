"""The lists of what a site's device saves, read as the worker reads them."""

from __future__ import annotations

import gzip
import hashlib
import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from journal.site.build import offline


def root_of(tree: Path) -> list[dict[str, Any]]:
    (build,) = re.findall(r'^globalThis\.journalBuild = "(\w{32})";$', (tree / "sw.js").read_text("utf-8"), re.M)
    root = json.loads((tree / "offline" / f"{build}.json").read_bytes())
    years = (
        json.loads((tree / "offline" / f"{digest}.json").read_bytes())["parts"] for _, digest in root.get("years", ())
    )
    parts = sorted(
        [*root["parts"], *(part for year in years for part in year)], key=lambda part: offline.PACKS.index(part[0])
    )
    return [dict(zip(("pack", "key", "list", "files", "bytes"), part, strict=True)) for part in parts]


def list_of(tree: Path, part: Mapping[str, Any]) -> dict[str, Any]:
    return dict(json.loads((tree / "offline" / f"{part['list']}.json").read_bytes()))


def held_paths(tree: Path) -> dict[str, list[str]]:
    """Pack -> paths, as a phone reads them from the lists alone."""
    packs: dict[str, list[str]] = {}
    for part in root_of(tree):
        rows = list_of(tree, part)
        packs.setdefault(part["pack"], []).extend(rows["base"] + name for name, *_ in rows["files"])
    return packs


def wrong_in(tree: Path) -> list[str]:
    """What is wrong with the lists of a tree: a file that none names or two do, one that is named and is another or is
    not there, a bundle that holds anything else than its files."""
    there = {path.relative_to(tree).as_posix(): path.read_bytes() for path in tree.rglob("*") if path.is_file()}
    wanted = {path for path in there if not offline.is_left_out(path)}
    found: list[str] = []
    named: list[str] = []
    for part in root_of(tree):
        rows = list_of(tree, part)
        files = [(rows["base"] + name, digest, size) for name, digest, size, *_ in rows["files"]]
        named += [path for path, _, _ in files]
        for path, digest, size in files:
            data = there.get(path, b"")
            if (hashlib.sha256(data).hexdigest()[:32], len(data)) != (digest, size):
                found.append(f"{path} is not as it is named")
        if (len(files), sum(size for _, _, size in files)) != (part["files"], part["bytes"]):
            found.append(f"{part['pack']} {part['key']} is counted wrong")
        at = 0
        for name, count, *packed in rows["bundles"]:
            inside, at = files[at : at + count], at + count
            body = there.get(f"offline/{name}.bundle") if name else None
            if body is not None and packed:
                body = gzip.decompress(body) if len(body) == packed[0] else b"of another size"
            if name and body != b"".join(there.get(path, b"") for path, _, _ in inside):
                found.append(f"the bundle {name} is not of its files")
        if rows["bundles"] and at != len(files):
            found.append(f"the bundles of {part['pack']} {part['key']} leave files out")
    found += [f"{path} is in no list" for path in sorted(wanted - set(named))]
    return [*found, *(f"{path} is named twice" for path in sorted({path for path in named if named.count(path) > 1}))]
