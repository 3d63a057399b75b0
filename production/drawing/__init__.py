"""Drawings of Potwright: SVG for pages and documents alike, without Django.

Every drawing is a function from a frozen dataclass and a size to `Svg`, with a title and a description
that carry the same facts in words.
"""
