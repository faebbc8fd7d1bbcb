"""README.md and DEVELOPERS.md hold what the program has: commands, options, keys, settings."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from journal.reading.key_help import words_of
from journal.reading.keys import KEYS, STAGES
from tests.builders import some
from tests.document_tables import PARTS, first_sentence, parts_of, written_anew

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


FIX = "run: python tests/document_tables.py"


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_what_is_made_from_declarations_is_as_they_have_it_now(name: str) -> None:
    document = (ROOT / name).read_text(encoding="utf-8")
    assert written_anew(document) == document, FIX


def test_every_made_part_is_in_one_document_once() -> None:
    assert sorted(PARTS) == sorted(parts_of(README) + parts_of(DEVELOPERS))


@pytest.mark.parametrize("stage", sorted({stage for stages in STAGES.values() for stage in stages}))
def test_every_stage_is_described(stage: str) -> None:
    assert f"`{stage}`" in words_of(KEYS["note"]["stage"])


@pytest.mark.parametrize(("kind", "key"), [(kind, key) for kind, keys in KEYS.items() for key in keys])
def test_every_key_says_what_its_value_is(kind: str, key: str) -> None:
    assert KEYS[kind][key].help


def test_every_module_begins_with_a_sentence_for_the_map() -> None:
    paths = [path for path in (ROOT / "journal").rglob("*.py") if path.name != "__main__.py"]
    first = {str(path.relative_to(ROOT)): first_sentence(path) for path in some(paths, 100)}
    assert {} == {path: said for path, said in first.items() if not re.fullmatch(r"[A-Z`j].{4,}[^\s,;:(]", said)}


ADDED = """
    Key("soil", "what it was in: `peat`, `sand`", share="words"),
    Key("owner", "whose land it is"),
    Key("cap width", "across, from rim to rim", "length", share="number"),
"""
USE = """
from journal.export.document import document
from journal.export.example_journal import specimen
from journal.export.tables import tables_of
from journal.reading.entries import read_entry
from journal.reading.linking import assemble
from journal.reading.settings_file import read_settings
from journal.sharing.redact import redaction_of

settings, _ = read_settings(b'[shares.all]\\nabout = ["F1"]\\n')
text = b"---\\nkind: find\\nid: F1\\ndate: 2026-09-12\\nsoil: peat\\nowner: nobody\\ncap width: 12 cm\\n---\\n"
journal = assemble(settings, [read_entry("a.md", text, settings)])
assert () == journal.problems, journal.problems
table = next(table for table in tables_of(document(journal), document(specimen())) if table.name == "finds")
(row,) = (dict(zip(table.columns, cells)) for cells in table.rows)
(shared,) = redaction_of(journal, settings.shares[0]).journal.finds
print([row["soil"], row["owner"], row["cap_width_m"], shared.soil, shared.owner, shared.cap_width_m])
"""


def test_a_new_key_takes_its_declaration_and_a_field(tmp_path: Path) -> None:
    """With these two lines a key is read, exported, kept out of shares or let in, and in the README."""
    for name in ("journal", "templates", "static"):
        shutil.copytree(ROOT / name, tmp_path / name)  # as compiled here, but for the two that are changed
    (tmp_path / "tests").mkdir()
    for name in ("README.md", "DEVELOPERS.md", "tests/document_tables.py"):
        shutil.copy(ROOT / name, tmp_path / name)
    keys, fields = tmp_path / "journal" / "reading" / "keys.py", tmp_path / "journal" / "model.py"
    put_before(keys, '    Key("habitat", ', ADDED.lstrip("\n"))
    put_before(
        fields,
        "    habitat: str | None = None\n",
        "    soil: str | None = None\n    owner: str | None = None\n    cap_width_m: float | None = None\n",
    )
    assert "['peat', 'nobody', '0.12', 'peat', None, 0.12]\n" == run_in(tmp_path, "-c", USE)
    run_in(tmp_path, "tests/document_tables.py")
    readme = (tmp_path / "README.md").read_text(encoding="utf-8")
    assert "| `soil` | what it was in: `peat`, `sand` |\n| `owner` | whose land it is |\n| `cap width` | " in readme


def put_before(file: Path, line: str, more: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert 1 == text.count(line)
    file.write_text(text.replace(line, more + line), encoding="utf-8")


def run_in(folder: Path, *arguments: str) -> str:
    """What Python prints, with the program that is in this folder."""
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    done = subprocess.run(
        [sys.executable, *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert 0 == done.returncode, done.stderr
    return done.stdout


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    title, _, paragraph, *_ = README.splitlines()
    assert title.startswith("# ")
    assert len(paragraph) > 300


def test_the_readme_says_once_how_the_command_is_found_where_it_is_first_typed_by_its_name() -> None:
    before, _, after = README.partition("source .venv/bin/activate")
    assert (None, True) == (re.search(r"^journal ", before, re.MULTILINE), "activate" not in after)
    assert re.search(r"^journal start", after.partition("```\n")[0], re.MULTILINE)


def test_what_ci_runs_is_the_readmes_own_test_command() -> None:
    command = re.search(r"^python3 -m venv .*pytest.*$", README, re.MULTILINE)
    assert command is not None
    assert command.group() in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_picture_and_file_that_the_documents_name_is_there() -> None:
    prose = re.sub(r"```.*?```|`[^`\n]+`", "", README + DEVELOPERS, flags=re.DOTALL)
    named = re.findall(r"""(?:\]\(|src=")(?!https?:)([^)"#]+)[)"]""", prose)
    assert [] == [name for name in named if not (ROOT / name).exists()]


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README.md", "DEVELOPERS.md"])
def test_every_link_within_a_document_leads_to_a_heading(text: str) -> None:
    """A heading's address as GitHub makes it: small letters, hyphens for blanks, other signs left out."""
    headings = re.findall(r"^#{1,4} (.+)$", re.sub(r"```.*?```", "", text, flags=re.DOTALL), re.MULTILINE)
    addresses = [re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings]
    assert set() == set(re.findall(r"\]\(#([^)]+)\)", text)) - set(addresses)


def test_the_readmes_contents_name_every_section_in_its_order() -> None:
    contents = README.partition("**Contents**")[2].partition("\n## ")[0]
    sections = re.findall(r"^## (.+)$", re.sub(r"```.*?```", "", README, flags=re.DOTALL), re.MULTILINE)
    assert sections == re.findall(r"^- \[([^]]+)\]", contents, re.MULTILINE)


def test_the_top_level_holds_only_what_it_may() -> None:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "journal", "templates", "static", "build", "tests"}
    top = {name.partition("/")[0] for name in listed.stdout.split("\0") if name}
    assert set() == {name for name in top if not name.startswith(".")} - allowed - {"sample_entries"}


@pytest.mark.parametrize(
    "words",
    [
        "<i>Galerina marginata</i>", "which print brown too", "feeling better, which is not recovery", "an ambulance",
        "a meal may have been mixed", "Cooking, drying and freezing do not destroy them", "in oil at room temperature",
        "polluted ground", "22, 859–872, 1992", "101, 1241–1245, 1976", "8(2), 112–119, 1993", "FFP2 or P3",
        "in pregnancy", "5,000&nbsp;ppm over 8 hours", "165, 736–739, 1992", "weak immune system", "low in minerals",
        "tested by its button", "IPX4", "power strip", "UV-C burns eyes and skin and can make ozone",
        "Lime burns eyes, skin and lungs", "microwave", "hard box", "controlled by law",
        "hunting season, ticks and tides",
        "Local law and codes",
    ],
)  # fmt: skip
def test_the_safety_page_names_what_can_hurt(words: str) -> None:
    assert words in (ROOT / "templates/device/safety.html").read_text(encoding="utf-8")


CHECKED, JUDGED = "positions, IDs and names that must not be shared", "What its texts and photos reveal about a place"


def test_readme_and_the_safety_page_say_what_of_a_share_is_checked_and_what_cannot_be() -> None:
    safety = (ROOT / "templates/device/safety.html").read_text(encoding="utf-8")
    for document in (README, safety):
        assert (True, True) == (CHECKED in document, JUDGED in document)
    shares = README.partition("## A share")[2].partition("\n## ")[0]
    assert "What the texts and photos reveal is for you to judge: you looked at 43 texts and 14 photos" in shares
    assert "clean" not in shares
    for inferred in ("From one share", "From two shares side by side", "From one share over time"):
        assert f"**{inferred}**" in shares
