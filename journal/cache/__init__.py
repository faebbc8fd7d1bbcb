"""What earlier runs found out, the folders in use, one build at a time, and where packaged resources lie."""
