"""Millimetres and the two kinds of points.

PDF, SVG and PostScript count 72 points to the inch; the engraver counts printer's points, 72.27 to the inch.
"""

MM_PER_INCH = 25.4

POINTS_PER_MM = 72 / MM_PER_INCH
"""PostScript's points to a millimetre."""

PRINTERS_POINTS_PER_INCH = 72.27

PRINTERS_POINTS_PER_MM = PRINTERS_POINTS_PER_INCH / MM_PER_INCH
"""Printer's points to a millimetre."""

MM_PER_PRINTERS_POINT = MM_PER_INCH / PRINTERS_POINTS_PER_INCH
