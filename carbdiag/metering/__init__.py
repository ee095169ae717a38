"""Pure numbers: air, openings, fuel path, shares, steps, sizes, relocation, sweep. Knows nothing of YAML or of
cases.

SI inside; every argument carries its unit in its name. What may be promised is written in `shares`.
"""
