"""What the benchmarks that put sentences together by chance can be told on the command line."""

from __future__ import annotations

import argparse


def options(about: str | None, sentences: int, of_what: str = "of each wording") -> argparse.Namespace:
    """How many sentences, how many mistakes to show, and whether those of the half that only measures, too."""
    parser = argparse.ArgumentParser(description=about, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sentences", type=int, default=sentences, help=of_what)
    parser.add_argument("--show", type=int, default=0, help="show so many mistakes of what is mended from")
    parser.add_argument("--kept", action="store_true", help="show the other half: it measures no more then")
    return parser.parse_args()
