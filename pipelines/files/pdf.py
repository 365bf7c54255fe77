"""Printing a page to PDF with a Chromium that is on the machine, with the network off."""

import os
import re
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path
from typing import Final

from pipelines.base.errors import StoreError

PAPERS: Final = {"A4": "A4", "letter": "letter"}  # our word -> CSS page size
NAMES: Final = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
)
SECONDS: Final = 300  # a page of two years of 45 measures takes 10 to 40 s on two cores
# Nothing is fetched, kept or asked. The sandbox needs rights that a container seldom has; the
# page is our own, its texts are escaped and its policy forbids it to fetch anything.
# A page draws its charts one by one once it is open, and a browser that prints does not wait for
# it. So the page is first left to itself until nothing waits any more, in the browser's own time,
# which runs fast where nothing is done; what it has become is then printed, without its scripts.
_BUDGET_MS: Final = 600_000
_WINDOW: Final = "1000,1400"  # px; charts are as wide as the page they were drawn in
_BOX: Final = re.compile(r'<div class="chart"[^>]*>')
_IS_DRAWN: Final = re.compile(r'data-drawn="(?:yes|when shown)"')  # what is closed is not printed
_SWITCHES: Final = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--disable-extensions",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-crash-reporter",
    "--no-first-run",
    "--no-default-browser-check",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--no-pdf-header-footer",
)


def find_browser(named: str | None = None) -> str | None:
    """Return the path of a Chromium: the one named, or the first usual name on the PATH.

    Raises StoreError where one is named and cannot be run.
    """
    if named is not None:
        found = shutil.which(named)
        if found is None:
            raise StoreError(f"browser '{named}': there is no such program; name another.")
        return found
    return next((path for path in map(shutil.which, NAMES) if path), None)


def by_hand(page: str, paper: str) -> str:
    """Say how a person makes the PDF from the page."""
    return (
        f"No Chromium was found on this machine (looked for {', '.join(NAMES)}; --browser names "
        f"another). Open {page} in any browser, choose Print, then 'Save as PDF', paper {paper}, "
        "headers and footers off."
    )


def _css_text(text: str) -> str:
    """Write a text as a CSS string in which every letter but plain ones is a number.

    >>> _css_text('a"b')
    '"a\\\\22 b"'
    """
    plain = re.sub(r"[^A-Za-z0-9 ]", lambda found: f"\\{ord(found.group()):x} ", text)
    return f'"{plain}"'


def _page_rules(paper: str, foot: str) -> str:
    """Return the size of the paper and, on every sheet, what it is and its number."""
    look = "font:8pt sans-serif;color:#5d646c"
    return (
        f"<style>@page{{size:{PAPERS[paper]};margin:14mm 14mm 17mm;"
        f"@bottom-left{{content:{_css_text(foot)};{look};white-space:nowrap}}"
        f'@bottom-right{{content:counter(page) " of " counter(pages);{look};white-space:nowrap}}'
        "}</style>"
    )


def print_pdf(
    page: Path, out: Path, *, browser: str, paper: str, foot: str, seconds: float = SECONDS
) -> None:
    """Print ``page`` (one HTML file) to ``out``, with ``foot`` and page numbers on every sheet.

    The browser sees only a copy in a folder of its own that goes afterwards. Raises StoreError
    where a chart was not drawn, where the browser ends badly, or is not done after ``seconds``.
    """
    with tempfile.TemporaryDirectory(prefix="lanugo-print-", ignore_cleanup_errors=True) as made:
        folder = Path(made)
        copy, printed = folder / "page.html", folder / "page.pdf"
        shutil.copyfile(page, copy)
        start = [browser, *_SWITCHES, f"--user-data-dir={folder / 'profile'}"]
        waits = [f"--virtual-time-budget={_BUDGET_MS}", f"--window-size={_WINDOW}"]
        drawn, told = _run([*start, *waits, "--dump-dom", copy.as_uri()], seconds)
        text = _without_scripts(drawn, page.name, told)
        copy.write_text(
            text.replace("</head>", f"{_page_rules(paper, foot)}</head>", 1), encoding="utf-8"
        )
        _, told = _run([*start, f"--print-to-pdf={printed}", copy.as_uri()], seconds)
        if not printed.is_file() or not printed.read_bytes().startswith(b"%PDF-"):
            raise StoreError(
                f"{browser} wrote no PDF ({told}). Leave the PDF out with --only, or name "
                "another browser with --browser."
            )
        shutil.copyfile(printed, out)


def _without_scripts(drawn: str, name: str, told: str) -> str:
    """Return a page as it was drawn, as a page that does nothing more.

    Raises StoreError where a chart of it was not drawn.
    """
    text = re.sub(r"<script\b.*?</script>", "", drawn, flags=re.DOTALL)
    if "</body>" not in text:
        raise StoreError(f"{name}: the browser did not open the page ({told}).")
    boxes = _BOX.findall(text)
    missing = sum(not _IS_DRAWN.search(box) for box in boxes)
    if missing:
        raise StoreError(
            f"{name}: {missing} of {len(boxes)} charts were not drawn, so no PDF was written. "
            "Leave it out with --only, and print the page from a browser."
        )
    return text


def _run(command: list[str], seconds: float) -> tuple[str, str]:
    """Run the browser; return what it wrote and the last words it said of itself.

    All its processes are ended at the limit.
    """
    try:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
    except OSError as error:
        raise StoreError(f"{command[0]}: cannot be run ({error.strerror}).") from None
    try:
        wrote, said = process.communicate(timeout=seconds)
    except subprocess.TimeoutExpired:
        _end(process)
        raise StoreError(
            f"{command[0]} had not printed the page after {seconds:g} s and was stopped. Leave "
            "the PDF out with --only, and print the page from a browser."
        ) from None
    except BaseException:  # interrupted: leave no browser behind
        _end(process)
        raise
    lines = said.decode(errors="replace").strip().splitlines()
    told = lines[-1][:200] if lines else f"exit code {process.returncode}"
    return wrote.decode(errors="replace"), told


def _end(process: "subprocess.Popen[bytes]") -> None:
    """End the browser with the processes it started itself."""
    if os.name == "posix":
        os.killpg(process.pid, signal.SIGKILL)
    else:
        process.kill()
    process.wait()
