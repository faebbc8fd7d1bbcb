"""Files into the model. The only layer that reads what the author wrote; whatever is wrong becomes a Problem."""
