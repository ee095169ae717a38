"""The shipped scales for the toy knowledge, which has two of the circuits."""

from __future__ import annotations

import re

from carbdiag.knowledge import default_folder


def toy_scales() -> str:
    """The shipped `scales.yaml`, without the settings that no toy circuit has."""
    scales = (default_folder() / "scales.yaml").read_text(encoding="utf-8")
    for field, in_toy in (("steps", "{main_jet: 4, pilot: 2}"), ("trims", "{}")):
        scales, replaced = re.subn(rf"(?m)^  {field}: {{[^}}]*}}", f"  {field}: {in_toy}", scales)
        assert replaced == 1, field
    return scales
