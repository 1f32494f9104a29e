"""Drawing: pictures, films and meshes of a solved suspension. Nothing here computes a suspension's geometry.

::

    model.solids ─► shapes ─► stage ─► still, film
                       │        └ style, views, marks, offscreen
                       └─► mesh
"""
