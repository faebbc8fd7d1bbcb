"""Pages that are one file, with their styles in it: sheets to print, previews, contact sheets."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

_STYLES = ("tokens", "base")


def single_page(resources: Path, template: str, **values: Any) -> str:
    """The page that a template makes. resources: the folder of the program's templates and static files."""
    pages = Environment(
        loader=FileSystemLoader(resources / "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    return pages.get_template(template).render(**values)


def styled_page(resources: Path, template: str, **values: Any) -> str:
    """The same with the site's colours and fonts and the template's own styles (`share/preview.css` beside
    `share/preview.html`), as `style`; `style_hash` allows these and no others."""
    files = [resources / "static" / "css" / f"{one}.css" for one in _STYLES]
    files.append((resources / "templates" / template).with_suffix(".css"))
    style = "\n".join(one.read_text(encoding="utf-8") for one in files).replace("</", "<\\/")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    return single_page(resources, template, style=style, style_hash=f"sha256-{digest}", **values)
