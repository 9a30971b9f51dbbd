"""What reviews leave in the user's cache folder: whole reports, and families of like openings.

Everything is addressed by a digest of all that it rests on: the bytes of the spec, the rules and the rest of the code,
the schemas and values, the options and the day. What is not there, is damaged, or is somebody else's counts as not
there, and is worked out anew.
"""
