"""Build step: parse the knowledge and its phrases once, so that a fresh process of the installed package need not."""

import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class PrepareKnowledge(BuildHookInterface):
    """Writes knowledge/prepared*.json, which the wheel packs with the YAML files."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        sys.path.insert(0, self.root)
        from carbdiag.prepared import prepare  # noqa: PLC0415
        from carbdiag.reading.phrasebook import prepare as prepare_phrases  # noqa: PLC0415

        prepare(Path(self.root) / "knowledge")
        prepare_phrases(Path(self.root) / "knowledge")
