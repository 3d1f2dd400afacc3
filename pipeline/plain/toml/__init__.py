"""What the standard reader of TOML does not say of a text: the lines of its parts, and what is beyond this tool's limits.

``lines`` finds the line of each key, table and array element; ``limits`` what is beyond the limits. ``plain.checked`` alone
uses both.
"""
