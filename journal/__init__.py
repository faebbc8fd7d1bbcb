"""A field and fruiting journal: a folder of entries and photos in, an offline site out.

Files are read into a model, the model is calculated with, and the model and its numbers are shown.
Imports run one way: problems <- quantities <- model <- calculation <- reading <- keeping <- site <- writing <- making
<- desk <- cli; tests/test_storeys.py holds them to it.
"""

__version__ = "0.1.0"
