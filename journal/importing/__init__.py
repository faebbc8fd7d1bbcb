"""What comes in: photos from phone and camera, into the journal."""
