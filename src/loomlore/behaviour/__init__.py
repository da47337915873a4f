"""What the installation does: operating, procedures, function tables, and the proof of statements."""
