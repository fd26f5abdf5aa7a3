"""Drawings to scale as SVG text: pure functions from a few plain numbers, with nothing but numbers in them."""
