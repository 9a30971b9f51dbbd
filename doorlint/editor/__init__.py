"""The language server: what an editor shows of a door spec while it is being written.

Features are pure functions of a `View` (the texts as they are now, the last review) and an offset; only `server` and
`wire` know the protocol. Offsets count code points from 0, as everywhere in doorlint.
"""
