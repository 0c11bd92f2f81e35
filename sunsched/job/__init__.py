"""The work from end to end: from a configuration to plan, table and texts."""
