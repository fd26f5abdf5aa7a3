"""Invented loudspeakers in combinations of independent habits: sheets that nobody wrote by hand."""
