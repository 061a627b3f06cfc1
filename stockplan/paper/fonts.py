"""The fonts of all papers: embedded, so that every name prints as it is written, or is refused by the character."""

from __future__ import annotations

import unicodedata

import font_roboto
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont

# Roboto (Apache Licence 2.0) has the Latin, Greek and Cyrillic letters of Europe.
REGULAR, BOLD = "Roboto", "Roboto-Bold"
_FONTS = (TTFont(REGULAR, font_roboto.Roboto), TTFont(BOLD, font_roboto.RobotoBold))
for _font in _FONTS:
    registerFont(_font)


class NoGlyphError(ValueError):
    """A character that the fonts do not have: it would print as an empty box."""


def check_drawable(text: str) -> str:
    """Return a text that both fonts can draw, in one line: a break counts as a blank.

    Raises
    ------
    NoGlyphError
        With the first character that they cannot, its name in Unicode and the text in which it stands.
    """
    text = " ".join(text.splitlines())
    for character in text:
        if any(ord(character) not in font.face.charToGlyph for font in _FONTS):
            name = unicodedata.name(character, "a character without a name")
            raise NoGlyphError(f"{character!r} (U+{ord(character):04X}, {name}) in {text!r} is in no font of ours.")
    return text
