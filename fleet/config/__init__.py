"""Settings, root addresses and the commands that run everything."""
