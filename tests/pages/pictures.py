"""Take the small pictures of README.md from the pages of the demo.

python -m tests.pages.pictures --pages demo/pages --out notebooks/pictures
"""

import argparse
import base64
import time
from pathlib import Path
from typing import Any, Final

from .conftest import chromium
from .visit import open_page

WIDTH, HEIGHT = 1280, 800
QUALITY = 60
# name of the picture: page, what is brought to the top, height taken
PICTURES: Final = {
    "review": ("review_quillmere.html", "h1", HEIGHT),
    "measure": ("review_quillmere.html", "#m-warm_excess", 620),
    "discuss": ("review_quillmere.html", "#discuss", 620),
    "change": ("change_quillmere_warm_room.html", "h1", HEIGHT),
    "quality": ("quality_quillmere.html", "h1", HEIGHT),
}


def take(browser: Any, page: Path, at: str, height: int, out: Path) -> None:
    open_page(browser, page, WIDTH)
    browser.execute_script("document.querySelector(arguments[0]).scrollIntoView()", at)
    time.sleep(1)
    top = browser.execute_script("return window.scrollY")
    clip = {"x": 0, "y": top, "width": WIDTH, "height": height, "scale": 0.75}
    asked = {"format": "webp", "quality": QUALITY, "clip": clip, "captureBeyondViewport": True}
    told = browser.execute_cdp_cmd("Page.captureScreenshot", asked)
    out.write_bytes(base64.b64decode(told["data"]))
    print(f"{out}: {out.stat().st_size / 1024:.0f} KB")


def main() -> None:
    """Write every picture; the folder is made where it is missing."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pages", type=Path, default=Path("demo/pages"))
    parser.add_argument("--out", type=Path, default=Path("notebooks/pictures"))
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    with chromium() as browser:
        for name, (page, at, height) in PICTURES.items():
            take(browser, args.pages / page, at, height, args.out / f"{name}.webp")


if __name__ == "__main__":
    main()
