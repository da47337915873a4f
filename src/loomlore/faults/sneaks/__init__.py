"""Sneak paths: which way current goes, what goes against it with all well, and what single faults open."""
