"""README.md and DEVELOPERS.md hold what the program has: commands, options, keys, settings."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from journal.cli import cli
from journal.reading.keys import COMMON_KEYS, KEYS, STAGES
from journal.reading.settings_file import SETTINGS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def section_of(kind: str) -> str:
    """The README's words on one kind of entry, up to the next kind."""
    begins = README.index(f"**{kind}**")
    return README[begins : README.index("\n\n", README.index("\n\n", begins) + 2)]


@pytest.mark.parametrize(
    ("kind", "key"), [(kind, key) for kind, keys in KEYS.items() for key in keys if key not in COMMON_KEYS]
)
def test_every_key_stands_under_its_kind(kind: str, key: str) -> None:
    assert f"`{key}`" in section_of(kind)


@pytest.mark.parametrize("key", list(COMMON_KEYS))
def test_every_common_key_is_told(key: str) -> None:
    assert f"| `{key}` |" in README


@pytest.mark.parametrize("stage", sorted({stage for stages in STAGES.values() for stage in stages}))
def test_every_stage_is_told(stage: str) -> None:
    assert f"`{stage}`" in section_of("note")


@pytest.mark.parametrize(("table", "setting"), [(table, row.name) for table, rows in SETTINGS.items() for row in rows])
def test_every_setting_stands_under_its_table(table: str, setting: str) -> None:
    row = next(line for line in README.splitlines() if re.match(rf"\| `\[+{re.escape(table)}\]+`", line))
    assert f"`{setting}`" in row


@pytest.mark.parametrize("command", sorted(cli.commands))
def test_every_command_is_told(command: str) -> None:
    assert f"journal {command}" in README


@pytest.mark.parametrize(
    ("command", "option"),
    [
        (name, option)
        for name, command in sorted(cli.commands.items())
        for parameter in command.params
        for option in parameter.opts
        if option.startswith("--")
    ],
)
def test_every_option_is_told(command: str, option: str) -> None:
    row = next(line for line in README.splitlines() if line.startswith(f"| `journal {command}"))
    assert option in row


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    title, _, paragraph, *_ = README.splitlines()
    assert title.startswith("# ")
    assert len(paragraph) > 300


def test_what_ci_runs_is_the_readmes_own_test_command() -> None:
    command = re.search(r"^python3 -m venv .*pytest.*$", README, re.MULTILINE)
    assert command is not None
    assert command.group() in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_module_is_on_the_map_of_the_house() -> None:
    modules = [path for path in (ROOT / "journal").rglob("*.py") if path.name not in ("__init__.py", "__main__.py")]
    assert [] == [path.name for path in modules if path.name not in DEVELOPERS]


def test_every_picture_and_file_that_the_documents_name_is_there() -> None:
    prose = re.sub(r"```.*?```", "", README + DEVELOPERS, flags=re.DOTALL)
    named = re.findall(r"""(?:\]\(|src=")(?!https?:)([^)"#]+)[)"]""", prose)
    assert [] == [name for name in named if not (ROOT / name).exists()]


def test_the_top_level_holds_only_what_it_may() -> None:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "journal", "templates", "static", "build", "tests"}
    top = {name.partition("/")[0] for name in listed.stdout.split("\0") if name}
    assert set() == {name for name in top if not name.startswith(".")} - allowed - {"sample_entries"}
