"""A content package of Question and Test Interoperability 2.1 (1EdTech): a manifest, a test, and one file an item.

The zip is the same byte for byte for the same quiz: fixed times, fixed order. Every file is validated against the
published schemas in the tests.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from typing import Final
from xml.etree import ElementTree as ET

from carbdiag.quiz.exports.export import Export, left_out, one_line, pairs, why
from carbdiag.quiz_schema import ItemKey, ItemView, Quiz

FORMS: Final = ("choice", "order", "number")
QTI: Final = "http://www.imsglobal.org/xsd/imsqti_v2p1"
PACKAGE: Final = "http://www.imsglobal.org/xsd/imscp_v1p1"
_XSI: Final = "http://www.w3.org/2001/XMLSchema-instance"
_QTI_XSD: Final = "http://www.imsglobal.org/xsd/qti/qtiv2p1/imsqti_v2p1.xsd"
_PACKAGE_XSD: Final = "http://www.imsglobal.org/xsd/imscp_v1p1.xsd"
_WHEN: Final = (2000, 1, 1, 0, 0, 0)


def to_qti(quiz: Quiz) -> Export:
    """The quiz as a zip that learning platforms import, key and feedback included."""
    items = list(pairs(quiz, FORMS))
    files = {f"items/{view.id}.xml": item_xml(view, key) for view, key in items}
    names = [view.id for view, _ in items]
    files = {"imsmanifest.xml": _manifest(quiz, names), "test.xml": _test(quiz, names), **files}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in files.items():
            info = zipfile.ZipInfo(name, _WHEN)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            package.writestr(info, content)
    notes = left_out(quiz, FORMS, "QTI 2.1")
    orders = [view.id for view, _ in items if view.answer_form == "order"]
    if orders:
        notes += (f"In QTI an order is right or wrong as a whole: partial credit is lost in {', '.join(orders)}.",)
    return Export("quiz.qti.zip", "application/zip", out.getvalue(), notes)


def item_xml(view: ItemView, key: ItemKey) -> bytes:
    """One assessmentItem."""
    root = _root("assessmentItem", _QTI_XSD, QTI)
    root.attrib.update(identifier=view.id, title=view.id, adaptive="false", timeDependent="false")
    _response(root, view, key)
    for name, kind in (("SCORE", "float"), ("FEEDBACK", "identifier"), ("EXPLANATION", "identifier")):
        outcome = _add(root, "outcomeDeclaration", identifier=name, cardinality="single", baseType=kind)
        if name == "SCORE":
            _add(_add(outcome, "defaultValue"), "value", text="0")
    body = _add(root, "itemBody")
    _add(body, "p", text=view.stem)
    _interaction(body, view)
    _processing(root, view, key)
    if view.answer_form == "choice":
        for option in key.options:
            _feedback(root, "FEEDBACK", option.label, option.feedback)
    _feedback(root, "EXPLANATION", "SHOWN", *why(key))
    return _xml(root)


def _response(root: ET.Element, view: ItemView, key: ItemKey) -> None:
    cardinality, kind = {
        "choice": ("single", "identifier"),
        "order": ("ordered", "identifier"),
        "number": ("single", "float"),
    }[view.answer_form]
    declared = _add(root, "responseDeclaration", identifier="RESPONSE", cardinality=cardinality, baseType=kind)
    right = _add(declared, "correctResponse")
    if key.number is not None:
        _add(right, "value", text=f"{key.number.value:g}")
    else:
        for label in key.answer:
            _add(right, "value", text=label)
    if view.answer_form == "choice":
        mapping = _add(declared, "mapping", defaultValue="0", lowerBound="0", upperBound="1")
        for option in key.options:
            _add(mapping, "mapEntry", mapKey=option.label, mappedValue=f"{option.credit:g}")


def _interaction(body: ET.Element, view: ItemView) -> None:
    if view.answer_form == "number":
        line = _add(body, "p", text=f"{view.ask} ")
        _add(line, "textEntryInteraction", responseIdentifier="RESPONSE", expectedLength="8")
        return
    tag, choice = ("choiceInteraction", "simpleChoice")
    extra = {"shuffle": "false", "maxChoices": "1"}
    if view.answer_form == "order":
        tag, extra = "orderInteraction", {"shuffle": "false"}
    interaction = _add(body, tag, responseIdentifier="RESPONSE", **extra)
    _add(interaction, "prompt", text=view.ask)
    for option in view.options:
        _add(interaction, choice, identifier=option.label, text=option.text)


def _processing(root: ET.Element, view: ItemView, key: ItemKey) -> None:
    rules = _add(root, "responseProcessing")
    if view.answer_form == "choice":
        score = _add(rules, "setOutcomeValue", identifier="SCORE")
        _add(score, "mapResponse", identifier="RESPONSE")
        chosen = _add(rules, "setOutcomeValue", identifier="FEEDBACK")
        _add(chosen, "variable", identifier="RESPONSE")
    else:
        condition = _add(rules, "responseCondition")
        first = _add(condition, "responseIf")
        if key.number is None:
            match = _add(first, "match")
            _add(match, "variable", identifier="RESPONSE")
            _add(match, "correct", identifier="RESPONSE")
        else:
            _between(first, key.number.low, key.number.high)
        _score(first, 1.0)
        if key.number is not None and key.number.half_to > key.number.half_from:
            second = _add(condition, "responseElseIf")
            _between(second, key.number.half_from, key.number.half_to)
            _score(second, 0.5)
    shown = _add(rules, "setOutcomeValue", identifier="EXPLANATION")
    _add(shown, "baseValue", baseType="identifier", text="SHOWN")


def _between(parent: ET.Element, low: float, high: float) -> None:
    both = _add(parent, "and")
    for tag, limit in (("gte", low), ("lte", high)):
        compare = _add(both, tag)
        _add(compare, "variable", identifier="RESPONSE")
        _add(compare, "baseValue", baseType="float", text=f"{limit:g}")


def _score(parent: ET.Element, value: float) -> None:
    outcome = _add(parent, "setOutcomeValue", identifier="SCORE")
    _add(outcome, "baseValue", baseType="float", text=f"{value:g}")


def _feedback(root: ET.Element, outcome: str, identifier: str, *paragraphs: str) -> None:
    shown = _add(root, "modalFeedback", outcomeIdentifier=outcome, identifier=identifier, showHide="show")
    for text in paragraphs:
        _add(shown, "p", text=text)


def _test(quiz: Quiz, names: list[str]) -> bytes:
    root = _root("assessmentTest", _QTI_XSD, QTI)
    root.attrib.update(identifier=f"quiz-{quiz.quiz_id}", title="Carburetor quiz")
    part = _add(root, "testPart", identifier="part", navigationMode="nonlinear", submissionMode="individual")
    section = _add(part, "assessmentSection", identifier="section", title="Items", visible="true")
    for name in names:
        _add(section, "assessmentItemRef", identifier=f"ref-{name}", href=f"items/{name}.xml")
    return _xml(root)


def _manifest(quiz: Quiz, names: list[str]) -> bytes:
    root = _root("manifest", _PACKAGE_XSD, PACKAGE)
    root.set("identifier", f"manifest-{quiz.quiz_id}")
    metadata = _add(root, "metadata")
    _add(metadata, "schema", text="QTIv2.1 Package")
    _add(metadata, "schemaversion", text="1.0.0")
    _add(root, "organizations")
    resources = _add(root, "resources")
    test = _add(resources, "resource", identifier="res-test", type="imsqti_test_xmlv2p1", href="test.xml")
    _add(test, "file", href="test.xml")
    for name in names:
        _add(test, "dependency", identifierref=f"res-{name}")
    for name in names:
        href = f"items/{name}.xml"
        resource = _add(resources, "resource", identifier=f"res-{name}", type="imsqti_item_xmlv2p1", href=href)
        _add(resource, "file", href=href)
    return _xml(root)


def _root(tag: str, xsd: str, space: str) -> ET.Element:
    return ET.Element(tag, {"xmlns": space, "xmlns:xsi": _XSI, "xsi:schemaLocation": f"{space} {xsd}"})


def _add(parent: ET.Element, tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, tag, attributes)
    if text is not None:
        child.text = "".join(_of_xml(one_line(text))) + (" " if text.endswith(" ") else "")
    return child


def _of_xml(text: str) -> Iterator[str]:
    """The characters that XML 1.0 can hold."""
    for c in text:
        if c <= "\ud7ff" or "\ue000" <= c <= "\ufffd" or c >= "\U00010000":
            yield c


def _xml(root: ET.Element) -> bytes:
    ET.indent(root)
    return bytes(ET.tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"
