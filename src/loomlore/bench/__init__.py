"""The bench: an installation as an open handbook in the browser, worked live on this machine alone."""
