"""The section study kit: outlines → sections → members → study → write-up."""

__version__ = "0.1.0"
