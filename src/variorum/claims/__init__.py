"""Facts, lines and claims: the grammar of what a text says, looked up in evidence."""
