"""The lowest floor: errors, civil time, rounding, cautions. It imports nothing of the project's."""
