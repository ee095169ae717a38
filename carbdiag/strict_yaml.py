"""YAML read strictly: one document of the core schema, nothing that two readers could take differently."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, cast

import yaml

try:
    from yaml import CSafeLoader as _BaseLoader
except ImportError:  # pragma: no cover - PyYAML without libyaml
    from yaml import SafeLoader as _BaseLoader  # type: ignore[assignment]

_MOST_BYTES = 1 << 20
_MOST_DEPTH = 20
_MOST_DIGITS = 30


class YamlRefusedError(ValueError):
    """A YAML text that carbdiag does not take, with its line (from 1)."""

    def __init__(self, rule: str, found: str = "", line: int | None = None) -> None:
        self.rule, self.found, self.line = rule, found, line
        super().__init__(rule)


class _StrictLoader(_BaseLoader):
    """YAML 1.2 core: only null, true/false, whole and decimal numbers change type; the rest is text."""

    def resolve(self, kind: type[yaml.Node], value: str, implicit: tuple[bool, bool]) -> str:
        """The tag of a node, as the base finds it where nothing goes by path; every word of a file comes here."""
        if kind is yaml.ScalarNode:
            if implicit[0]:
                for tag, pattern in self.yaml_implicit_resolvers.get(value[:1], ()):
                    if pattern.match(value):
                        return str(tag)
            return "tag:yaml.org,2002:str"
        return "tag:yaml.org,2002:seq" if kind is yaml.SequenceNode else "tag:yaml.org,2002:map"

    def descend_resolver(self, current_node: yaml.Node | None, current_index: object) -> None:
        """Nothing goes by path."""

    def ascend_resolver(self) -> None:
        """Nothing goes by path."""


_StrictLoader.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("null", r"^(?:null|~|)$", "n~\0"),
    ("bool", r"^(?:true|false)$", "tf"),
    ("int", r"^[-+]?(?:0|[1-9][0-9]*)$", "-+0123456789"),
    ("float", r"^[-+]?(?:0|[1-9][0-9]*)\.[0-9]+(?:[eE][-+]?[0-9]+)?$", "-+0123456789"),
):
    _StrictLoader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), [*_first, ""])

_NUMBERS_BEGIN = frozenset("+-.0123456789")

#: Plain words and numbers that YAML 1.1 and 1.2 read differently: refused, so that nobody is surprised.
_SURPRISE = re.compile(
    r"""^(?: y|Y|yes|Yes|YES|n|N|no|No|NO|on|On|ON|off|Off|OFF|True|TRUE|False|FALSE|Null|NULL
        | [-+]?0[0-9]+ | [-+]?0[xob][0-9a-fA-F_]+ | [-+]?[0-9][0-9_]*_[0-9_]*
        | [-+]?[0-9]+(?::[0-5]?[0-9])+(?:\.[0-9]*)?
        | [-+]?[0-9]+[eE][-+]?[0-9]+ | [-+]?\.[0-9]+ | [-+]?[0-9]+\. | [-+]?\.(?:inf|Inf|INF) | \.(?:nan|NaN|NAN)
        | [0-9]{4}-[0-9]{1,2}-[0-9]{1,2}.* | = | << )$""",
    re.VERBOSE,
)


def parse_yaml(text: str) -> object:
    """Read one YAML or JSON document strictly.

    Refused, with the line: anchors, aliases, tags, several documents, duplicate keys, keys that are not text,
    plain scalars that YAML 1.1 and 1.2 read differently, more than 1 MiB or 20 levels.

    Raises:
        YamlRefusedError: with the rule, what was found and the line.
    """
    if len(text.encode("utf-8", "surrogatepass")) > _MOST_BYTES:
        raise YamlRefusedError("a file may have at most 1 MiB")
    if text.lstrip().startswith(("{", "[")):
        try:
            return _json(text)
        except (ValueError, RecursionError):
            pass  # a flow of YAML, or a mistake, which is told with its line
    loader = _StrictLoader(text)
    try:
        _refuse_anchors(text)
        node = loader.get_single_node()
        return None if node is None else _plain(node, 0)
    except YamlRefusedError:
        raise
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        rule = f"not valid YAML: {error.problem or error.context}{_hint(error, text)}"
        # what is left open is found at the end, where there may be no line any more
        line = min(mark.line + 1, text.rstrip().count("\n") + 1) if mark else None
        raise YamlRefusedError(rule, line=line) from None
    except (yaml.YAMLError, ValueError, RecursionError, OverflowError) as error:
        raise YamlRefusedError(f"not valid YAML: {str(error)[:200]}") from None
    finally:
        loader.dispose()


def _hint(error: yaml.MarkedYAMLError, text: str) -> str:
    """What mostly is behind an error that the parser tells in its own terms, and where its part of the file begins."""
    said, mark, around = error.problem or "", error.problem_mark, error.context_mark
    lines = text.split("\n")
    if mark is not None and mark.line < len(lines) and "\t" in lines[mark.line][: mark.column + 1]:
        return " (a tab: indent with blanks)"
    if said.startswith("mapping values"):
        return " (a text with a colon and a blank in it wants quotes; or is this line indented too far?)"
    if said.endswith("end of stream") and around is not None:
        return f" (is a quote left open in line {around.line + 1}?)"
    if said.startswith("did not find expected") and around is not None and mark is not None:
        open_quote = next((n for n in range(around.line, mark.line) if lines[n].count('"') % 2), None)
        if open_quote is not None:
            return f" (is a quote left open in line {open_quote + 1}?)"
        begins = min(around.line, text.rstrip().count("\n")) + 1
        return f" (in what begins in line {begins}: is an indentation wrong, or a bracket left open?)"
    return ""


def _json(text: str) -> object:
    """One JSON document, since YAML 1.1 takes neither its escaped surrogate pairs nor `1e3`.

    Raises:
        ValueError: it is none, or has a key twice, half of a surrogate pair, a number that is not finite or too long.
        RecursionError: it nests too deep.
    """
    data: object = json.loads(text, object_pairs_hook=_once, parse_int=_whole)
    json.dumps(data, ensure_ascii=False, allow_nan=False).encode()
    return data


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    out = dict(pairs)
    if len(out) < len(pairs):
        raise ValueError("a key twice")
    return out


def _whole(digits: str) -> int:
    if len(digits) > _MOST_DIGITS:
        raise ValueError("too many digits")
    return int(digits)


def _refuse_anchors(text: str) -> None:
    # An alias needs & or *, a tag needs !: only texts that have one are scanned a second time.
    if not re.search(r"[&*!]", text):
        return
    for event in yaml.parse(text, Loader=_BaseLoader):
        anchor = getattr(event, "anchor", None)
        if anchor:
            raise YamlRefusedError("anchors and aliases are not allowed", anchor, _line(event))
        tag = getattr(event, "tag", None)
        if tag:
            raise YamlRefusedError("tags are not allowed", tag, _line(event))


def _line(node: Any) -> int:
    """Line (from 1) at which a node or event starts."""
    return int(node.start_mark.line) + 1


def _plain(node: yaml.Node, depth: int) -> object:
    if depth > _MOST_DEPTH:
        raise YamlRefusedError(f"nested deeper than {_MOST_DEPTH} levels", line=_line(node))
    if isinstance(node, yaml.ScalarNode):
        return node.value if node.style else _scalar(node)
    if isinstance(node, yaml.SequenceNode):
        return [_plain(child, depth + 1) for child in node.value]
    out: dict[str, object] = {}
    for key_node, value_node in node.value:
        key = _plain(key_node, depth + 1)
        if not isinstance(key, str):
            raise YamlRefusedError("a key must be text: quote it", repr(key)[:60], _line(key_node))
        if key in out:
            raise YamlRefusedError("duplicate key", key, _line(key_node))
        out[key] = _plain(value_node, depth + 1)
    return out


def _scalar(node: yaml.ScalarNode) -> object:
    """A scalar without quotes."""
    value = cast(str, node.value)
    # no surprising word is longer than "False"
    if (len(value) <= 5 or value[0] in _NUMBERS_BEGIN) and _SURPRISE.match(value):
        raise YamlRefusedError("YAML versions read this differently: quote it", value[:60], _line(node))
    if node.tag == "tag:yaml.org,2002:str":
        return value
    kind = node.tag.rsplit(":", 1)[-1]
    if kind == "null":
        return None
    if kind == "bool":
        return value == "true"
    if kind == "int":
        if len(value) > _MOST_DIGITS:
            raise YamlRefusedError(
                f"a number may have at most {_MOST_DIGITS} digits", value[:_MOST_DIGITS] + "…", _line(node)
            )
        return int(value)
    if kind == "float":
        return float(value)
    return value


@lru_cache(maxsize=4)
def _nodes(text: str) -> yaml.Node | None:
    """The nodes of a text that was read before; kept for the next mistake in the same file."""
    loader = _StrictLoader(text)
    try:
        return loader.get_single_node()
    finally:
        loader.dispose()


def line_of(text: str, way: Iterable[int | str]) -> int | None:
    """Line (from 1) of the deepest node on a way of keys and list indices; only mistakes pay for a second reading."""
    node = _nodes(text)
    line: int | None = None
    for step in way:
        following = None
        if isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            following = node.value[step]
            line = _line(following)
        elif isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                if key.value == step:
                    following = value
                    line = _line(key)
        if following is None:
            break
        node = following
    return line
