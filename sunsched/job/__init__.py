"""The work from end to end: configuration to plan to table to texts."""
