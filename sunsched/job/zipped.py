"""Files as one zip archive, the same bytes each time."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

# The least date that an entry can bear.
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def zipped(files: Mapping[Path, bytes]) -> bytes:
    """The archive of files by their relative paths, in the order given, without the machine's time and owner."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for path, content in files.items():
            entry = zipfile.ZipInfo(path.as_posix(), _NO_TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3  # of Unix, on every system
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, content)
    return held.getvalue()
