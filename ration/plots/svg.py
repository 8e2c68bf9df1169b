"""A drawn picture made fit for a page: colours by name, words as words, no style, no script.

Every property becomes a presentation attribute, so that a page may forbid inline style, and every
colour of ours also a class name, so that a page may choose its own for dark and light.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"
XLINK = "{http://www.w3.org/1999/xlink}"
FONT = "'DejaVu Sans', Verdana, Arial, sans-serif"
WORDS = "words-"  # start of the group id of words that are put back
_NUMBERS = re.compile(r"-?\d+\.\d+")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")


def finished(
    raw: str,
    *,
    key: str,
    title: str,
    sentence: str,
    words: Mapping[str, str],
    colours: Mapping[str, tuple[str, str]],
) -> str:
    """The picture as text that can stand in a page.

    Parameters
    ----------
    raw : str
        As drawn.
    key : str
        Start of every id, so that two pictures of one page do not share any.
    title, sentence : str
        Its title and its name to a screen reader.
    words : mapping of str to str
        By group id, the words that were drawn as others.
    colours : mapping of str to (str, str)
        Drawn colour to the colour to show and the end of its class names.
    """
    root = ElementTree.fromstring(raw)
    _drop(root)
    box = root.get("viewBox", "")
    for node in root.iter():
        node.tag = node.tag.removeprefix(SVG)
    for group in root.iter("g"):
        name = group.get("id", "")
        if name in words:
            for text in group.iter("text"):
                text.text = words[name]
    used = {
        found
        for node in root.iter()
        for value in node.attrib.values()
        for found in (*_REFERENCE.findall(value), *([value[1:]] if value.startswith("#") else ()))
    }
    for node in root.iter():
        _plain(node, key, used, colours)
    root.attrib.clear()
    root.attrib.update(
        {
            "xmlns": SVG[1:-1],
            "xmlns:xlink": XLINK[1:-1],
            "viewBox": box,
            "class": f"plot plot-{key}",
            "role": "img",
            "aria-label": sentence,
            "font-family": FONT,
            "fill": "currentColor",
            "stroke-linejoin": "round",
        }
    )
    head = ElementTree.Element("title")
    head.text = title
    root.insert(0, head)
    _fold(root)
    return ElementTree.tostring(root, encoding="unicode")


def _drop(node: ElementTree.Element) -> None:
    for child in list(node):
        if child.tag in (f"{SVG}metadata", f"{SVG}style"):
            node.remove(child)
        else:
            _drop(child)
        child.tail = None
    node.text = node.text if node.tag == f"{SVG}text" else None


def _fold(node: ElementTree.Element) -> None:
    """Take groups that say nothing out of the tree, and definitions that hold nothing."""
    for child in list(node):
        _fold(child)
        if child.tag not in ("g", "defs") or (child.tag == "g" and child.attrib):
            continue
        if child.tag == "defs" and len(child):
            continue
        at = list(node).index(child)
        node.remove(child)
        for place, inner in enumerate(list(child)):
            node.insert(at + place, inner)


def _plain(
    node: ElementTree.Element,
    key: str,
    used: set[str],
    colours: Mapping[str, tuple[str, str]],
) -> None:
    style = node.attrib.pop("style", "")
    for part in style.split(";"):
        name, _, value = part.partition(":")
        if value:
            node.set(name.strip(), value.strip())
    node.attrib.pop("font-family", None)
    if node.tag == "text":
        node.attrib.pop("transform", None)
    classes = []
    for name in ("fill", "stroke"):
        shown = colours.get(node.get(name, "").lower())
        if shown is not None:
            node.set(name, shown[0])
            classes.append(f"plot-{name}-{shown[1]}")
    if node.tag == "text":
        classes = ["plot-words"]
        node.attrib.pop("fill", None)
    if classes:
        node.set("class", " ".join(classes))
    for name, value in list(node.attrib.items()):
        if name == "id":
            if value in used:
                node.set(name, f"{key}-{value}")
            else:
                del node.attrib[name]
        elif name == f"{XLINK}href":
            del node.attrib[name]
            node.set("xlink:href", f"#{key}-{value[1:]}")
        elif "url(#" in value:
            node.set(name, _REFERENCE.sub(rf"url(#{key}-\1)", value))
        elif name in ("d", "x", "y"):
            node.set(name, " ".join(_NUMBERS.sub(_short, value).split()))


def _short(found: re.Match[str]) -> str:
    return f"{round(float(found[0]), 2) + 0.0:g}"
