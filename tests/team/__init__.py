"""A team with a seed: what a room says to the machine, typed, or spoken and heard."""
