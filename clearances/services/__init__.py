"""The verbs of the board, by subject. Importing this package registers them all in `verb.VERBS`."""

from . import asking, customers, giving, on_the_line, planning, switching

__all__ = ["asking", "customers", "giving", "on_the_line", "planning", "switching"]
