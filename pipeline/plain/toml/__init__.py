"""TOML as text, which the standard reader does not tell about: a file's text comes in, its lines and its excesses go out.

``lines`` finds the line of each key, table and array element; ``limits`` what is beyond this tool's limits. ``plain.checked`` alone
uses both.
"""
