"""Files as this tool writes them, for tests of what may be replaced."""

from __future__ import annotations

from sunsched.base.text_digest import with_digest_line


def ours(words: str = "a table") -> bytes:
    """A text with its digest."""
    return with_digest_line(f"{words}\n", "/* {} */").encode()
