"""After the session: one page that opens anywhere, and the numbers over weeks.

What lives here: how they look. What must not: a number, a path, a name.
"""
