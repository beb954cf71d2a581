"""An invented municipal utility of any size, as a network package: `build` of `circuits.utility.build`.

It is for the demo and for measuring. The hand-written package `circuits/demo` is the oldest part of it, row
for row; round that it is made by chance from a fixed seed, so that the same number of customers always gives
the same bytes. Nobody and nothing in it exists.
"""
