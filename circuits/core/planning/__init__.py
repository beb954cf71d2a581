"""The best plans that part limits from every source: a program, and its proof without it."""
