"""Results of earlier runs, the folders in use and their locks, and the packaged resources."""
