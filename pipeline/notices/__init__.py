"""The boot notice before it is drawn. In: a checked project. Out: where its parts are on a console of tiles, and how much it takes.

``tile_plan`` decides with numbers alone what fits a screen of tiles, or says what to shorten; ``places`` and ``sizes`` give the parts
and bytes of a notice's blob, which are known before the build code, and so before its content; ``checks`` notes what an author must change.
"""
