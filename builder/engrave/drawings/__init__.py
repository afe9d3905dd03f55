"""What the engraver drew, read and written again as SVG for pages."""
