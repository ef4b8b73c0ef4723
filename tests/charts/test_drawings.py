"""Drawings that say what a field means: every one told in words, legible, and of the stylesheet."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET

import pytest

from app.pages.deps import TEMPLATES, make_templates
from tests.charts.drawn import CHARACTER_PX, LINE_PX, STYLES

SAID = {
    "spacing": {"car spacing", "nose", "least gap", "bumper", "the wheel"},
    "strip": {"stopped", "locked out", "three places", "wet", "dry"},
    "zones": {"full wipe", "reduced wipe", "hood", "windshield", "roof", "rear"},
}
"""What each drawing has to say in its picture and in the caption below it."""
Box = tuple[float, float, float, float]


def drawing(name: str) -> tuple[ET.Element, str]:
    """The picture of a drawing, and its caption."""
    template = make_templates().env.get_template("_drawings.html")
    root = ET.fromstring(str(getattr(template.module, name)()))  # noqa: S314  our own picture
    picture, caption = root.find("svg"), root.find("figcaption")
    assert picture is not None
    assert caption is not None
    return picture, caption.text or ""


def box_of(words: ET.Element) -> Box:
    """Left, right, top and foot of words."""
    text, at = words.text or "", float(words.get("x", ""))
    wide = CHARACTER_PX * len(text)
    anchor = {"start": 0.0, "middle": 0.5, "end": 1.0}[words.get("text-anchor", "start")]
    foot = float(words.get("y", ""))
    return at - anchor * wide, at + (1.0 - anchor) * wide, foot - LINE_PX, foot


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share a place."""
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]


@pytest.mark.parametrize("name", SAID)
def test_caption_says_what_is_drawn(name: str) -> None:
    """Whoever can't see the picture reads the same below it; it is hidden from readers of pages."""
    picture, caption = drawing(name)
    written = " ".join(words.text or "" for words in picture.iter("text"))
    for words in SAID[name]:
        assert words in written, words
        assert words in caption[0].lower() + caption[1:], words
    assert picture.get("aria-hidden") == "true"


@pytest.mark.parametrize("name", SAID)
def test_words_lie_within_the_picture_and_clear_of_each_other(name: str) -> None:
    """No word is cut at an edge and none lies on another."""
    picture, _caption = drawing(name)
    _x, _y, wide, high = map(float, picture.get("viewBox", "").split())
    boxes = [(words.text, box_of(words)) for words in picture.iter("text")]
    for text, (left, right, top, foot) in boxes:
        assert left >= 0.0, text
        assert right <= wide, text
        assert top >= 0.0, text
        assert foot <= high, text
    for (one, box), (other, its) in itertools.combinations(boxes, 2):
        assert not overlap(box, its), (one, other)
    assert overlap((0.0, 2.0, 0.0, 2.0), (1.0, 3.0, 1.0, 3.0))


@pytest.mark.parametrize("name", SAID)
def test_looks_are_of_the_stylesheet(name: str) -> None:
    """Every shape has a class that the stylesheet knows within drawings, so that it is right in
    light, dark and print; nothing has a colour of its own."""
    picture, _caption = drawing(name)
    known = set(re.findall(r"\.drawing \.([a-z]+)", STYLES))
    for shape in picture.iter():
        assert not {"fill", "stroke", "style"} & set(shape.attrib)
        if shape.tag in ("path", "rect", "circle"):
            assert set(shape.get("class", "").split()) & known, shape.attrib


def test_every_drawing_is_tried_here() -> None:
    """A new drawing is one more entry above."""
    text = (TEMPLATES / "_drawings.html").read_text(encoding="utf-8")
    assert set(re.findall(r"macro ([a-z]+)\(", text)) == set(SAID)
