"""The page: the whole job in a browser. Routes parse, call what a command calls, and render."""
