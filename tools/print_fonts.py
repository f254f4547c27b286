"""Make the fonts of the printed book from those of the page: the PDF's typesetter reads neither WOFF 2 nor variable axes.

usage: print_fonts.py src/variorum/publish/assets/fonts

Needs fonttools and brotli. Writes TrueType files into `print/`: the text face at its optical sizes, and the figurines.
"""

import sys
from pathlib import Path

from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

# File: source, family, style, weight, optical size.
CUTS = {
    "text-regular": ("text-roman", "Text", "Regular", 400, 10),
    "text-semibold": ("text-roman", "Text", "SemiBold", 600, 10),
    "text-italic": ("text-italic", "Text", "Italic", 400, 10),
    "small-regular": ("text-roman", "Small", "Regular", 400, 8),
    "small-semibold": ("text-roman", "Small", "SemiBold", 600, 8),
    "small-italic": ("text-italic", "Small", "Italic", 400, 8),
    "display-regular": ("text-roman", "Display", "Regular", 400, 40),
    "figurines-regular": ("figurines", "Figurines", "Regular", 400, None),
    "figurines-semibold": ("figurines-semibold", "Figurines", "SemiBold", 600, None),
}
FIGURINE_SIZE = 1.06  # thickened for screens: on paper they need more room to stay open


def main(folder: Path) -> None:
    """Write every cut."""
    (folder / "print").mkdir(exist_ok=True)
    for name, (source, family, style, weight, size) in CUTS.items():
        font = TTFont(folder / f"{source}.woff2", recalcTimestamp=False)
        if "fvar" in font:
            axes = {axis.axisTag for axis in font["fvar"].axes}
            wanted = {"wght": weight, "opsz": size}
            font = instancer.instantiateVariableFont(font, {tag: wanted[tag] for tag in axes})
        else:
            font["head"].unitsPerEm = round(font["head"].unitsPerEm / FIGURINE_SIZE)
        rename(font, f"Variorum {family}", style)
        font["OS/2"].usWeightClass = weight
        italic = style == "Italic"
        font["OS/2"].fsSelection = 1 if italic else 64
        font["head"].macStyle = 2 if italic else 0
        font.flavor = None
        font.save(folder / "print" / f"{name}.ttf")


def rename(font: TTFont, family: str, style: str) -> None:
    """Family and style; licence and copyright stay."""
    names = font["name"]
    for number in (16, 17, 21, 22, 25):
        names.removeNames(nameID=number)
    postscript = f"{family.replace(' ', '')}-{style}"
    for number, text in ((1, family), (2, style), (3, postscript), (4, f"{family} {style}"), (6, postscript)):
        names.removeNames(nameID=number)
        names.setName(text, number, 3, 1, 0x409)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
