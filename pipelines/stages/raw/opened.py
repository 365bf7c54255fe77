"""The bytes of an export file, unpacked where it is packed (gzip, or a zip of one file)."""

import gzip
import hashlib
import zipfile
import zlib
from pathlib import Path
from typing import BinaryIO, Final, cast

from pipelines.base.errors import ExportError

_BLOCK: Final = 1 << 20
PACKED: Final = (".gz", ".zip")


def inner_name(path: Path) -> str:
    """Return the name that says what the bytes are: without .gz, of a zip the file within."""
    if path.suffix.lower() == ".zip":
        return _only_member(path).filename
    return path.name[:-3] if path.suffix.lower() == ".gz" else path.name


def opened(path: Path) -> BinaryIO:
    """Open the bytes of an export file. Raises ExportError for a zip of none or several files."""
    if path.suffix.lower() == ".gz":
        return cast(BinaryIO, gzip.open(path, "rb"))
    if path.suffix.lower() == ".zip":
        member = _only_member(path)
        if member.flag_bits & 1:
            raise ExportError(f"{path.name}: the archive asks for a password; unpack it first.")
        return cast(BinaryIO, zipfile.ZipFile(path).open(member))
    return path.open("rb")


def _only_member(path: Path) -> zipfile.ZipInfo:
    try:
        with zipfile.ZipFile(path) as archive:
            members = [one for one in archive.infolist() if not one.is_dir()]
    except zipfile.BadZipFile:
        raise ExportError(f"{path.name}: this is no zip archive, or it is damaged.") from None
    if len(members) != 1:
        raise ExportError(
            f"{path.name}: the archive holds {len(members)} files, and one is read; unpack it "
            "into the folder of exports."
        )
    return members[0]


def cut_off(path: Path) -> str:
    return (
        f"{path.name}: the archive cannot be unpacked; it is damaged or was cut off. "
        "Export it again."
    )


def file_hash(path: Path) -> str:
    """Return the SHA-256 of the file as it lies in the folder."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def line_count(path: Path) -> int:
    """Return the number of physical lines. Raises ExportError where unpacking breaks off."""
    breaks, last = 0, b""
    try:
        with opened(path) as stream:
            while block := stream.read(_BLOCK):
                breaks += block.count(b"\n")
                last = block
    except (OSError, EOFError, zlib.error, zipfile.BadZipFile):
        raise ExportError(cut_off(path)) from None
    return breaks + (0 if last.endswith(b"\n") or not last else 1)
