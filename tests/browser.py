"""Pages in a real browser: headless Chromium prints them, and says what they said on the console
and what they asked of the network."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="chromium isn't installed")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage", "--enable-logging=stderr", "--no-pdf-header-footer",
)  # fmt: skip
BROWSERS_OWN = "not an origin"
"""Who begins the requests of Chromium's own housekeeping."""
SAID = re.compile(r"CONSOLE.*")
A4_POINTS = (594, 597, 840, 843)
"""Width and height of A4 (ISO 216: 210 × 297 mm) in points, with a point's room for rounding."""


def browsed(html: str, folder: Path, *actions: str) -> subprocess.CompletedProcess[str]:
    """Chromium's run over the page; what the page said on the console is in its stderr."""
    assert CHROMIUM is not None
    file = folder / "page.html"
    file.write_text(html, encoding="utf-8")
    return subprocess.run(
        [CHROMIUM, *FLAGS, f"--user-data-dir={folder / 'profile'}", *actions, file.as_uri()],
        capture_output=True, text=True, timeout=900, check=True,
    )  # fmt: skip


def printed(html: str, folder: Path) -> tuple[bytes, list[str]]:
    """The page as PDF, and what it said on the console."""
    pdf = folder / "page.pdf"
    done = browsed(html, folder, f"--print-to-pdf={pdf}")
    return pdf.read_bytes(), SAID.findall(done.stderr)


def asked_of_the_network(html: str, folder: Path) -> list[str]:
    """The addresses the page itself asked for, from Chromium's own log of its network stack."""
    log = folder / "network.json"
    browsed(html, folder, f"--log-net-log={log}", "--host-resolver-rules=MAP * ~NOTFOUND",
            "--dump-dom")  # fmt: skip
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    found = [event.get("params", {}) for event in events]
    return [
        each["url"]
        for each in found
        if "url" in each and each.get("initiator", BROWSERS_OWN) != BROWSERS_OWN
    ]


def sheets(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))
