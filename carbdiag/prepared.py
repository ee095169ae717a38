"""The shipped YAML files as they were parsed when the package was built, so that a fresh process need not parse them.

Parsing is most of what loading takes. A file is taken from here only where its bytes, and the code that parses them,
are those that it was prepared from (SHA-256); any other is parsed as always. Records are validated and cross-checked
either way, and only the shipped folder is ever looked up here.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from carbdiag import strict_yaml

#: Written beside the files by the build (hatch_build.py), and kept out of git.
PREPARED = "prepared.json"

#: Folders of knowledge that no diagnosis needs: the worked cases, and the texts of answers, read by language.
_APART = ("cases", "languages")


@dataclass(frozen=True)
class Prepared:
    """Parsed files by name within their folder, each with the digest of what it was parsed from."""

    files: Mapping[str, tuple[str, object]]

    def parsed(self, name: str, raw: bytes) -> object:
        """The data of a file: as prepared where that is still true, else parsed now.

        Raises:
            UnicodeDecodeError: it is not UTF-8.
            YamlRefusedError: it is not YAML that carbdiag takes.
        """
        digest, data = self.files.get(name, ("", None))
        return data if digest and digest == _digest(raw) else strict_yaml.parse_yaml(raw.decode("utf-8"))


def prepared_for(folder: Path) -> Prepared:
    """What was prepared for a folder; nothing where there is no such file, or one that cannot be read."""
    try:
        found = json.loads((folder / PREPARED).read_bytes())
        return Prepared({name: (digest, data) for name, (digest, data) in found.items()})
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return Prepared({})


def record_files(folder: Path) -> dict[str, bytes]:
    """The files that make up a folder of knowledge, by name within it."""
    return {
        str(name): file.read_bytes()
        for file in sorted(folder.rglob("*.yaml"))
        if (name := file.relative_to(folder)).parts[0] not in _APART
    }


def prepare(folder: Path) -> Path:
    """Parse the files of a folder of knowledge, and write them beside it for `prepared_for`.

    Raises:
        YamlRefusedError: a file is not YAML that carbdiag takes.
    """
    ready = {
        name: (_digest(raw), strict_yaml.parse_yaml(raw.decode("utf-8"))) for name, raw in record_files(folder).items()
    }
    written = folder / PREPARED
    partly = written.with_suffix(".part")
    partly.write_text(json.dumps(ready, ensure_ascii=False, separators=(",", ":")), encoding="utf-8")
    partly.replace(written)
    return written


#: Data that another parser made may differ.
_PARSER = hashlib.sha256(Path(strict_yaml.__file__).read_bytes())


def _digest(raw: bytes) -> str:
    digest = _PARSER.copy()
    digest.update(raw)
    return digest.hexdigest()


if __name__ == "__main__":
    print(prepare(Path(sys.argv[1])))
