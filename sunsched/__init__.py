"""When a pop-hole door should open and close, for one spot on Earth, every day of the year."""

__version__ = "0.1.0"
