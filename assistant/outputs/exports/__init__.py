"""A session in open formats that other programs read: pure functions from events to text.

What lives here: one module a format, and :mod:`records`, the one gate that takes away what the level of consent does not
reach. What must not: a path (see :mod:`assistant.outputs.keeping`), or a number of its own.

Every format begins with :func:`records.at_level`. Behind that gate there is nothing left to leak.
"""
