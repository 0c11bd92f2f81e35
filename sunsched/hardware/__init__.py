"""The parts: light cell, drive, battery. The sums take numbers and arrays, never a site or its rules."""
