"""Where sources differ: the record read each way, and what then changes electrically."""
