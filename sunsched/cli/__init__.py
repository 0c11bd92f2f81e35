"""The command line: parse, call once, print. One file for each command; only console.py prints."""
