"""The meeting sheet as a page, and writing it: of a review that was read, without a notebook."""

from pathlib import Path

from pipelines.base.whole_files import write_whole
from pipelines.pages.meeting.sections import sheet
from pipelines.pages.review.read import ReviewData
from pipelines.pages.shell.page import Opened
from pipelines.pages.shell.render import Say, plain_page
from pipelines.pages.shell.show import draw_in_page, settings_kept
from pipelines.words.of_numbers import month_name


def write_meeting(page: Opened[ReviewData], out: Path, say: Say) -> Path:
    """Write the meeting sheet of a review that was read as one self-contained HTML file.

    Returns ``out``. Raises StoreError where it cannot be written.
    """
    data = page.data
    say(f"writing the meeting sheet for {data.month:%Y-%m}")
    with settings_kept():
        draw_in_page()
        made = sheet(data, page.others)
    title = f"{data.title}: {month_name(data.month)}, for the meeting"
    write_whole(out, plain_page(title, made))
    return out
