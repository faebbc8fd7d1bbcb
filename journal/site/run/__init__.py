"""The run of a batch on one axis of days: what happened (no width known), then a drawing that stretches."""
