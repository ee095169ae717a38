"""A quiz as files that other programs read, and as sheets to print."""
