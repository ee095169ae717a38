"""The benchmark of stories of what was tried, loaded from its script."""

from __future__ import annotations

import importlib.util
from pathlib import Path

_SPEC = importlib.util.spec_from_file_location(
    "trial_stories_benchmark", Path(__file__).parents[2] / "benchmarks" / "trial_stories.py"
)
assert _SPEC is not None
assert _SPEC.loader is not None
stories = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(stories)
