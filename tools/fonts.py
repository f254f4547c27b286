"""Cut the text face and the figurines of the publications.

usage: fonts.py SOURCE_SERIF_VAR_DIR NotoSansSymbols2-Regular.ttf src/variorum/publish/assets/fonts

Needs fonttools, brotli and skia-pathops. Sources, both SIL OFL 1.1: the npm package `source-serif` 4.5 (`VAR/*.ttf`), and
Noto Sans Symbols 2 of Debian's `fonts-noto-core`. The licence texts lie beside the fonts.
"""

import sys

import pathops
from fontTools import subset
from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

TEXT = [
    *range(0x20, 0x7F),
    *range(0xA0, 0x180),
    *range(0x391, 0x3CA),
    *(0x2009, 0x200A, 0x202F, 0x2010, 0x2011, 0x2012, 0x2013, 0x2014, 0x2018, 0x2019, 0x201A),
    *(0x201C, 0x201D, 0x201E, 0x2020, 0x2021, 0x2022, 0x2026, 0x2030, 0x2032, 0x2033, 0x2039),
    *(0x203A, 0x2044, 0x2190, 0x2191, 0x2192, 0x2193, 0x2212, 0x2215, 0x221E, 0x2248, 0x2260),
    *(0x2264, 0x2265, 0x25A0, 0x25A1, 0x25CA, 0x25CB, 0x25CF, 0x2713),
]
FEATURES = [
    "kern",
    "mark",
    "mkmk",
    "ccmp",
    "locl",
    "liga",
    "lnum",
    "onum",
    "pnum",
    "tnum",
    "smcp",
    "c2sc",
    "sups",
    "subs",
    "case",
    "frac",
    "numr",
    "dnom",
    "ordn",
]
FIGURINES = range(0x2654, 0x265A)


def cut(font, name, codes, features, folder):
    """Subset a font, narrow its axes, rename it ("Source" is a reserved font name) and write it as WOFF 2."""
    options = subset.Options()
    options.flavor, options.layout_features = "woff2", features
    options.hinting, options.notdef_outline = False, True
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=codes)
    subsetter.subset(font)
    if "fvar" in font:
        weight = 400 if "italic" in name else (400, 400, 600)
        font = instancer.instantiateVariableFont(font, {"wght": weight, "opsz": (8, 14, 60)})
    for record in list(font["name"].names):
        if record.nameID in (1, 3, 4, 6):
            record.string = f"Variorum{'-' if record.nameID == 6 else ' '}{name}"
    font.flavor = "woff2"
    font.save(f"{folder}/{name}.woff2")


def figurines(noto, name, stroke, folder):
    """The outline units, thickened by `stroke` so that they match the colour of the text at 13 to 20 px."""
    font = TTFont(noto)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    for code in FIGURINES:
        outline = pathops.Path()
        glyphs[names[code]].draw(outline.getPen(glyphSet=glyphs))
        edge = pathops.Path(outline)
        edge.stroke(stroke, pathops.LineCap.ROUND_CAP, pathops.LineJoin.ROUND_JOIN, 4)
        edge.convertConicsToQuads()
        pen = TTGlyphPen(None)
        pathops.op(outline, edge, pathops.PathOp.UNION).draw(Cu2QuPen(pen, 1))
        glyph = font["glyf"][names[code]] = pen.glyph()
        glyph.recalcBounds(font["glyf"])
        font["hmtx"][names[code]] = (glyph.xMax - glyph.xMin + 110, 55)
        glyph.coordinates.translate((55 - glyph.xMin, 0))
        glyph.recalcBounds(font["glyf"])
    cut(font, name, list(FIGURINES), [], folder)


def main(source_serif, noto, folder):
    """Write the four files."""
    for style in ("Roman", "Italic"):
        font = TTFont(f"{source_serif}/SourceSerif4Variable-{style}.ttf")
        codes = TEXT if style == "Roman" else [code for code in TEXT if not 0x100 <= code <= 0x17F]
        cut(font, f"text-{style.lower()}", codes, FEATURES, folder)
    figurines(noto, "figurines", 19, folder)
    figurines(noto, "figurines-semibold", 40, folder)


if __name__ == "__main__":
    main(*sys.argv[1:4])
