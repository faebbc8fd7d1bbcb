"""Files into the model. The only storey that reads what the author wrote; what is wrong becomes a Problem."""
