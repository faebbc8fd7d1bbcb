"""What comes home from phone and camera, into the journal.

The rule of this room: an original is only ever read; nothing that stands in the journal is overwritten, moved or
edited; and any moment may be the last. So a photo is first copied whole under a hidden name and read again, then the
note that names it is put in place in one step, then the photo gets its name. What a run that was killed leaves behind
is hidden, and the next run finishes it or clears it away.
"""
