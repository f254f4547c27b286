"""Turn the chess glyphs of Noto Sans Symbols 2 into the unit drawings of the diagrams.

usage: units.py NotoSansSymbols2-Regular.ttf > src/variorum/publish/assets/units.json

Needs fonttools. The font is in Debian's `fonts-noto-core`; SIL OFL 1.1, the licence text lies beside the fonts of the
publications. Each unit gets three paths in a 100 x 100 square: body (silhouette, for the paper fill and the halo), line
(outline drawing) and solid (filled drawing with engraved details).
"""

import json
import sys

from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

SCALE = {"K": 1.02, "Q": 0.98, "R": 0.97, "B": 0.95, "N": 0.97, "P": 0.86}  # pawns lower, royalty taller
BASE = 89  # foot line within the square


class Drawing:
    """The glyphs of one font as lists of contours."""

    def __init__(self, path):
        font = TTFont(path)
        self.glyphs = font.getGlyphSet()
        self.names = font.getBestCmap()

    def contours(self, code):
        """Contours of the glyph for a code point, each a list of pen calls."""
        pen = DecomposingRecordingPen(self.glyphs)
        self.glyphs[self.names[code]].draw(pen)
        found = []
        for call in pen.value:
            if call[0] == "moveTo":
                found.append([])
            found[-1].append(call)
        return found

    def bounds(self, code):
        """Left, bottom, right, top of the glyph."""
        pen = BoundsPen(self.glyphs)
        self.glyphs[self.names[code]].draw(pen)
        return pen.bounds


def area(contour):
    """Signed area: its sign tells outer from inner contours."""
    pen = AreaPen()
    for name, points in contour:
        getattr(pen, name)(*points)
    return pen.value


def path(contours, transform):
    """SVG path data, one decimal."""
    pen = SVGPathPen(None, ntos=lambda value: f"{value:.1f}".rstrip("0").rstrip("."))
    moved = TransformPen(pen, transform)
    for contour in contours:
        for name, points in contour:
            getattr(moved, name)(*points)
    return pen.getCommands()


def main(font_path):
    """Print the JSON."""
    drawing = Drawing(font_path)
    units = {}
    for index, letter in enumerate("KQRBNP"):
        outline, filled = drawing.contours(0x2654 + index), drawing.contours(0x265A + index)
        left, bottom, right, _ = drawing.bounds(0x2654 + index)
        scale = 0.1 * SCALE[letter]
        transform = (scale, 0, 0, -scale, 50 - scale * (left + right) / 2, BASE + scale * bottom)
        outer = area(max(outline, key=lambda contour: abs(area(contour)))) > 0
        body = [contour for contour in outline if (area(contour) > 0) == outer]
        units[letter] = {
            "body": path(body, transform),
            "line": path(outline, transform),
            "solid": path(filled, transform),
        }
    print(json.dumps(units, indent=1))


if __name__ == "__main__":
    main(sys.argv[1])
