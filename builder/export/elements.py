"""Helps to write XML elements."""

from __future__ import annotations

import xml.etree.ElementTree as ET


def child(parent: ET.Element, tag: str, text: str = "", /, **attributes: str) -> ET.Element:
    """Add a last child and return it; underscores in attributes become hyphens."""
    element = ET.SubElement(
        parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()}
    )
    if text:
        element.text = text
    return element


def clean(text: str) -> str:
    """The text without characters that XML 1.0 cannot hold; markup in it is escaped on writing."""
    return "".join(character if character.isprintable() else " " for character in text)
