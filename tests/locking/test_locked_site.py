"""A locked site: what opens it, what does not, and what it shows to whoever has the files."""

from __future__ import annotations

import hashlib
import json
import math
import re
import shutil
import zlib
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.exceptions import InvalidTag

from journal.locking.cipher import DamagedFile, OtherKey, SiteCipher, padded_size
from journal.locking.key_file import OWN_SITE, KeyFile, SiteKey
from journal.locking.locked_site import LockedSite, lock_site
from journal.locking.placing import LegibleSite, check_locked, is_random, place_locked
from journal.site.build.offline import is_left_out
from tests.builders import some
from tests.locking.conftest import PASSPHRASE
from tests.locking.opening import OpenedSite, unlocked


@pytest.fixture(scope="module")
def site(locked: Path) -> OpenedSite:
    return unlocked(locked, PASSPHRASE)


@pytest.fixture(scope="module")
def sealed_again(
    sample_site: Path, site_key: SiteKey, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, LockedSite]:
    """The sample locked with the same key once more, not put into place yet; a test that alters it copies it first."""
    folder = tmp_path_factory.mktemp("sealed")
    return folder, lock_site(sample_site, folder, site_key, "journal")


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def plain_files(folder: Path) -> dict[str, bytes]:
    shown = {"manifest.webmanifest"} | {f"static/icons/{one.name}" for one in (folder / "static/icons").iterdir()}
    return {path: data for path, data in files_of(folder).items() if not is_left_out(path) and path not in shown}


# -- opened by another implementation ----------------------------------------------------------------------------


def test_every_file_opens_to_the_plain_sites_and_pages_name_the_scripts_of_the_lock(
    site: OpenedSite, sample_site: Path
) -> None:
    tags = re.compile(rb'<script defer src="[./]*unlock/(?:lock|inside)\.js"></script>\n')
    opened, plain = site.contents(), plain_files(sample_site)
    assert plain == {path: tags.sub(b"", data) for path, data in opened.items()}
    pages = [data for path, data in opened.items() if path.endswith(".html")]
    assert all(len(tags.findall(data)) == 2 for data in some(pages, 20))


def test_packs_ids_and_bundles_are_the_plain_sites(site: OpenedSite, sample_site: Path) -> None:
    build = re.search('journalBuild = "([0-9a-f]+)"', (sample_site / "sw.js").read_text())
    assert build is not None
    plain = json.loads((sample_site / f"offline/{build[1]}.json").read_bytes())
    years = (
        json.loads((sample_site / f"offline/{digest}.json").read_bytes())["parts"]
        for _, digest in plain.get("years", ())
    )
    parts = [*plain["parts"], *(part for year in years for part in year)]
    assert sorted(row[:2] for row in parts) == sorted(row[:2] for row in site.root["parts"])
    for _, _, digest, *_ in site.root["parts"]:
        held = site.listed(digest, "list")
        first = 0
        for name, count in held["bundles"]:
            rows = held["files"][first : first + count]
            first += count
            if name:
                bodies = [site.place_of(held["base"] + row[0]).read_bytes() for row in rows]
                assert b"".join(bodies) == (site.folder / f"offline/{name}.bundle").read_bytes()


@pytest.mark.parametrize(
    "typed",
    [
        "kestrel ﬁord gravel lintel osprey",
        "kestrel fiord gravel lintel osprey",
        "  kestrel  ﬁord gravel\tlintel osprey ",
    ],
)
def test_a_passphrase_opens_in_any_unicode_form_and_with_any_blanks(locked: Path, typed: str) -> None:
    assert unlocked(locked, typed).data_key == unlocked(locked, PASSPHRASE).data_key


@pytest.mark.parametrize(
    "typed", ["", "kestrel", "Kestrel fiord gravel lintel osprey", "kestrelfiordgravellintelosprey"]
)
def test_no_other_passphrase_opens(locked: Path, site_key: SiteKey, typed: str) -> None:
    with pytest.raises(ValueError, match="nobody"):
        unlocked(locked, typed)
    assert site_key.opened_by(typed) is None
    assert "mentor" == site_key.opened_by("other words")


# -- the same, and not the same ----------------------------------------------------------------------------------


def test_the_same_site_key_and_counter_give_the_same_bytes(
    sealed_again: tuple[Path, LockedSite], locked: Path, site_key: SiteKey
) -> None:
    folder, made = sealed_again
    assert site_key == made.key
    assert files_of(locked) == {**files_of(folder), ".journal-site": (locked / ".journal-site").read_bytes()}


def test_a_changed_page_changes_its_file_and_the_lists_and_counts(
    sample_site: Path, locked: Path, site_key: SiteKey, tmp_path: Path
) -> None:
    plain = shutil.copytree(sample_site, tmp_path / "plain")
    page = "device/safety/index.html"
    (plain / page).write_text((plain / page).read_text("utf-8").replace("<main", "<main data-changed"), "utf-8")
    (tmp_path / "out").mkdir()
    made = lock_site(plain, tmp_path / "out", site_key, "journal", locked)
    assert site_key.counter + 1 == made.key.counter
    before, after = files_of(locked), files_of(tmp_path / "out")
    changed = {path for path in after if path.startswith("locked/") and after[path] != before.get(path)}
    assert {f"locked/{site_key.cipher.name(page)}.bin"} == changed
    same = [path for path in after if path.startswith("locked/") and path not in changed]
    assert all((tmp_path / "out" / path).samefile(locked / path) for path in some(same, 100))


def test_equal_contents_are_not_seen_to_be_equal(site_key: SiteKey, locked: Path) -> None:
    cipher, content = site_key.cipher, bytes(4096)
    one, other = cipher.seal("a/index.html", content), cipher.seal("b/index.html", content)
    blocks = [{data[at : at + 16] for at in range(8, len(data) - 16, 16)} for data in (one, other)]
    assert not blocks[0] & blocks[1]
    again = cipher.seal("a/index.html", content[:-1] + b"1")
    assert not {again[at : at + 16] for at in range(8, len(again) - 16, 16)} & blocks[0]
    sealed = [path.read_bytes() for path in (locked / "locked").iterdir()]
    assert len(sealed) == len({data[8:20] for data in sealed}) == len({data[20:36] for data in sealed})


def test_texts_are_deflated_and_pictures_are_not(site: OpenedSite, sample_site: Path) -> None:
    """Of what a phone gets of pages and lists less than half is left; a picture only gets its padding."""
    sizes = {path: (size, (sample_site / path).stat().st_size) for path, (_, size) in site.rows().items()}
    texts = [row for path, row in sizes.items() if path.endswith((".html", ".js", ".json", ".css"))]
    assert len(texts) > 100
    assert sum(sealed for sealed, _ in texts) < 0.45 * sum(plain for _, plain in texts)
    pictures = [row for path, row in sizes.items() if path.endswith(".webp")]
    assert all(padded_size(8 + plain) + 36 == sealed for sealed, plain in pictures)


@pytest.mark.parametrize("content", [b"", b"a", b"a" * 10**5, bytes(range(256)) * 9, hashlib.sha512(b"a").digest() * 9])
@pytest.mark.parametrize("path", ["index.html", "offline/list", "photos/2026-11/a-320.webp"])
def test_whatever_is_sealed_opens_to_the_same(site_key: SiteKey, path: str, content: bytes) -> None:
    sealed = site_key.cipher.seal(path, content)
    assert content == site_key.cipher.open(path, sealed)
    assert content == OpenedSite(Path(), bytes.fromhex(site_key.data_key), "").open(sealed, path)


def test_what_is_packed_otherwise_has_another_nonce(site_key: SiteKey, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another version of zlib gives other bytes for one content, and two texts must never share a nonce."""
    content = b"velvet foot on willow " * 99
    sealed = site_key.cipher.seal("index.html", content)
    compress = zlib.compress
    monkeypatch.setattr(zlib, "compress", lambda data, level: compress(data, 1))
    other = site_key.cipher.seal("index.html", content)
    assert sealed[8:20] != other[8:20]
    assert content == site_key.cipher.open("index.html", other)


def test_another_key_gives_other_names_and_other_bytes(sample_site: Path, locked: Path, tmp_path: Path) -> None:
    lock_site(sample_site, tmp_path, SiteKey.new(rounds=600_000).with_reader("author", "words"), "journal")
    here, there = files_of(locked), files_of(tmp_path)
    own = ("locked/", "offline/")
    assert not {path for path in here if path.startswith(own)} & there.keys()


@pytest.mark.parametrize("size", [*range(0, 1200, 37), 4095, 4096, 4097, 10**6, 8 * 10**6])
def test_sizes_are_padded_to_steps_of_an_eighth_of_a_doubling(size: int) -> None:
    least = max(size, 256)
    doubling = 2 ** math.floor(math.log2(least - 1)) if least > 256 else 256
    steps = [doubling * (8 + step) // 8 for step in range(9)]
    assert min(step for step in steps if step >= size) == padded_size(size)
    assert padded_size(size) <= 1.125 * least


# -- what must not open ------------------------------------------------------------------------------------------


def changed(data: bytes, at: int) -> bytes:
    at %= len(data)
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


HARMED: dict[str, Callable[[bytes], bytes]] = {
    "the key's ID": lambda data: changed(data, 0),
    "the nonce": lambda data: changed(data, 8),
    "the length": lambda data: changed(data, 27),
    "the middle": lambda data: changed(data, len(data) // 2),
    "the tag": lambda data: changed(data, len(data) - 1),
    "cut off": lambda data: data[:-1],
    "cut off at the header": lambda data: data[:20],
    "empty": lambda data: b"",
    "longer": lambda data: data + b"\0",
}


@pytest.mark.parametrize("harm", HARMED)
def test_a_file_that_was_altered_does_not_open(site: OpenedSite, site_key: SiteKey, harm: str) -> None:
    """Neither a page, nor a photo, nor a list, by either implementation."""
    photo = next(path for path in site.rows() if path.endswith("-1600.webp"))
    files = {path: site.place_of(path).read_bytes() for path in ("index.html", photo)}
    files["offline/root"] = (site.folder / f"offline/{site.build}.bin").read_bytes()
    files["offline/list"] = (site.folder / f"offline/{site.root['parts'][0][2]}.bin").read_bytes()
    for path, data in files.items():
        with pytest.raises((DamagedFile, OtherKey)):
            site_key.cipher.open(path, HARMED[harm](data))
        with pytest.raises((InvalidTag, AssertionError, ValueError)):
            site.open(HARMED[harm](data), path)


@pytest.mark.parametrize(
    ("path", "instead"),
    [("index.html", "device/index.html"), ("offline/root", "offline/list"), ("offline/list", "offline/root")],
)
def test_a_file_put_in_anothers_place_does_not_open(site_key: SiteKey, path: str, instead: str) -> None:
    with pytest.raises(DamagedFile):
        site_key.cipher.open(path, site_key.cipher.seal(instead, b"content"))


def test_a_file_under_another_key_is_distinguished_from_a_damaged_one(site_key: SiteKey) -> None:
    with pytest.raises(OtherKey):
        SiteCipher.of(bytes(32)).open("index.html", site_key.cipher.seal("index.html", b"content"))


# -- what the host gets to see -----------------------------------------------------------------------------------


def test_names_are_keyed_and_nothing_of_the_journal_can_be_read(locked: Path, sample_site: Path) -> None:
    files = files_of(locked)
    shown = b"".join(data for path, data in files.items() if not path.startswith(("locked/", "offline/")))
    names = {path for path in files if path.startswith(("locked/", "offline/"))}
    assert all(re.fullmatch(r"(locked|offline)/[0-9a-f]{32}\.(bin|bundle)", path) for path in some(names, 100))
    texts = b"".join(
        data for path, data in plain_files(sample_site).items() if path.endswith((".html", ".js", ".json"))
    )
    program = b"".join(path.read_bytes() for path in Path("templates").rglob("*") if path.is_file())
    program += b"".join(path.read_bytes() for path in Path("static").rglob("*") if path.is_file())
    told = set(re.findall(rb"[A-Za-z]{7,}|[0-9]+\.[0-9]{4,}", texts))
    words = {word for word in told if word not in program}
    names = {b"Heron Slip", b"Alder Bank", b"Kiln Brae", b"Wash-house"}
    assert all(name in texts for name in names)
    assert len(words) > 300
    assert any(b"." in word for word in words)
    everything = b"\0".join([*files.values(), *(path.encode() for path in files)])
    legible = b"\0".join(re.findall(rb"[A-Za-z]{7,}|[0-9.]{6,}", everything))  # whatever holds one of the words
    assert set() == {word for word in words if word in legible} | {name for name in names if name in everything}
    assert b"wash-house" not in shown


def test_every_sealed_file_looks_random(locked: Path) -> None:
    """By its bytes' frequencies too: of 1 MB, each of the 256 values within six standard deviations."""
    sealed = b"".join(path.read_bytes()[20:] for path in sorted((locked / "locked").iterdir()))[:1_000_000]
    mean = len(sealed) / 256
    assert all(abs(count - mean) < 6 * math.sqrt(mean) for count in Counter(sealed).values())
    assert not is_random(b"what can be read " * 40)
    assert not is_random(sealed[:65536] + bytes(65536))


def test_the_readme_says_what_the_host_learns_of_the_samples_sizes(locked: Path, site: OpenedSite) -> None:
    says = r"about (\d+) files, of which about (\d+) are sealed .*? (\d+) different.*? padding adds about (\d+) %"
    said = re.search(says, Path("README.md").read_text("utf-8"))
    sizes = {path: size for path, (_, size) in site.rows().items()}
    unpadded = sum(44 + len(site.packed(site.place_of(path).read_bytes(), path)[1]) for path in sizes)
    more_pct = 100 * (sum(sizes.values()) / unpadded - 1)
    assert said is not None
    assert [len(files_of(locked)), len(sizes), len(set(sizes.values()))] == pytest.approx(
        [*map(int, said.groups()[:3])], 0.1
    )
    assert more_pct == pytest.approx(int(said[4]), abs=1)


def test_who_reads_it_and_by_which_name_stands_nowhere(locked: Path) -> None:
    told = json.loads((locked / "lock.json").read_bytes())
    assert {"format", "version", "kind", "key", "kdf", "rounds", "salt", "readers", "check"} == set(told)
    assert 2 == len(told["readers"])
    assert b"mentor" not in (locked / "lock.json").read_bytes()


# -- the check at the end of every build ---------------------------------------------------------------------------


def spoil_word(tree: Path, made: str) -> None:
    (tree / made).write_bytes((tree / made).read_bytes()[:-80] + b"a find at Heron Slip, 58.30412")


def spoil_page(tree: Path, made: str) -> None:
    (tree / made).write_bytes(b"<!doctype html><title>Now</title>" * 20)


def spoil_shell(tree: Path, made: str) -> None:
    (tree / "unlock/unlock.js").write_text("fetch('https://elsewhere.example')")


def spoil_worker(tree: Path, made: str) -> None:
    (tree / "sw.js").write_text("// Heron Slip, Wash-house\n" + (tree / "sw.js").read_text("utf-8"), "utf-8")


def spoil_bit(tree: Path, made: str) -> None:
    (tree / made).write_bytes(changed((tree / made).read_bytes(), 50))


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (spoil_word, "tells"),
        (spoil_page, "is not random"),
        (spoil_bit, "does not open"),
        (spoil_shell, "not as it comes"),
        (spoil_worker, "tells 2 words"),
        (lambda tree, made: (tree / made).unlink(), "lacks"),
        (lambda tree, made: (tree / "finds.html").write_text("x"), "has no place"),
        (lambda tree, made: (tree / made).rename(tree / "locked/alder-bank.bin"), "lacks"),
    ],
)
def test_the_check_finds_whatever_should_not_be_there(
    sample_site: Path,
    sealed_again: tuple[Path, LockedSite],
    site_key: SiteKey,
    tmp_path: Path,
    spoil: Callable[[Path, str], object],
    says: str,
) -> None:
    folder, made = sealed_again
    tree = shutil.copytree(folder, tmp_path / "tree")
    spoil(tree, f"locked/{site_key.cipher.name('index.html')}.bin")
    with pytest.raises(LegibleSite, match=says):
        check_locked(sample_site, tree, made)


def test_only_what_is_whole_is_kept_of_the_earlier_site_and_the_rest_is_made_and_checked_again(
    sample_site: Path, locked: Path, site_key: SiteKey, tmp_path: Path
) -> None:
    earlier = shutil.copytree(locked, tmp_path / "earlier")
    sealed = sorted((earlier / "locked").iterdir())[:4]
    bundle = next((earlier / "offline").glob("*.bundle"))
    listed = next((earlier / "offline").glob("*.bin"))
    for file in (sealed[0], bundle, listed):
        file.write_bytes(changed(file.read_bytes(), -1))
    shutil.copyfile(locked / "locked" / sealed[2].name, sealed[1])
    sealed[3].unlink()
    (tmp_path / "tree").mkdir()
    made = lock_site(sample_site, tmp_path / "tree", site_key, "journal", earlier)
    harmed = {path.relative_to(earlier).as_posix() for path in (sealed[0], sealed[1], sealed[3], bundle, listed)}
    own = {path for path in files_of(locked) if path.startswith(("locked/", "offline/"))}
    assert own - harmed | {"sw.js"} == made.kept
    assert files_of(locked) == files_of(tmp_path / "tree") | {".journal-site": (locked / ".journal-site").read_bytes()}
    check_locked(sample_site, tmp_path / "tree", made)
    (tmp_path / "tree" / "locked" / sealed[0].name).write_bytes(b"Heron Slip")
    with pytest.raises(LegibleSite):
        check_locked(sample_site, tmp_path / "tree", made)


def test_what_does_not_pass_the_check_is_not_put_into_place(
    sample_site: Path, site_key: SiteKey, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SiteCipher, "seal", lambda self, path, content: self.id + content)
    keys = KeyFile(tmp_path / "keys.json").keep(OWN_SITE, site_key)
    with pytest.raises(LegibleSite):
        place_locked(sample_site, tmp_path / "site", keys, OWN_SITE, "journal")
    assert ["keys.json"] == [path.name for path in tmp_path.iterdir()]


def test_a_build_that_changes_nothing_keeps_its_number_and_its_files(
    sample_site: Path, locked: Path, site_key: SiteKey, tmp_path: Path
) -> None:
    keys = KeyFile(tmp_path / "keys.json").keep(OWN_SITE, replace(site_key, contents="", counter=site_key.counter - 1))
    first = place_locked(sample_site, tmp_path / "site", keys, OWN_SITE, "journal")
    inode = (tmp_path / "site").stat().st_ino
    second = place_locked(sample_site, tmp_path / "site", first.keys, OWN_SITE, "journal")
    assert (False, True) == (first.unchanged, second.unchanged)
    assert inode == (tmp_path / "site").stat().st_ino
    assert (locked / "sw.js").read_bytes() == (tmp_path / "site/sw.js").read_bytes()
