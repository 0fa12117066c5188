"""Finding the crossed wire before the audience does: the walk from lamp to lamp, its answers, the adapter.

Other folders take what they need from the files here by name.
"""
