"""What the report's script shows of each kind, from the image's own bytes. In: a subject. Out: a record of ``joints.shown``, and a file."""
