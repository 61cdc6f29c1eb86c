"""A team that answers by typed lines: what a room says to the machine, without sound."""
