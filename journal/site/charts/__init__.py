"""Charts drawn once for every width: shared primitives, and the drawings made with them."""
