"""flakeyard: the computation behind a teaching workbook on preserving fish at home."""

__version__ = "0.1.0"
