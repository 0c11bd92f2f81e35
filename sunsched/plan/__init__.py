"""The plan: site and rules in, the door's two minutes for each day out, with the reason."""
