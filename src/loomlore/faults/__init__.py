"""What can go wrong, what it does, what it endangers: faults, their effects, sneak paths and hazards."""
