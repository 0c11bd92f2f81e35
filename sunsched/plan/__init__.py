"""The plan: takes site and rules, returns the door's two minutes for each day with their reasons."""
