"""A field and fruiting journal: a folder of entries and photos in, an offline site out.

Files are read into a model, the model is analysed, and the model and its numbers are shown. Imports run one way, which
tests/test_layers.py holds.
"""

__version__ = "0.1.0"
