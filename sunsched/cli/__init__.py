"""The command line: parse, call once, print. One file a command; console.py alone prints."""
