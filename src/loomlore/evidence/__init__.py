"""What the sources say: statements, disagreements, decisions, and how many independent witnesses."""
