"""The revision of the table format, apart from the software's version: FORMAT.md says what changed."""

REVISION = 1
