"""A field and fruiting journal: a folder of entries and photos in, an offline site out.

Files are read into a model, the model is reckoned with, and the model and its numbers are shown.
Imports run one way: problems, quantities <- model <- reading, reckoning <- sharing <- site <- gathering <- cli.
"""

__version__ = "0.1.0"
