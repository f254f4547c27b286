"""The desk: the whole job in the browser, from a server on this computer. It calls the same functions as the commands."""
