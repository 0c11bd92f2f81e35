"""The revision of the table format, apart from the software's version: FORMAT.md says what changed."""

REVISION = 1
OF_ONE_YEAR = 2  # of an image with a rule that holds in one year only
