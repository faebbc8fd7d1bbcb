"""What Lighthouse 12.2 finds of every kind of page, on a phone as it imagines one; no test.

    python tests/bench/lighthouse.py SITE [KIND]…

SITE: a built site. Needs Node.js, whose `npx` fetches Lighthouse, and Chromium. The pages come from a host on loopback
that compresses texts as hosts do (gzip). Of each kind of page that with the most photos is measured. Its scores depend
on how busy the machine is; its sizes and the layout shift do not.
"""

from __future__ import annotations

import gzip
import json
import os
import shutil
import subprocess
import sys
import threading
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.browser.take_pictures import kinds_of

LIGHTHOUSE = "lighthouse@12.2.0"
CATEGORIES = ("performance", "accessibility", "best-practices")
FLAGS = "--headless=new --no-sandbox --disable-gpu --disable-background-networking"
NOT_SHOWN = {"Other", "Fetch"}
"""Types of what a page asks for and does not show: icons to install it by, and, where the machine is fast enough, the
whole copy for offline use, which it fetches file by file."""
TEXTS = {".html", ".css", ".js", ".json", ".svg", ".webmanifest"}


class Compressing(SimpleHTTPRequestHandler):
    """Sends texts with gzip, as the hosts of static sites do."""

    protocol_version = "HTTP/1.1"

    def send_head(self) -> Any:
        path = Path(self.translate_path(self.path))
        path = path / "index.html" if path.is_dir() else path
        if path.suffix not in TEXTS or not path.is_file():
            return super().send_head()
        data = gzip.compress(path.read_bytes(), 6)
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(str(path)))
        self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        return BytesIO(data)

    def copyfile(self, source: BinaryIO, outputfile: BinaryIO) -> None:
        shutil.copyfileobj(source, outputfile)

    def log_message(self, format: str, *args: Any) -> None:
        pass


def measured(url: str) -> dict[str, Any]:
    """Lighthouse's report of one page."""
    command = ["npx", "--yes", LIGHTHOUSE, url, "--output=json", "--quiet", f"--chrome-flags={FLAGS}"]
    command.append(f"--only-categories={','.join(CATEGORIES)}")
    chrome = {"CHROME_PATH": shutil.which("chromium") or ""}
    done = subprocess.run(command, capture_output=True, text=True, check=True, env={**os.environ, **chrome})
    report: dict[str, Any] = json.loads(done.stdout)
    return report


def row_of(kind: str, report: dict[str, Any]) -> str:
    scores = [f"{100 * (report['categories'][name]['score'] or 0):.0f}" for name in CATEGORIES]
    audits = report["audits"]
    fetched = audits["network-requests"]["details"]["items"]
    texts = sum(one["transferSize"] for one in fetched if one["resourceType"] in ("Document", "Stylesheet", "Script"))
    everything = sum(one["transferSize"] for one in fetched if one["resourceType"] not in NOT_SHOWN)
    lcp_s = audits["largest-contentful-paint"]["numericValue"] / 1000
    shift = audits["cumulative-layout-shift"]["numericValue"]
    numbers = f"{lcp_s:.1f} | {shift:.3f} | {texts / 1000:.0f} | {everything / 1000:.0f}"
    return f"| {kind} | {' | '.join(scores)} | {numbers} |"


def failed(report: dict[str, Any]) -> list[str]:
    """The audits of accessibility and best practices that did not pass."""
    names = [one["id"] for name in CATEGORIES[1:] for one in report["categories"][name]["auditRefs"] if one["weight"]]
    return [name for name in names if report["audits"][name]["score"] not in (None, 1)]


def main() -> None:
    site = Path(sys.argv[1]).resolve()
    host = ThreadingHTTPServer(("127.0.0.1", 0), partial(Compressing, directory=str(site)))
    threading.Thread(target=host.serve_forever, daemon=True).start()
    print("| page | performance | accessibility | best practices | LCP, s | CLS | texts, kB | first view, kB |")
    print("|---|---:|---:|---:|---:|---:|---:|---:|")
    for kind, paths in kinds_of(site).items():
        if len(sys.argv) > 2 and kind not in sys.argv[2:]:
            continue
        report = measured(f"http://127.0.0.1:{host.server_port}/{paths[-1]}")
        print(row_of(kind, report), *(f"fails {name};" for name in failed(report)), flush=True)
    host.shutdown()


if __name__ == "__main__":
    main()
