"""Files into the model. The only storey that reads what the keeper wrote; what is wrong becomes a Problem."""
