"""From record to reading: laws, the network of nodes and one-ports, its building, settling and solution."""
