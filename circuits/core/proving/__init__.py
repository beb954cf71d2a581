"""The proof of isolation: every source, its ways in, what blocks each, and how many opens in a row."""
