"""The fonts of all papers: embedded, so that every name prints as it is written, or is refused by the character."""

from __future__ import annotations

import unicodedata

import font_roboto
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont

from inventory.rules.texts import text

# Roboto (Apache Licence 2.0) has the Latin, Greek and Cyrillic letters of Europe.
REGULAR, BOLD = "Roboto", "Roboto-Bold"
_FONTS = (TTFont(REGULAR, font_roboto.Roboto), TTFont(BOLD, font_roboto.RobotoBold))
for _font in _FONTS:
    registerFont(_font)


class NoGlyphError(ValueError):
    """A character that the fonts do not have: it would print as an empty box."""


def check_drawable(line: str) -> str:
    """Return a text that both fonts can draw, in one line: a break counts as a blank.

    Raises
    ------
    NoGlyphError
        With the first character that they cannot, its name in Unicode and the text in which it stands.
    """
    line = " ".join(line.splitlines())
    for character in line:
        if any(ord(character) not in font.face.charToGlyph for font in _FONTS):
            raise NoGlyphError(
                text(
                    "{character!r} (U+{number:04X}, {name}) in {line!r} is in no font of ours.",
                    character=character,
                    number=ord(character),
                    name=unicodedata.name(character, text("a character without a name")),
                    line=line,
                )
            )
    return line
